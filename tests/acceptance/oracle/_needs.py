"""The needs: which entry, and the first reason along the way."""

from __future__ import annotations

from dataclasses import dataclass, replace

from tests.acceptance.oracle._fit import Fit
from tests.acceptance.oracle._identity import Networks
from tests.acceptance.oracle._look import Look
from tests.acceptance.small_jobs import Entry, Fact, Job, Need, OnlyIf, Part


class BadJob(Exception):  # noqa: N818 - what netcheck says of it is its own matter
    """The job is one that the rules call an error."""


@dataclass(frozen=True)
class Told:
    """A need's status, reason, evidence, and the network that it was judged on; "?" where it may be any."""

    status: str
    reason: str
    evidence: str
    network: str | None


def is_error(job: Job) -> bool:
    """A mark outside its recording, a channel that is not there, and what does not fit the vehicle file."""
    for recording in job.recordings:
        last, there = recording.frames[-1].time, {frame.channel for frame in recording.frames}
        is_outside = recording.timed and any(mark.end < 0 or mark.start > last for mark in recording.marks)
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
        or any(not {need.role for need in part.needs}.issuperset(part.wires) for part in job.parts)
    )


def is_one_of(fact: Fact, any_of: tuple[Fact, ...]) -> bool:
    """Whether a fact suits; true is not the number 1."""
    return any((type(fact), fact) == (type(other), other) for other in any_of)


class Judge:
    """Judges needs. ``parts`` are the job's, with only what applies to this vehicle."""

    def __init__(self, job: Job) -> None:
        if is_error(job):
            raise BadJob
        self.job, self.networks, self.fit = job, Networks(job), Fit(job)
        self.looks: dict[tuple[str, int], Look] = {}
        self.facts = {**job.facts, **job.own_facts}
        self.parts = [
            replace(
                part,
                needs=tuple(need for need in part.needs if self.applies(need.only_if)),
                codes=tuple(code for code in part.codes if self.applies(code.only_if)),
            )
            for part in job.parts
        ]

    def applies(self, condition: OnlyIf | None) -> bool:
        if condition is None or condition[0] not in self.facts:
            return True
        return is_one_of(self.facts[condition[0]], condition[1])

    def entries(self, role: str) -> list[Entry]:
        year = self.job.year
        found = self.job.roles.get(role, ())
        return [e for e in found if e.years is None or e.years[0] <= year <= e.years[1]]

    def networks_of(self, part: Part, need: Need) -> tuple[str, ...] | None:
        """Those that the need may be judged on; None for all."""
        unit = self.fit.unit(need.used_by) if need.used_by else None
        if unit is not None and unit.networks:
            return unit.networks
        return None if part.network is None else (part.network,)

    def look(self, role: str, networks: tuple[str, ...] | None) -> Look | None:
        """The entry on these networks, as seen there; of several networks, the one that carries it."""
        found = [
            self.seen(role, entry)
            for entry in self.entries(role)
            if networks is None or entry.network in networks
        ]
        if networks is None or len(networks) > 1:
            found.sort(key=lambda look: (not look.is_carried, not look.taps))
        return found[0] if found else None

    def seen(self, role: str, entry: Entry) -> Look:
        """What is seen of an entry, looked at once."""
        key = role, id(entry)
        if key not in self.looks:
            self.looks[key] = Look(self.job, self.networks, role, entry)
        return self.looks[key]

    def look_of(self, part: Part, need: Need) -> Look | None:
        return self.look(need.role, self.networks_of(part, need))

    def need(self, part: Part, need: Need) -> Told:
        if is_by_wire(part, need):
            return Told("supplied", "by-wire", "?", "?")
        networks = self.networks_of(part, need)
        usual = "?" if need.used_by else part.network
        if any(
            need.role in roles_of(other) and (networks is None or other.network in networks)
            for other in self.parts
            if other.name != part.name
        ):
            return Told("supplied", "by-item", "?", usual or "?")
        if not self.entries(need.role):
            return Told("missing", "undefined-role", "none", usual)
        look = self.look(need.role, networks)
        if look is None:
            return Told("missing", "other-network", "none", usual)
        status, reason = self.reason(look, need)
        return Told(status, reason, look.evidence(need), look.entry.network)

    def reason(self, look: Look, need: Need) -> tuple[str, str]:
        if not look.is_defined:
            return "missing", "undefined-signal"
        if (not look.taps or look.is_doubtful) and need.evidence == "defined":
            return "shown", "ok"
        if not look.taps:
            mistaken = look.entry.network in self.networks.mistaken
            return "expected", "wrong-tap" if mistaken else "no-capture"
        if look.is_doubtful and not look.is_beyond_doubt():
            return "expected", "doubtful-network"
        if not look.has_values():
            return self.without_values(look)
        if look.is_out_of_range():
            return "expected", "out-of-range"
        if look.lacks_time(need):
            return "expected", "no-time"
        if look.is_too_slow(need):
            return "missing", "too-slow"
        if look.is_late(need):
            return "expected", "delay-not-shown"
        if look.counter_says() == "counter-frozen":
            return "missing", "counter-frozen"
        if look.counter_says() == "counter-jumps":
            return "expected", "counter-jumps"
        return self.movement(look, need)

    def without_values(self, look: Look) -> tuple[str, str]:
        if look.frames and look.is_short():
            return "missing", "short-frame"
        if self.fit.is_locked(look.entry):
            return "after-coding", "locked"
        if look.is_unseen() and not look.should_have_come():
            return "expected", "not-exercised"
        return "missing", "not-available" if look.frames else "message-absent"

    def movement(self, look: Look, need: Need) -> tuple[str, str]:
        if need.evidence == "defined":
            return "shown", "ok"
        answers = look.answers()
        if answers and set(answers) == {"none"}:
            return "missing", "no-answer"
        if not set(answers) <= {"answered"}:
            return "expected", "some-answers"
        if look.moves_unasked():
            return "expected", "moves-unasked"
        if need.evidence == "answers" and not answers:
            return "expected", "no-mark"
        if need.evidence != "present" and not look.moves():
            return "expected", "not-exercised"
        return "shown", "ok"


def is_by_wire(part: Part, need: Need) -> bool:
    return need.used_by is None and need.role in part.wires


def roles_of(part: Part) -> set[str]:
    return {role for supply in part.supplies for role in supply.roles}
