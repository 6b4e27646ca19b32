"""All targets: importing this module fills ``TARGETS``."""

from __future__ import annotations

from importlib import import_module
from typing import Final

from tests.fuzz.harness import TARGETS

_MODULES: Final = ("captures", "conversations", "databases", "pages", "tables")

for _name in _MODULES:
    import_module(f"tests.fuzz.{_name}")

__all__ = ["TARGETS"]
