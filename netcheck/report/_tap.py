"""One pair of wires as text for a technician who knows a multimeter, and as JSON."""

from __future__ import annotations

from pathlib import PurePath
from typing import Any, Final

from netcheck.report._facts import facts_of
from netcheck.report._page import Page, Style
from netcheck.report._tap_keys import KEY_WORDS, expected_text, measured_text
from netcheck.report._tap_readings import assessment_words
from netcheck.report._tap_words import (
    CAUTION_WORDS,
    KIND_WORDS,
    STATE_WORDS,
    TapWords,
    finding_words,
    role_words,
)
from netcheck.tap import (
    Assessment,
    Finding,
    FindingKind,
    FindingReason,
    MeterReading,
    RoleFound,
    State,
    TapCheck,
)
from netcheck.words import counted, sentence, unique

SCHEMA: Final = "netcheck.tap/1"
_SIGNS: Final = {State.RIGHT: "+", State.WRONG: "X", State.UNKNOWN: "?", State.NOTE: "-"}
_STYLES: Final = {
    State.RIGHT: Style.GOOD,
    State.WRONG: Style.BAD,
    State.UNKNOWN: Style.DOUBT,
    State.NOTE: Style.PLAIN,
}
_COLUMN: Final = 24
_MOST_STEPS: Final = 5


def tap_text(
    check: TapCheck, *, then: str = "", width: int = 80, colour: bool = False, height: int | None = None
) -> str:
    """The answer first, then what to do, the traffic, the roles, the cautions and the multimeter.

    What a part needs is no matter on the pair of another network.
    then:   what comes after a pair that is right, a sentence
    height: lines of a terminal; where the text is longer, the answer stands at its end, too
    """
    page = Page(width)
    page.text(f"{check.vehicle}, model year {check.model_year} – {check.job}: {check.item}")
    page.blank()
    style = _STYLES[check.verdict]
    answer = _SIGNS[check.verdict], _headline(check)
    page.entry(*answer, style=style, text_style=style)
    for number, step in enumerate(_steps(check, then), start=1):
        page.entry(f"{number}.", step, indent=2)
    _write_traffic(page, check)
    if not _is_wrong_pair(check):
        _write_roles(page, check)
    for warning in _warnings(check):
        page.entry("Note:", sentence(warning), indent=2)
    page.heading("Before you measure")
    for caution in unique(check.cautions):
        page.entry("[!]", CAUTION_WORDS[caution], indent=2)
    _write_readings(page, check)
    if height is not None and page.height >= height:
        page.blank()
        page.entry(*answer, style=style, text_style=style)
    return page.render(colour=colour)


def _warnings(check: TapCheck) -> list[str]:
    """Those of the files, and one about readings of another network."""
    warnings = list(check.warnings)
    if check.unused_readings:
        of = check.readings_network or "an item with a network"
        warnings.append(f"the job file's readings are of {of} and are not used")
    return warnings


def _headline(check: TapCheck) -> str:
    network = check.network or "the network"
    if check.verdict is State.RIGHT:
        needs = f", and all that {check.item} needs is on it" if check.roles else ""
        return f"RIGHT – this pair is {network}{needs}."
    first = next((finding for finding in check.findings if finding.kind is FindingKind.NETWORK), None)
    if first is not None and _is_wrong_pair(check):
        return f"WRONG PAIR – {finding_words(first).found}."
    is_right = first is not None and first.reason is FindingReason.RIGHT_NETWORK
    where = f"this pair is {network}, but " if is_right else ""
    if check.verdict is State.WRONG:
        return f"SOMETHING IS WRONG – {where}{_to_blame(check, State.WRONG)}."
    return f"CANNOT TELL YET – {where}{_to_blame(check, State.UNKNOWN)}."


def _is_wrong_pair(check: TapCheck) -> bool:
    return any(
        finding.kind is FindingKind.NETWORK and finding.state is State.WRONG for finding in check.findings
    )


