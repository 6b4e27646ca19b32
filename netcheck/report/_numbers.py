"""Numbers and names as people read them, the same in every report."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from netcheck.files import Fact
from netcheck.network import Timing
from netcheck.words import listing, milliseconds


def number(value: float | None) -> str:
    """Six digits at most; a question mark where there is none."""
    return "?" if value is None else f"{value:.6g}"


def part_of(part: int, whole: int) -> str:
    """``12 of 1,204 (1.0 %)``."""
    return f"{part:,} of {whole:,} ({100 * part / whole:.1f} %)" if whole else f"{part:,} of 0"


def sent_at_changes(timing: Timing) -> str:
    """``every 1000 ms and at changes``, of a message that is sent at changes."""
    if timing.period is None:
        return "at changes"
    return f"every {milliseconds(round(timing.period * 1e6))} and at changes"


def percent(share: Fraction) -> str:
    """``31.4 %``."""
    return f"{float(share) * 100:.1f} %"


def fact_text(value: Fact) -> str:
    """A fact's value as the file has it: ``true``, ``LIN``, ``2``."""
    return str(value).lower() if isinstance(value, bool) else str(value)


def choices(any_of: Sequence[Fact]) -> str:
    """``LIN or CAN``."""
    return listing([fact_text(choice) for choice in any_of], last="or")


def it_has(similar: Sequence[str]) -> str:
    """`` (it has gateway)``, for a name that may be misspelt; "" where nothing is much like it."""
    return f" (it has {similar[0]})" if similar else ""


def be(names: Sequence[object]) -> str:
    """``is`` or ``are``."""
    return "is" if len(names) == 1 else "are"


def minutes(seconds: int) -> str:
    """A recording time in words: ``about 2 minutes``."""
    whole, rest = divmod(seconds, 60)
    if rest:
        return f"about {whole}½ minutes" if whole else "about half a minute"
    return f"about {whole:,} minute" if whole == 1 else f"about {whole:,} minutes"


def because(why: str) -> str:
    """`` (why)``, or nothing."""
    return f" ({why})" if why else ""
