"""The needs: which entry, and the first reason along the way."""

from __future__ import annotations

from dataclasses import dataclass

from tests.acceptance.oracle._fit import Fit
from tests.acceptance.oracle._frames import Taps
from tests.acceptance.oracle._look import Look
from tests.acceptance.small_jobs import Entry, Job, Need, Part


class BadJob(Exception):  # noqa: N818 - what netcheck says of it is its own matter
    """The job is one that the rules call an error."""


@dataclass(frozen=True)
class Told:
    """A need's status, reason, evidence, and the network that it was judged on."""

    status: str
    reason: str
    evidence: str
    network: str | None


def is_error(job: Job) -> bool:
    """A mark outside its recording, a channel that is not there, and what does not fit the vehicle file."""
    for recording in job.recordings:
        last, there = recording.frames[-1].time, {frame.channel for frame in recording.frames}
        is_outside = any(mark.end < 0 or mark.start > last for mark in recording.marks)
        if recording.when == "before" and (is_outside or not there.issuperset(recording.channels)):
            return True
    readings = {(r.module, r.did, r.when): r.data for r in job.readings}
    return (
        not 2017 <= job.year <= 2022
        or any(readings[r.module, r.did, r.when] != r.data for r in job.readings)
        or any(len(r.data) != job.modules[r.module].blocks[r.did][0] for r in job.readings)
        or any(
            part.network is None and any(s.roles or s.number is not None for s in part.supplies)
            for part in job.parts
        )
    )


class Judge:
    def __init__(self, job: Job) -> None:
        self.job, self.taps = job, Taps(job)
        self.fit = Fit(job)
        if is_error(job):
            raise BadJob

    def entries(self, role: str) -> list[Entry]:
        year = self.job.year
        found = self.job.roles.get(role, ())
        return [e for e in found if e.years is None or e.years[0] <= year <= e.years[1]]

    def look(self, role: str, network: str | None) -> Look | None:
        """The entry on a network, as seen there; on none, the entry whose network carries it."""
        entries = self.entries(role)
        looks = [Look(self.job, self.taps, role, e) for e in entries if network in (None, e.network)]
        if network is None:
            carried = [look for look in looks if look.is_defined and look.values]
            looks = carried or looks
        return looks[0] if looks else None

    def need(self, part: Part, need: Need) -> Told:
        if any(need.role in roles_of(other) for other in self.sharing(part)):
            return Told("supplied", "by-item", "?", part.network)
        if not self.entries(need.role):
            return Told("missing", "undefined-role", "none", part.network)
        look = self.look(need.role, part.network)
        if look is None:
            return Told("missing", "other-network", "none", part.network)
        status, reason = self.reason(look, need)
        return Told(status, reason, look.evidence(need.max_gap_ms), look.entry.network)

    def sharing(self, part: Part) -> list[Part]:
        return [
            other
            for other in self.job.parts
            if other is not part and (part.network is None or other.network == part.network)
        ]

    def reason(self, look: Look, need: Need) -> tuple[str, str]:
        if not look.is_defined:
            return "missing", "undefined-signal"
        if not look.taps:
            if need.evidence == "defined":
                return "shown", "ok"
            mistaken = look.entry.network in self.taps.mistaken
            return "expected", "wrong-tap" if mistaken else "no-capture"
        if look.is_absent() or (not look.is_short() and look.is_not_available()):
            if self.fit.is_locked(look.entry):
                return "after-coding", "locked"
            return "missing", "message-absent" if look.is_absent() else "not-available"
        if look.is_short():
            return "missing", "short-frame"
        if look.is_out_of_range():
            return "expected", "out-of-range"
        if look.is_too_slow(need.max_gap_ms):
            return "missing", "too-slow"
        if look.is_frozen():
            return "missing", "counter-frozen"
        if look.jumps():
            return "expected", "counter-jumps"
        return self.movement(look, need)

    def movement(self, look: Look, need: Need) -> tuple[str, str]:
        if need.evidence == "defined":
            return "shown", "ok"
        if look.has_no_answer():
            return "missing", "no-answer"
        if look.moves_unasked():
            return "expected", "moves-unasked"
        if need.evidence == "answers" and not look.marks():
            return "expected", "no-mark"
        if need.evidence != "present" and not look.moves():
            return "expected", "not-exercised"
        return "shown", "ok"


def roles_of(part: Part) -> set[str]:
    return {role for supply in part.supplies for role in supply.roles}
