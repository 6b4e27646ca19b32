"""A slow module of the standard library is there for whoever uses it, in a process of its own."""

from __future__ import annotations

import subprocess
import sys

import pytest

BEGIN = "import sys; from netcheck.cli._later import postpone_metadata as postpone; postpone(); "


@pytest.mark.parametrize(
    "use",
    [
        "import importlib.metadata; print(importlib.metadata.version('typer'))",
        "import importlib.metadata as metadata; print(metadata.version('typer'))",
        "from importlib.metadata import version; print(version('typer'))",
        "from importlib.metadata import entry_points\n"
        "print([one.value for one in entry_points(group='pytest11') if one.name == 'netcheck'])",
        "from importlib.metadata import PackageNotFoundError as Missing, version\n"
        "try: version('no such package')\nexcept Missing: print('missing')",
        "import importlib.metadata._meta as meta; print(meta.__name__)",
    ],
)
def test_whoever_uses_it_meets_the_real_one(use: str) -> None:
    assert _printed(BEGIN + "\n" + use) == _printed(use) != ""


def test_whoever_imports_models_does_not_import_it() -> None:
    use = "import os; os.environ['PYDANTIC_DISABLE_PLUGINS'] = '__all__'; import netcheck.files, sys; "
    assert _printed(f"{BEGIN}{use}print('email' in sys.modules)") == "False\n"


def _printed(program: str) -> str:
    done = subprocess.run([sys.executable, "-c", program], check=True, capture_output=True, text=True)
    return done.stdout
