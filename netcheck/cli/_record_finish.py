"""After the last frame: what a person has to confirm, the plan with the recording, what to say of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netcheck.cli._keys import Keys
from netcheck.cli._record_run import Session
from netcheck.cli._record_setup import Setup
from netcheck.cli._screen import Screen

if TYPE_CHECKING:
    from netcheck.capture.live import Losses
    from netcheck.plan import Plan
    from netcheck.report.onsite import RecordCase


def ask_back(session: Session, screen: Screen, keys: Keys) -> None:
    """Roles that were also active unasked: was it so? Only a person at the vehicle can tell."""
    from netcheck.report.onsite import question_text

    if not keys.present:
        return
    keys.forget()
    for unasked in session.guide.unasked():
        if unasked.too_many:
            continue
        screen.say(
            question_text(unasked, session.live.first_ns or 0, width=screen.width, colour=screen.colour)
        )
        while (key := keys.wait(60.0).lower()) not in {"y", "n", "q"}:
            pass
        screen.say({"y": "yes: marked\n", "n": "no: it moved by itself\n", "q": "not answered\n"}[key])
        if key == "y":
            session.guide.confirm(unasked)
        if key == "q":
            return


def plan_with(setup: Setup, session: Session) -> Plan:
    """The plan of the job with the recording added, in memory only."""
    from netcheck.plan import make_plan
    from netcheck.work import with_recording

    live = session.live
    marks = [each.mark for each in session.guide.marks(live.first_ns or 0, session.last_ns)]
    channels = {live.channel: setup.visit.network}
    recorded = with_recording(setup.job, setup.log, channels, marks, setup.marks)
    return make_plan(recorded, cache=setup.cache)


def case_of(setup: Setup, session: Session, plan: Plan | None) -> RecordCase:
    """The recording for the report."""
    from netcheck.report.onsite import RecordCase

    live = session.live
    first = live.first_ns or 0
    made = session.guide.marks(first, session.last_ns)
    return RecordCase(
        log=setup.log,
        marks_file=setup.marks if setup.marks.exists() else None,
        job=setup.job.file,
        network=session.other_network or setup.visit.network,
        wanted=setup.visit.network,
        channel=live.channel,
        frames=live.frames,
        error_frames=live.error_frames,
        seconds=max(session.last_ns - first, 0) / 1e9,
        lost=live.losses.frames,
        lost_how=_how(live.losses),
        lost_untold=not live.losses.is_told,
        unseen=live.unseen,
        passed=live.failures if live.fault is None else 0,
        ending=session.stop_text,
        unsaved=session.unsaved,
        outcomes=tuple(session.guide.outcomes),
        made=made,
        unasked=session.guide.unasked(),
        first_ns=first,
        plan=plan,
    )


def _how(losses: Losses) -> tuple[str, ...]:
    parts = []
    if losses.overruns:
        parts.append(f"{losses.overruns} overruns told by the controller")
    if losses.device:
        parts.append(f"{losses.device} by the device driver's count")
    if losses.system:
        parts.append(f"{losses.system} dropped by the operating system, the machine being too busy")
    if losses.own:
        parts.append(f"{losses.own} that netcheck could not write")
    return tuple(parts)
