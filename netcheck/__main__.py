"""``python -m netcheck`` is the ``netcheck`` command."""

import sys

from netcheck.cli import main

if __name__ == "__main__":
    sys.exit(main())
