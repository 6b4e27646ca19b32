"""One pair of wires as text for a technician who knows a multimeter, and as JSON."""

from __future__ import annotations

from typing import Any, Final

from netcheck.report._page import Page, Style
from netcheck.tap import Finding, Judged, MeterReading, RoleFound, State, TapCheck
from netcheck.words import counted, sentence, unique

SCHEMA: Final = "netcheck.tap/1"
_SIGNS: Final = {State.RIGHT: "+", State.WRONG: "X", State.UNKNOWN: "?", State.NOTE: "-"}
_STYLES: Final = {
    State.RIGHT: Style.GOOD,
    State.WRONG: Style.BAD,
    State.UNKNOWN: Style.DOUBT,
    State.NOTE: Style.PLAIN,
}
_WORDS: Final = {
    State.RIGHT: "right",
    State.WRONG: "wrong",
    State.UNKNOWN: "cannot tell",
    State.NOTE: "note",
}
_NAMES: Final = {
    "network": "network",
    "bit-rate": "bit rate",
    "errors": "error frames",
    "only-errors": "error frames",
    "frames-lost": "lost frames",
    "two-networks": "network",
    "nearly-silent": "traffic",
    "overload": "load",
    "silence": "traffic",
}
_COLUMN: Final = 24
_MOST_STEPS: Final = 5


def tap_text(check: TapCheck, *, then: str = "", width: int = 80, colour: bool = False) -> str:
    """The answer first, then what to do, the traffic, the roles, the cautions and the multimeter.

    then: what comes after a pair that is right, a sentence
    """
    page = Page(width)
    page.text(f"{check.vehicle}, model year {check.model_year} – {check.job}: {check.item}")
    page.blank()
    style = _STYLES[check.verdict]
    page.entry(_SIGNS[check.verdict], _headline(check), style=style, text_style=style)
    for number, step in enumerate(_steps(check, then), start=1):
        page.entry(f"{number}.", step, indent=2)
    _write_traffic(page, check)
    _write_roles(page, check)
    for warning in check.warnings:
        page.entry("Note:", sentence(warning), indent=2)
    page.heading("Before you measure")
    for caution in unique(check.cautions):
        page.entry("[!]", sentence(caution), indent=2)
    _write_readings(page, check)
    return page.render(colour=colour)


def _headline(check: TapCheck) -> str:
    network = check.network or "the network"
    if check.verdict is State.RIGHT:
        needs = f", and all that {check.item} needs is on it" if check.roles else ""
        return f"RIGHT – this pair is {network}{needs}."
    first = next((finding for finding in check.findings if finding.kind == "network"), None)
    if first is not None and _is_wrong_pair(check):
        return f"WRONG PAIR – {first.text}."
    where = f"this pair is {network}, but " if first is not None and first.state is State.RIGHT else ""
    if check.verdict is State.WRONG:
        return f"SOMETHING IS WRONG – {where}{_blamed(check, State.WRONG)}."
    return f"CANNOT TELL YET – {where}{_blamed(check, State.UNKNOWN)}."


def _is_wrong_pair(check: TapCheck) -> bool:
    return any(finding.kind == "network" and finding.state is State.WRONG for finding in check.findings)


def _blamed(check: TapCheck, state: State) -> str:
    """What the verdict rests on, in few words."""
    parts = [finding.text for finding in check.findings if finding.state is state][:1]
    roles = [role.role for role in check.roles if role.state is state]
    if roles:
        parts.append(
            f"see {', '.join(roles[:3])}" + (f" and {len(roles) - 3} more" if len(roles) > 3 else "")
        )
    read = [(entry.key, entry.judged) for entry in check.readings if entry.judged is not None]
    blamed = [(key, judged) for key, judged in read if judged.state is state]
    if len({judged for _, judged in blamed}) == 1:
        parts.append(f"{blamed[0][0]}: {blamed[0][1].text}")
    elif blamed:
        parts.append(f"see the readings of {', '.join(key for key, _ in blamed)}")
    return "; ".join(parts)


def _steps(check: TapCheck, then: str) -> list[str]:
    """The next checks, what is wrong before what is open, each once; with neither, what comes then."""
    if check.verdict is State.RIGHT:
        measure = any(reading.judged is None for reading in check.readings)
        return [
            *(["Measure what is still to measure, see below."] if measure else []),
            *([then] if then else []),
        ]
    entries: list[Finding | Judged | RoleFound] = [*check.findings]
    if not _is_wrong_pair(check):  # readings of another pair ask for nothing
        entries += [reading.judged for reading in check.readings if reading.judged is not None]
        entries += check.roles
    steps = [
        entry.next
        for state in (State.WRONG, State.UNKNOWN)
        for entry in entries
        if entry.state is state and entry.next
    ]
    return [sentence(step) for step in unique(steps)][:_MOST_STEPS]


