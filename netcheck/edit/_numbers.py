"""Channel names as numbers, for formats that know channels by number only."""

from __future__ import annotations

import re

from netcheck.edit._remarks import EditRemark, EditRemarkKind


class ChannelNumbers:
    """Numbers for names as they come: the one in the name (``can2`` is 2) or the next that is free."""

    def __init__(self) -> None:
        self._numbers: dict[str, int] = {}

    def __len__(self) -> int:
        return len(self._numbers)

    def of(self, name: str) -> int:
        """The number of a name, counted from 0."""
        if name not in self._numbers:
            taken = set(self._numbers.values())
            found = re.fullmatch(r"can(\d{1,2})", name)
            number = int(found[1]) if found else 0
            while number in taken:
                number += 1
            self._numbers[name] = number
        return self._numbers[name]

    def remarks(self, form: str) -> list[EditRemark]:
        """Which names a reader of the file will not see again."""
        return [
            EditRemark(EditRemarkKind.CHANNEL_NUMBERED, form=form, name=name, count=number + 1)
            for name, number in self._numbers.items()
            if name != f"can{number}"
        ]
