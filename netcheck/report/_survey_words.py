"""All that is said of a survey's remarks: one entry of ``REMARK_WORDS`` for each kind."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from netcheck.network import Remark, RemarkKind
from netcheck.report._remark_parts import RemarkWords
from netcheck.report._remarks_messages import MESSAGE_WORDS
from netcheck.report._remarks_network import NETWORK_WORDS
from netcheck.report._remarks_recorder import RECORDER_WORDS

REMARK_WORDS: Final[Mapping[RemarkKind, Callable[[Any], RemarkWords]]] = {
    **NETWORK_WORDS,
    **RECORDER_WORDS,
    **MESSAGE_WORDS,
}


def remark_words(remark: Remark) -> RemarkWords:
    """The words of one remark."""
    return REMARK_WORDS[remark.kind](remark)