def _write_traffic(page: Page, check: TapCheck) -> None:
    heard = check.listened
    if heard is None:
        page.heading("On the wires: nobody has listened yet")
    else:
        length = f"{heard.seconds:.0f} s" if heard.seconds >= 10 else f"{heard.seconds:.1f} s"
        channel = f", {heard.channel}" if heard.channel and heard.channel not in heard.source.split() else ""
        source = heard.source.replace("\\", "/").rsplit("/", 1)[-1]
        frames = f"{counted(heard.frames, 'frame')} in {length}" if heard.frames else "not one frame"
        page.heading(f"On the wires: {source}{channel}, {frames}")
    if check.place:
        page.entry("Where", f"{check.network}: {sentence(check.place)}", indent=2, column=_COLUMN)
    for finding in check.findings:
        name = _NAMES.get(finding.kind, finding.kind)
        _write_entry(page, finding.state, name, f"{_WORDS[finding.state]}: {finding.text}")
        _write_more(page, finding.cause, finding.next)


def _write_entry(page: Page, state: State, name: str, text: str) -> None:
    page.entry(f"{_SIGNS[state]} {name}", text, indent=2, column=_COLUMN, style=_STYLES[state])


def _write_more(page: Page, cause: str, step: str) -> None:
    if cause:
        page.entry("", f"Likely: {cause}", indent=2, column=_COLUMN)
    if step:
        page.entry("→", step, indent=2 + min(_COLUMN, (page.width - 2) // 2))


def _write_roles(page: Page, check: TapCheck) -> None:
    if not check.roles:
        return
    page.heading(f"What {check.item} needs, on this pair")
    for role in check.roles:
        optional = " (optional)" if role.optional else ""
        _write_entry(page, role.state, role.role, f"{_role_word(role)}{optional}: {role.text}")
        if role.next and role.state is not State.RIGHT:
            _write_more(page, "", role.next)


def _role_word(role: RoleFound) -> str:
    return {State.RIGHT: "here", State.WRONG: "not here"}.get(role.state, _WORDS[role.state])


def _write_readings(page: Page, check: TapCheck) -> None:
    if not check.readings:
        return
    kind = "ISO 11898-2, high speed" if check.physical == "high-speed" else "ISO 11898-3, fault tolerant"
    page.heading(f"Multimeter on this pair ({kind})")
    before: Judged | None = None
    for reading in check.readings:
        if reading.judged is not None:
            _write_reading(page, reading, is_told=reading.judged == before)
            before = reading.judged
    open_ones = [reading for reading in check.readings if reading.judged is None]
    if open_ones:
        page.text("Still to measure (give it with --measured key=value):", indent=2)
    for reading in open_ones:
        text = f"{reading.how} Should be: {reading.expected}."
        page.entry(reading.key, text, indent=4, column=_COLUMN - 2)


def _write_reading(page: Page, reading: MeterReading, *, is_told: bool) -> None:
    """is_told: cause and next check stand above already."""
    judged = reading.judged
    if judged is None:
        return
    text = f"{reading.measured}: {_WORDS[judged.state]}, {judged.text} (should be: {reading.expected})"
    _write_entry(page, judged.state, reading.key, text)
    if not is_told:
        _write_more(page, judged.cause, judged.next)


def tap_json(check: TapCheck) -> dict[str, Any]:
    """The check as an object of plain values, always with the same keys in the same order."""
    heard = check.listened
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
            "source": heard.source,
            "channel": heard.channel,
            "frames": heard.frames,
            "error_frames": heard.error_frames,
            "seconds": round(heard.seconds, 3),
        }
        if heard
        else None,
        "findings": [
            {
                "kind": finding.kind,
                "state": finding.state.value,
                "text": finding.text,
                "cause": finding.cause,
                "next": finding.next,
            }
            for finding in check.findings
        ],
        "roles": [_role_json(role) for role in check.roles],
        "readings": [_reading_json(reading) for reading in check.readings],
        "cautions": list(unique(check.cautions)),
        "warnings": list(check.warnings),
    }


def _role_json(role: RoleFound) -> dict[str, Any]:
    return {
        "role": role.role,
        "state": role.state.value,
        "optional": role.optional,
        "message": role.message,
        "signal": role.signal,
        "text": role.text,
        "next": role.next,
    }


def _reading_json(reading: MeterReading) -> dict[str, Any]:
    judged = reading.judged
    return {
        "key": reading.key,
        "how": reading.how,
        "expected": reading.expected,
        "measured": reading.measured or None,
        "state": judged.state.value if judged else None,
        "text": judged.text if judged else "",
        "cause": judged.cause if judged else "",
        "next": judged.next if judged else "",
    }
