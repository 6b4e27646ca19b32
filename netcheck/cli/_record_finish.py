"""After the last frame: what a person has to confirm, the plan with the recording, what to say of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netcheck.cli._keys import Keys
from netcheck.cli._record_run import LiveRecording
from netcheck.cli._record_setup import Setup
from netcheck.cli._screen import Screen

if TYPE_CHECKING:
    from netcheck.plan import Plan
    from netcheck.report.recording import RecordCase, RecordStop


def ask_back(recording: LiveRecording, screen: Screen, keys: Keys) -> None:
    """Roles that were also active unprompted: did a person do it? Only they can tell. Doubt gives no mark."""
    from netcheck.report.recording import confirmed_text, question_text

    if not keys.present:
        return
    keys.forget()
    for unprompted in recording.guide.unprompted():
        if unprompted.too_many:
            continue
        screen.say(question_text(unprompted, width=screen.width, colour=screen.colour))
        while (key := keys.wait(60.0).lower()) not in {"y", "n", "q"}:
            pass
        screen.say(confirmed_text(key))
        if key == "y":
            recording.guide.confirm(unprompted)
        if key == "q":
            return


def plan_with(setup: Setup, recording: LiveRecording) -> Plan:
    """The plan of the job with the recording added, in memory only."""
    from netcheck.plan import make_plan
    from netcheck.work import with_recording

    live = recording.live
    marks = [each.mark for each in recording.guide.marks(live.first_ns or 0, recording.last_ns)]
    channels = {live.channel: setup.session.network}
    recorded = with_recording(setup.job, setup.log, channels, marks, setup.marks)
    return make_plan(recorded, cache=setup.cache)


def case_of(setup: Setup, recording: LiveRecording, stop: RecordStop, plan: Plan | None) -> RecordCase:
    """The recording for the report."""
    from netcheck.report.recording import RecordCase, StopKind

    live = recording.live
    first = live.first_ns or 0
    return RecordCase(
        log=setup.log,
        marks_file=setup.marks if setup.marks.exists() else None,
        job=setup.job.file,
        network=recording.other_network or setup.session.network,
        wanted=setup.session.network,
        channel=live.channel,
        frames=live.frames,
        error_frames=live.error_frames,
        seconds=max(recording.last_ns - first, 0) / 1e9,
        losses=live.losses,
        unseen=live.unseen,
        passed=live.failures if live.fault is None else 0,
        stop=stop,
        silences=() if stop.kind is StopKind.CLOCK_SET else recording.silences,  # its times mean nothing
        unsaved=recording.unsaved,
        outcomes=tuple(recording.guide.outcomes),
        proposed=recording.guide.marks(first, recording.last_ns),
        unprompted=recording.guide.unprompted(),
        first_ns=first,
        plan=plan,
    )