def _to_blame(check: TapCheck, state: State) -> str:
    """What the verdict rests on, in few words."""
    parts = [finding_words(finding).found for finding in check.findings if finding.state is state][:1]
    roles = [role.role for role in check.roles if role.state is state]
    if roles:
        parts.append(
            f"see {', '.join(roles[:3])}" + (f" and {len(roles) - 3} more" if len(roles) > 3 else "")
        )
    read = [(entry.key, entry.assessment) for entry in check.readings if entry.assessment is not None]
    blamed = [(key, assessment) for key, assessment in read if assessment.state is state]
    if len({assessment for _, assessment in blamed}) == 1:
        parts.append(f"{blamed[0][0]}: {assessment_words(blamed[0][1]).found}")
    elif blamed:
        parts.append(f"see the readings of {', '.join(key for key, _ in blamed)}")
    return "; ".join(parts)


def _steps(check: TapCheck, then: str) -> list[str]:
    """The next checks, what is wrong before what is open, each once; otherwise the follow-up."""
    if check.verdict is State.RIGHT:
        measure = any(reading.assessment is None for reading in check.readings)
        return [
            *(["Take the readings that are still missing, see below."] if measure else []),
            *([then] if then else []),
        ]
    entries = [(finding.state, finding_words(finding)) for finding in check.findings]
    if not _is_wrong_pair(check):  # readings of another pair ask for nothing
        read = [reading.assessment for reading in check.readings if reading.assessment is not None]
        entries += [(assessment.state, assessment_words(assessment)) for assessment in read]
        entries += [(role.state, role_words(role)) for role in check.roles]
    steps = [
        words.next
        for wanted in (State.WRONG, State.UNKNOWN)
        for state, words in entries
        if state is wanted and words.next
    ]
    return list(unique(steps))[:_MOST_STEPS]


def _write_traffic(page: Page, check: TapCheck) -> None:
    listened = check.listened
    if listened is None:
        page.heading("On the wires: no recording yet")
    else:
        length = f"{listened.seconds:.0f} s" if listened.seconds >= 10 else f"{listened.seconds:.1f} s"
        channel = f", {listened.channel}" if listened.channel and not listened.is_live else ""
        source = listened.source if listened.is_live else PurePath(listened.source.replace("\\", "/")).name
        span = f"in {length}" if listened.has_times else "without time stamps"
        frames = f"{counted(listened.frames, 'frame')} {span}" if listened.frames else "not one frame"
        page.heading(f"On the wires: {source}{channel}, {frames}")
    if check.place:
        page.entry("Where", f"{check.network}: {sentence(check.place)}", indent=2, column=_COLUMN)
    for finding in check.findings:
        words = finding_words(finding)
        text = f"{STATE_WORDS[finding.state]}: {words.found}"
        _write_entry(page, finding.state, KIND_WORDS[finding.kind], text)
        _write_more(page, words)


def _write_entry(page: Page, state: State, name: str, text: str) -> None:
    page.entry(f"{_SIGNS[state]} {name}", text, indent=2, column=_COLUMN, style=_STYLES[state])


