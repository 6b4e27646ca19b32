"""Settings for every test."""

from __future__ import annotations

from hypothesis import settings

# The first call of a kernel may compile it: no deadline tells anything there.
settings.register_profile("netcheck", deadline=None, print_blob=True)
settings.load_profile("netcheck")
