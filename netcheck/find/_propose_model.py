"""What is proposed, as frozen values: facts and numbers, no sentence."""

from __future__ import annotations

from enum import Enum

from netcheck.records import dataclass


class ClueKind(Enum):
    """Why a signal was ranked where it is."""

    NAME = "name"  # words of the signal's name mean the role
    MESSAGE_NAME = "message-name"  # words of its message's name do
    COMMENT = "comment"  # words of the DBC's comment do
    LABELS = "labels"  # a label of its table of values is the active state
    UNIT = "unit"
    WIDTH = "width"
    SAYS_OTHER = "says-other"  # a word says that it is something else: a request, a fault, a limit
    SAYS_MORE = "says-more"  # the name has words besides
    OTHER_UNIT = "other-unit"
    TOO_NARROW = "too-narrow"
    TOO_WIDE = "too-wide"
    COMPANION = "companion"  # it goes with another signal: says whether that one is valid
    NOT_SEEN = "not-seen"  # its message is in no capture
    OUT_OF_RANGE = "out-of-range"  # text: the share of its values outside the DBC's limits
    CONSTANT = "constant"  # text: the value
    MOVES = "moves"  # text: how many different values it took
    NO_LABEL = "no-label"  # no label of its table is the active state


@dataclass(frozen=True)
class Clue:
    """One reason. weight: what it added to the score; text: the words, the unit or the labels."""

    kind: ClueKind
    weight: float
    text: str


@dataclass(frozen=True)
class Proposal:
    """A signal that may play a role.

    score:  0 to 1
    active: raw values whose labels mean the active state; labels: these labels, in the same order
    counter: the one signal of the message whose name says that it counts, "" if there is none
    """

    message: str
    signal: str
    score: float
    clues: tuple[Clue, ...]
    labels: tuple[str, ...] = ()
    active: tuple[int, ...] = ()
    not_available: tuple[int, ...] = ()
    counter: str = ""


@dataclass(frozen=True)
class RoleProposals:
    """The proposals of a role, best first.

    is_sure:  the first stands clear; a person only has to confirm it
    is_known: there is a rule for the role
    """

    role: str
    proposals: tuple[Proposal, ...]
    is_sure: bool = False
    is_known: bool = True
