"""Doors of rooms that import a module only when one of its names is asked for.

A room that is imported for one of its names would otherwise bring in all its modules, and a command starts
with every room below it. For type checkers the door lists the same imports; ``tests/test_package.py`` holds
that both say the same.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any


def door(room: str, places: Mapping[str, str]) -> Callable[[str], Any]:
    """The ``__getattr__`` of a room. places: the names that each of its modules gives, with blanks between.

    What was asked for once is an attribute of the room from then on.
    """
    homes = {name: module for module, names in places.items() for name in names.split()}

    def find(name: str) -> Any:
        if name not in homes:
            raise AttributeError(f"module {room!r} has no attribute {name!r}")
        value = getattr(import_module(f"{room}.{homes[name]}"), name)
        setattr(sys.modules[room], name, value)
        return value

    return find