def _write_more(page: Page, words: TapWords) -> None:
    if words.cause:
        page.entry("", f"Likely: {words.cause}", indent=2, column=_COLUMN)
    if words.next:
        page.entry("→", words.next, indent=2 + min(_COLUMN, (page.width - 2) // 2))


def _write_roles(page: Page, check: TapCheck) -> None:
    if not check.roles:
        return
    page.heading(f"What {check.item} needs, on this pair")
    for role in check.roles:
        words = role_words(role)
        optional = " (optional)" if role.optional else ""
        _write_entry(page, role.state, role.role, f"{_role_state(role)}{optional}: {words.found}")
        if role.state is not State.RIGHT:
            _write_more(page, words)


def _role_state(role: RoleFound) -> str:
    return {State.RIGHT: "here", State.WRONG: "not here"}.get(role.state, STATE_WORDS[role.state])


def _write_readings(page: Page, check: TapCheck) -> None:
    if not check.readings or (_is_wrong_pair(check) and not any(r.assessment for r in check.readings)):
        return
    kind = "ISO 11898-2, high speed" if check.physical == "high-speed" else "ISO 11898-3, fault tolerant"
    page.heading(f"Multimeter on this pair ({kind})")
    before: Assessment | None = None
    for reading in check.readings:
        if reading.assessment is not None:
            _write_reading(page, reading, reading.assessment, check.physical)
            if reading.assessment != before:
                _write_more(page, assessment_words(reading.assessment))
            before = reading.assessment
    missing = [reading for reading in check.readings if reading.assessment is None]
    if _is_wrong_pair(check):  # it is another pair that is to be measured
        return
    if missing:
        page.text("Still to measure (give it with --measured key=value):", indent=2)
    for reading in missing:
        text = f"{KEY_WORDS[reading.key].how} Should be: {expected_text(reading, check.physical)}."
        page.entry(reading.key, text, indent=4, column=_COLUMN - 2)


def _write_reading(page: Page, reading: MeterReading, assessment: Assessment, physical: str) -> None:
    state, words = assessment.state, assessment_words(assessment)
    text = f"{measured_text(reading)}: {STATE_WORDS[state]}, {words.found} (should be: "
    _write_entry(page, state, reading.key, f"{text}{expected_text(reading, physical)})")


def tap_json(check: TapCheck) -> dict[str, Any]:
    """The check as an object of plain values, always with the same keys in the same order."""
    listened = check.listened
    return {
        "schema": SCHEMA,
        "job": check.job,
        "vehicle": check.vehicle,
        "model_year": check.model_year,
        "item": check.item,
        "network": check.network,
        "tap": check.place,
        "physical": check.physical or None,
        "bitrate": check.bitrate,
        "fd_bitrate": check.fd_bitrate,
        "verdict": check.verdict.value,
        "listened": {
            "source": listened.source,
            "channel": listened.channel,
            "frames": listened.frames,
            "error_frames": listened.error_frames,
            "seconds": round(listened.seconds, 3),
            "has_times": listened.has_times,
            "is_live": listened.is_live,
        }
        if listened
        else None,
        "findings": [_finding_json(finding) for finding in check.findings],
        "roles": [_role_json(role) for role in check.roles],
        "readings": [_reading_json(reading, check.physical) for reading in check.readings],
        "cautions": [CAUTION_WORDS[caution] for caution in unique(check.cautions)],
        "warnings": _warnings(check),
        "caution_kinds": [caution.value for caution in unique(check.cautions)],
        "identity": check.identity.value if check.identity else None,
    }


def _finding_json(finding: Finding) -> dict[str, Any]:
    words = finding_words(finding)
    return {
        "kind": finding.kind.value,
        "state": finding.state.value,
        "text": words.found,
        "cause": words.cause,
        "next": words.next,
        "reason": finding.reason.value,
        "facts": facts_of(finding, "kind", "state", "reason"),
    }


def _role_json(role: RoleFound) -> dict[str, Any]:
    words = role_words(role)
    return {
        "role": role.role,
        "state": role.state.value,
        "optional": role.optional,
        "message": role.message,
        "signal": role.signal,
        "text": words.found,
        "next": words.next,
        "cause": words.cause,
        "reason": role.reason.value,
        "facts": facts_of(role.facts),
    }


def _reading_json(reading: MeterReading, physical: str) -> dict[str, Any]:
    assessment = reading.assessment
    words = assessment_words(assessment) if assessment else TapWords("")
    return {
        "key": reading.key.value,
        "how": KEY_WORDS[reading.key].how,
        "expected": expected_text(reading, physical),
        "measured": measured_text(reading) or None,
        "state": assessment.state.value if assessment else None,
        "text": words.found,
        "cause": words.cause,
        "next": words.next,
        "reason": assessment.reason.value if assessment else None,
        "value": reading.measured,
        "unit": KEY_WORDS[reading.key].unit or None,
        "limits": list(reading.limits) if reading.limits else None,
        "facts": facts_of(assessment, "state", "reason") if assessment else None,
    }
