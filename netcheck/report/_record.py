"""What a recording came to, and the plan's verdict with it."""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

from netcheck.capture.live import Losses
from netcheck.evidence import Outcome, ProposedMark, Silence, StatePeriod, UnpromptedActivity
from netcheck.plan import Plan
from netcheck.records import dataclass
from netcheck.report._page import Page, Style, StyledText
from netcheck.report._plan_json import plan_json
from netcheck.report._plan_verdict import write_verdict
from netcheck.report._plan_words import STATUS_SIGNS, STATUS_STYLES
from netcheck.report._reasons import advice, seen_text
from netcheck.report._record_words import (
    ORIGIN_WORDS,
    RESULT_WORDS,
    SILENT_HINT,
    RecordStop,
    losses_parts,
    losses_text,
    stop_text,
    unprompted_text,
)
from netcheck.verdict import Reason, Status
from netcheck.words import command_line, counted, listing, path_text

_IN_FILES: Final = frozenset({Reason.UNDEFINED_ROLE, Reason.UNDEFINED_SIGNAL})
_MOST_TIMES: Final = 5  # of silences and of periods, named in the text


@dataclass(frozen=True)
class RecordCase:
    """A recording that is over.

    marks_file: None where there was nothing to mark
    network:  what was recorded, as far as is known; wanted: what was to be recorded
    unseen:   frames in the log that came faster than the guide could look at them
    passed:   receive errors that passed
    stop:     why it ended
    silences: when no frame came
    unsaved:  why the marks could not be written; "" when they were
    plan:     with this capture; None where it could not be made
    first_ns: of the log, for the times of the outcomes
    """

    log: Path
    marks_file: Path | None
    job: Path | None
    network: str
    wanted: str
    channel: str
    frames: int
    error_frames: int
    seconds: float
    losses: Losses
    unseen: int
    passed: int
    stop: RecordStop
    silences: tuple[Silence, ...]
    unsaved: str
    outcomes: tuple[Outcome, ...]
    proposed: tuple[ProposedMark, ...]
    unprompted: tuple[UnpromptedActivity, ...]
    first_ns: int
    plan: Plan | None


def record_text(case: RecordCase, *, width: int = 80, colour: bool = False) -> str:
    """The summary, what each exercise came to, the verdict, and what to add to the job file."""
    page = Page(width)
    _write_head(page, case)
    _write_outcomes(page, case)
    if case.unsaved and case.proposed:
        _write_unsaved(page, case)
    if case.plan is not None:
        page.heading("The plan with this capture")
        write_verdict(page, case.plan)
        _write_open(page, case.network, case.plan)
    _write_lines(page, case)
    return page.render(colour=colour)


def _write_head(page: Page, case: RecordCase) -> None:
    frames = counted(case.frames, "frame")
    what = case.network if case.network == case.wanted else f"{case.network}, not {case.wanted},"
    page.text(f"Recorded {what} on {case.channel}: {frames} in {case.seconds:.1f} s", style=Style.STRONG)
    page.entry("log", str(case.log), indent=2, column=8)
    if case.marks_file is not None and not case.unsaved:
        page.entry(
            "marks",
            f"{path_text(case.marks_file)} ({counted(len(case.proposed), 'mark')})",
            indent=2,
            column=8,
        )
    style = Style.BAD if case.losses.frames else Style.PLAIN
    page.entry("lost", losses_text(case.losses), indent=2, column=8, text_style=style)
    if case.silences:
        times = _times(case, case.silences)
        text = f"no frame from {times}: {SILENT_HINT}, if the network was meant to be awake"
        page.entry("silent", text, indent=2, column=8, text_style=Style.BAD)
    if case.unseen:
        frames = counted(case.unseen, "frame")
        text = f"{frames} came too fast for the live view; they are in the log and the plan"
        page.entry("unseen", text, indent=2, column=8)
    if case.error_frames:
        page.entry("errors", f"{counted(case.error_frames, 'error frame')} in the log", indent=2, column=8)
    if case.passed:
        page.entry(
            "errors",
            f"{counted(case.passed, 'receive error')} of the interface that passed",
            indent=2,
            column=8,
        )
    if ending := stop_text(case.stop):
        page.entry("ended", ending, indent=2, column=8, text_style=Style.BAD)


