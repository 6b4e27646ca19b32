"""The words of each reason why a signal is proposed for a role."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from netcheck.find import Clue, ClueKind

CLUE_WORDS: Final[Mapping[ClueKind, Callable[[Clue], str]]] = {
    ClueKind.NAME: lambda it: f"its name says '{it.text}'",
    ClueKind.MESSAGE_NAME: lambda it: f"its message's name says '{it.text}'",
    ClueKind.COMMENT: lambda it: f"the DBC's comment says '{it.text}'",
    ClueKind.LABELS: lambda it: f"its table has the label {it.text}",
    ClueKind.UNIT: lambda it: f"its unit is {it.text}",
    ClueKind.WIDTH: lambda it: f"it has {it.text} bit",
    ClueKind.SAYS_OTHER: lambda it: f"but '{it.text}' in its name means something else",
    ClueKind.SAYS_MORE: lambda it: f"but its name also says '{it.text}'",
    ClueKind.OTHER_UNIT: lambda it: f"but its unit is {it.text}",
    ClueKind.TOO_NARROW: lambda it: f"but it has only {it.text} bit",
    ClueKind.TOO_WIDE: lambda it: f"but it has {it.text} bit",
    ClueKind.COMPANION: lambda _: "but it goes with another signal of its message",
    ClueKind.NO_LABEL: lambda _: "but no label of its table is the active state",
    ClueKind.NOT_SEEN: lambda _: "but its message is in no capture",
    ClueKind.OUT_OF_RANGE: lambda it: f"but {it.text} of its values are outside the DBC's limits",
    ClueKind.CONSTANT: lambda it: f"but it never moved in the captures (always {it.text})",
    ClueKind.MOVES: lambda it: f"it took {it.text} different values in the captures",
}


def clue_text(clue: Clue) -> str:
    """One reason, as a clause."""
    return CLUE_WORDS[clue.kind](clue)
