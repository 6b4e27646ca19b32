"""What the words of all reasons share: how they are kept, and the parts of their sentences."""

from __future__ import annotations

from collections.abc import Callable

from netcheck.records import dataclass
from netcheck.report._numbers import number
from netcheck.verdict import ChannelUse, NeedResult
from netcheck.words import clause, listing, milliseconds, sentence
from netcheck.work import SettleNeeds


@dataclass(frozen=True)
class Advice:
    """What to do about a need. exercise: what the retrofit file says to do, after ``text``; "" if nothing.

    after: what follows the exercise
    """

    text: str = ""
    exercise: str = ""
    after: str = ""

    def __str__(self) -> str:
        whole = sentence(f"{self.text}: {self.exercise}" if self.exercise else self.text)
        return f"{whole} {self.after}".strip()


@dataclass(frozen=True)
class ReasonWords:
    """What is said of one reason.

    seen:    what was seen that makes it hold: a clause without a full stop
    next:    what to do about it
    brief:   ``seen`` after another reason that has said how often and where it is; None: the same
    several: why several roles together have their status, in brackets
    desk:    what a desk can do about it, if anything
    """

    seen: Callable[[NeedResult], str]
    next: Callable[[NeedResult], Advice]
    several: str
    brief: Callable[[NeedResult], str] | None = None
    desk: Callable[[SettleNeeds], str] | None = None


def identity_text(use: ChannelUse) -> str:
    """``61 of 64 ids fit the DBC of comfort, 2 that of drive``."""
    if use.is_diagnostics_only:
        return "it carries diagnostics only"
    if not use.candidates:
        return f"none of its {use.ids} ids is in a DBC of this vehicle with frames as long as it declares"
    first, *rest = use.candidates
    text = f"{first.explained} of {use.ids} ids fit the DBC of {first.network}"
    return text + "".join(f", {other.explained} that of {other.network}" for other in rest)


def name_it(use: ChannelUse) -> str:
    """How a job says which network a channel is: the best of those that fit about equally as the example."""
    return f'if you know it, say so in the job: channels = {{ "{use.channel}" = "{use.rivals[0]}" }}'


def longer_gaps(need: NeedResult) -> str:
    """``1 of 451 gaps over 250 ms, up to 15 s``; "" where none is longer than the part accepts."""
    if not need.longer_gaps:
        return ""
    gaps = need.facts.seen.gaps
    over = f"{need.longer_gaps:,} of {len(gaps):,} gaps over {number(need.max_gap_ms)} ms"
    return f"{over}, up to {milliseconds(gaps.longest_ns)}"


def network_of(need: NeedResult) -> str:
    return need.network or "the vehicle"


def message_of(need: NeedResult) -> str:
    """``SelectorStatus (0x2A0)``."""
    name = need.message or "its message"
    return f"{name} ({need.facts.frame_id})" if need.facts.frame_id is not None else name


def listened(need: NeedResult) -> str:
    """``92 s on can0``; several channels or captures together."""
    facts = need.facts
    if not facts.is_captured:
        return "no capture"
    length = f"{facts.seconds:.0f} s " if facts.seconds >= 10 else f"{facts.seconds:.1f} s "
    more = f" in {len(facts.files)} captures" if len(facts.files) > 1 else ""
    return f"{length if facts.seconds else ''}on {listing(facts.channels, most=3)}{more}"


def period_text(need: NeedResult) -> str:
    """How often it came; also gaps longer than the part accepts, where they were too few to count."""
    gap_ns = need.facts.seen.gaps.percentile_ns(50)
    if gap_ns is None:
        return "how often is not known"
    text = f"every {milliseconds(gap_ns)}"
    if need.facts.is_sent_at_changes:
        text += " and at changes"
    longer = longer_gaps(need)
    return f"{text} ({longer})" if longer else text


def was_there(need: NeedResult) -> str:
    return f"there, {period_text(need)}, {listened(need)}"


def accepted_text(need: NeedResult) -> str:
    """``the part accepts gaps of 500 ms and a change 300 ms late``."""
    parts = []
    if need.max_gap_ms is not None:
        parts.append(f"gaps of {number(need.max_gap_ms)} ms")
    if need.max_delay_ms is not None:
        parts.append(f"a change {number(need.max_delay_ms)} ms late")
    return f"the part accepts {listing(parts)}"


def exercise_of(need: NeedResult) -> str:
    return clause(need.facts.exercises[0]) if need.facts.exercises else ""


def one_network(todo: SettleNeeds) -> str:
    return listing(todo.networks) or "its network"