def _times(case: RecordCase, periods: Sequence[Silence | StatePeriod]) -> str:
    """``3.0 to 5.9 s and 8.0 to 9.0 s``, from the log's first frame."""
    times = [
        f"{(each.first_ns - case.first_ns) / 1e9:.1f} to {(each.last_ns - case.first_ns) / 1e9:.1f} s"
        for each in periods
    ]
    return listing(times, most=_MOST_TIMES)


def _write_outcomes(page: Page, case: RecordCase) -> None:
    if not case.outcomes:
        return
    page.heading("Exercises")
    column = min(max(len(outcome.step.role) for outcome in case.outcomes) + 4, 30)
    for outcome in case.outcomes:
        sign = "+" if outcome.is_good else "?"
        text = RESULT_WORDS[outcome.result]
        if outcome.step.state != "active":
            text = f"{outcome.step.state}: {text}"
        if outcome.from_ns is not None and outcome.to_ns is not None:
            begin, end = (outcome.from_ns - case.first_ns) / 1e9, (outcome.to_ns - case.first_ns) / 1e9
            text += f", {begin:.1f} to {end:.1f} s"
        if outcome.step.optional:
            text += " (optional)"
        style = Style.GOOD if outcome.is_good else Style.DOUBT
        page.entry(f"{sign} {outcome.step.role}", text, indent=2, column=column, style=style)
    for unprompted in case.unprompted:
        page.entry(
            f"! {unprompted.step.role}",
            f"{unprompted_text(unprompted)}, {_times(case, unprompted.periods)}; nobody confirmed it, so the "
            "plan counts it as unprompted",
            indent=2,
            column=column,
            style=Style.DOUBT,
        )


def _write_unsaved(page: Page, case: RecordCase) -> None:
    page.heading("The marks could not be saved: copy them", Style.BAD)
    page.text(case.unsaved)
    for line in _mark_lines(case.proposed):
        page.raw(StyledText(line))


def _mark_lines(proposed: Sequence[ProposedMark]) -> list[str]:
    from netcheck.files import marks_text

    return marks_text([(each.mark, ORIGIN_WORDS[each.origin]) for each in proposed]).splitlines()


def _write_open(page: Page, network: str, plan: Plan) -> None:
    """What this network still owes, and why: the technician is still at the vehicle.

    What is optional and not in the files is left out: no recording changes it.
    """
    needs = {
        (need.role, seen_text(need)): need
        for item in plan.items
        for need in item.needs
        if need.network == network
        and need.status in {Status.EXPECTED, Status.MISSING}
        and not (need.optional and need.reason in _IN_FILES)
    }
    if not needs:
        return
    page.heading(f"Still open on {network}")
    column = min(max(len(role) for role, _ in needs) + 4, 26)
    for need in needs.values():
        optional = "optional, " if need.optional else ""
        sign = "-" if need.optional else STATUS_SIGNS[need.status]
        page.entry(
            f"{sign} {need.role}",
            f"{optional}{need.status}: {seen_text(need)}",
            indent=2,
            column=column,
            style=Style.PLAIN if need.optional else STATUS_STYLES[need.status],
        )
        if todo := str(advice(need)):
            page.entry("→", todo, indent=2 + column)


def _write_lines(page: Page, case: RecordCase) -> None:
    if not _is_worth_keeping(case):
        return
    page.heading("To keep it")
    name = path_text(case.job) if case.job is not None else "the job file"
    use = "" if case.network == case.wanted else f", if the job needs a capture of {case.network}"
    page.text(f"netcheck has not changed {name}. Add these lines to it{use}:")
    page.blank()
    for line in job_lines(case):
        page.raw(StyledText(f"  {line}"))
    page.blank()
    plan = command_line("plan", *([case.job] if case.job is not None else []))
    page.text(f"Then {plan} gives the whole report: coding, checklist, next steps.")


