"""``importlib.metadata``, which is slow to import, only for those who use it."""

from __future__ import annotations

import importlib
import sys
from types import ModuleType
from typing import Any, Final

_NAME: Final = "importlib.metadata"


class _Later(ModuleType):
    """Stands for the module until anything but ``entry_points`` is asked of it, or that is called.

    pydantic takes ``entry_points`` to look for plugins, and does not call it where they are switched off.
    """

    def entry_points(self, **wanted: Any) -> Any:
        return self._real().entry_points(**wanted)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._real(), name)

    def _real(self) -> Any:
        if sys.modules.get(_NAME) is self:
            del sys.modules[_NAME]
        return importlib.import_module(_NAME)


def postpone_metadata() -> None:
    """Have it imported when it is used, if nobody has imported it yet."""
    if _NAME not in sys.modules:
        stand_in = _Later(_NAME)
        stand_in.__path__ = [f"{folder}/metadata" for folder in importlib.__path__]  # each import asks for it
        sys.modules[_NAME] = importlib.metadata = stand_in
