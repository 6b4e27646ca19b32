"""All words of a search for a quantity: problems, scale, borders, physical sense, what to do next."""

from __future__ import annotations

from typing import Final

from netcheck.find import (
    FittedScale,
    FoundField,
    Known,
    KnownKind,
    QuantityCandidate,
    QuantityNext,
    QuantityProblem,
    Sense,
)
from netcheck.report._find_words import place_text
from netcheck.words import counted

QUANTITY_PROBLEM_WORDS: Final = {
    QuantityProblem.NO_TIMES: "the capture has no time stamps, so nothing can be compared with it",
    QuantityProblem.OUTSIDE: "what is known of it lies outside the capture",
    QuantityProblem.TOO_SHORT: "what is known of it is too short: it takes 3 seconds, or marks of two ranges",
    QuantityProblem.CONSTANT: "what is known of it never changes, so nothing can follow it",
    QuantityProblem.NOTHING_KNOWN: "no mark gives a range of values, and nothing else is known of it",
}
QUANTITY_PROBLEM_REMEDIES: Final = {
    QuantityProblem.NO_TIMES: "record with a tool that writes a time stamp for each frame",
    QuantityProblem.OUTSIDE: (
        "give times in seconds from the capture's first frame; two captures must have been recorded at the "
        "same time, with the same clock"
    ),
    QuantityProblem.TOO_SHORT: "record it going up and down three times, and note when and how far",
    QuantityProblem.CONSTANT: "record it going up and down three times, and note when and how far",
    QuantityProblem.NOTHING_KNOWN: 'give a rough track, such as --track "0 s:0, 20 s:30 km/h", or --like',
}
SENSE_WORDS: Final = {
    Sense.NEVER_NEGATIVE: "never negative",
    Sense.NEGATIVE: "would be negative, which it cannot be",
    Sense.RISES: "a larger number means more",
    Sense.FALLS: "a larger number would mean less",
    Sense.CONTINUOUS: "continuous",
    Sense.JUMPS: "jumps, which it cannot",
    Sense.WITHIN: "stays between 0 and 100 %",
    Sense.BEYOND: "would leave 0 to 100 %",
}
QUANTITY_NEXT_WORDS: Final = {
    QuantityNext.USE: "{field} stands clear. Confirm it with a second recording before you rely on it.",
    QuantityNext.NO_FIT: (
        "No field moved with it. Check the times, and that the tap is on the right network; then record it "
        "going up and down three times, to different values."
    ),
    QuantityNext.MORE_TURNS: (
        "What is known changes too little, or fits too roughly, to trust a candidate. Record it going up and "
        "down three times, to different values, with holds of different length, and note each turn."
    ),
    QuantityNext.BESIDE: (
        "The borders of {field} are not sure: a byte beside it may belong to it. Record it moving slowly and "
        "unevenly, with holds between."
    ),
    QuantityNext.RIVALS: (
        "{field} moves nearly like the first one. Record what changes the one and not the other, such as a "
        "bend for wheel speeds, or a gear change for engine speed."
    ),
}


def quantity_next_text(kind: QuantityNext, about: FoundField | None) -> str:
    """What to record next, in a sentence or two."""
    return QUANTITY_NEXT_WORDS[kind].format(field=place_text(about) if about else "It")


def known_text(known: Known | None) -> str:
    """``a track of 7 points``."""
    if known is None:
        return "nothing"
    match known.kind:
        case KnownKind.TRACK:
            return f"a track of {counted(len(known.samples.times), 'point')}"
        case KnownKind.MARKS:
            return f"{counted(len(known.spans), 'mark')} with a range"
        case KnownKind.SIGNAL:
            return f"the signal {known.source} in {known.file}"


def scale_text(scale: FittedScale, unit: str) -> str:
    """``0.0102 km/h a bit (± 0.0002; usual: 0.01), offset −0.3 km/h (± 0.5)``."""
    unit = f" {unit}" if unit else ""
    usual = "" if scale.usual_scale is None else f"; usual: {scale.usual_scale:.6g}"
    return (
        f"{scale.scale:.4g}{unit} a step (± {scale.scale_error:.2g}{usual}), at raw 0 "
        f"{_near(scale.offset, scale.offset_error)}{unit} (± {scale.offset_error:.2g})"
    )


def line_text(scale: float | None, offset: float | None, unit: str) -> str:
    """``0.01 km/h a step, -67.7 km/h at raw 0``."""
    unit = f" {unit}" if unit else ""
    return f"{scale or 0.0:.6g}{unit} a step, {offset or 0.0:.6g}{unit} at raw 0"


def _near(value: float, error: float) -> str:
    return "0" if abs(value) < 0.05 * error else f"{value:.4g}"


def range_text(each: QuantityCandidate, unit: str) -> str:
    """``−0.4 to 61.2 km/h``."""
    return f"{each.low:.4g} to {each.high:.4g}{f' {unit}' if unit else ''}"


def fit_text(each: QuantityCandidate, unit: str) -> str:
    """How well it follows."""
    unit = f" {unit}" if unit else ""
    text = f"explains {each.fit:.1%} of the movement, off by {each.residual:.3g}{unit} (rms)"
    if abs(each.lag) >= 0.05:
        text += f", {abs(each.lag):.1f} s {'after' if each.lag > 0 else 'before'} what is known"
    return text


def borders_text(each: QuantityCandidate) -> str:
    """How often its outer bits change."""
    text = (
        f"the lowest bit changes in {each.low_rate:.0%} of the frames, the highest that moved in "
        f"{each.top_rate:.2%}"
    )
    if each.unmoved:
        text += f"; {top_text(each)}"
    if each.beside:
        bytes_ = "byte" if len(each.beside) == 1 else "bytes"
        named = " and ".join(map(str, each.beside))
        text += f"; {bytes_} {named} beside it only moved when it did: the border and the scale are not sure"
    return text


def top_text(each: QuantityCandidate) -> str:
    """``2 bits above never moved: there the end is a guess``."""
    return f"{counted(each.unmoved, 'bit')} above never moved: there the end is a guess"