def _is_worth_keeping(case: RecordCase) -> bool:
    """Whether the log holds more than error frames."""
    return case.frames > case.error_frames


def job_lines(case: RecordCase) -> list[str]:
    """The capture as an entry of the job file; its path counts from there."""
    path = case.log
    if case.job is not None:
        try:
            path = Path(os.path.relpath(case.log.absolute(), case.job.absolute().parent))
        except ValueError:  # another drive
            path = case.log.absolute()
    quoted = json.dumps(path.as_posix(), ensure_ascii=False)
    channel = json.dumps(case.channel, ensure_ascii=False)
    return ["[[capture]]", f"file = {quoted}", f"channels = {{ {channel} = {json.dumps(case.network)} }}"]


def record_json(case: RecordCase) -> dict[str, Any]:
    """The same for scripts."""
    return {
        "schema": "netcheck.record/1",
        "log": str(case.log),
        "marks_file": str(case.marks_file) if case.marks_file is not None and not case.unsaved else None,
        "network": case.network,
        "wanted": case.wanted,
        "channel": case.channel,
        "frames": case.frames,
        "error_frames": case.error_frames,
        "seconds": round(case.seconds, 3),
        "lost": {
            "frames": case.losses.frames,
            "told": case.losses.is_told,
            "how": list(losses_parts(case.losses)),
            "controller": case.losses.overruns,
            "driver": case.losses.device,
            "system": case.losses.system,
            "netcheck": case.losses.own,
        },
        "unseen": case.unseen,
        "silences": [_span(case, each) for each in case.silences],
        "ending": stop_text(case.stop),
        "stop": _stop_json(case.stop),
        "exercises": [
            {
                "role": outcome.step.role,
                "state": outcome.step.state,
                "result": outcome.result.value,
                "from": _seconds(outcome.from_ns, case.first_ns),
                "to": _seconds(outcome.to_ns, case.first_ns),
            }
            for outcome in case.outcomes
        ],
        "marks": [
            {
                **each.mark.model_dump(by_alias=True, exclude_none=True, mode="json"),
                "origin": each.origin.value,
                "how": ORIGIN_WORDS[each.origin],
            }
            for each in case.proposed
        ],
        "unconfirmed": [unprompted.step.role for unprompted in case.unprompted],
        "unprompted": [
            {
                "role": unprompted.step.role,
                "state": unprompted.step.state,
                "periods": [_span(case, each) for each in unprompted.periods],
                "hands_off": unprompted.hands_off,
                "during": list(unprompted.during),
                "too_many": unprompted.too_many,
            }
            for unprompted in case.unprompted
        ],
        "job_lines": job_lines(case) if _is_worth_keeping(case) else [],
        "plan": plan_json(case.plan) if case.plan is not None else None,
    }


def _seconds(time_ns: int | None, first_ns: int) -> float | None:
    return None if time_ns is None else round((time_ns - first_ns) / 1e9, 3)


def _span(case: RecordCase, each: Silence | StatePeriod) -> dict[str, float | None]:
    return {"from": _seconds(each.first_ns, case.first_ns), "to": _seconds(each.last_ns, case.first_ns)}


def _stop_json(stop: RecordStop) -> dict[str, Any]:
    """The kind, and what is known of it."""
    facts = {
        "seconds": stop.seconds,
        "network": stop.network,
        "tap": stop.tap,
        "bitrate": stop.bitrate,
        "pair": asdict(stop.pair) if stop.pair is not None else None,
        "said": stop.said,
    }
    return {"kind": stop.kind.value, **{key: value for key, value in facts.items() if value}}
