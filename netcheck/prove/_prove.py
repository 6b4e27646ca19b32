"""A job after the fitting: what is shown, what changed as planned, what changed and was not to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import product

from netcheck.files import LoadedJob
from netcheck.network import FrameId, LoadRates, is_diagnostic
from netcheck.prove._bus import NetworkBus
from netcheck.prove._change_model import (
    OtherVehicle,
    SignalStuck,
    VehicleChange,
)
from netcheck.prove._edges import ENGINE, SPEED, TERMINAL_15
from netcheck.prove._latency import REACTIONS
from netcheck.prove._look import look
from netcheck.prove._measure import MeasuredSide, measure, targets, targets_after
from netcheck.prove._messages import NetworkMessages
from netcheck.prove._model import (
    NetworkComparison,
    Promise,
    Proof,
    ProvenNeed,
    ProveVerdict,
    Sameness,
)
from netcheck.prove._modules import SIDES, ModuleProof, with_conversations
from netcheck.prove._needs import exercises, need_notes, proven_needs, unanswered
from netcheck.prove._note_model import (
    NotAfter,
    NotBefore,
    ProveNote,
    SameRecording,
    SideDoubt,
    StrangeAfter,
    VehicleUntold,
    WithoutTimes,
)
from netcheck.prove._payloads import PayloadTarget
from netcheck.prove._promises import CodingProof, planned_on, promises
from netcheck.prove._vehicle import sameness
from netcheck.roles import diagnostic_addresses, load_networks
from netcheck.verdict import PlanContext, Progress, Status, judge_items, other_vehicles
from netcheck.words import unique


def prove(job: LoadedJob, *, cache: bool = True, progress: Progress | None = None) -> Proof:
    """Compare the captures and readouts of a job from after the fitting with those from before, and its plan.

    Arguments and errors as for ``make_plan``.
    """
    databases = load_networks(job.vehicle, cache=cache)
    besides = _roles_besides(job)
    looks = [look(job, when, databases, besides, progress) for when in SIDES]
    both = [name for name in databases if all(side.channels(name) for side in looks)]
    wanted = {name: targets(looks[0].channels(name)) for name in both}
    before = measure(looks[0], wanted, progress)
    after = measure(
        looks[1], {name: targets_after(wanted[name], before.channels(name)) for name in both}, progress
    )
    return _Comparison(job, wanted, before, after).proof()


def _roles_besides(job: LoadedJob) -> tuple[str, ...]:
    """Roles that tell the vehicle's state, that were marked or exercised, and that others react to."""
    marked = (entry.mark.role for capture in job.captures for entry in capture.marks)
    exercised = (exercise.role for item in job.items for exercise in item.retrofit.exercise)
    causes = [reaction.cause for reaction in REACTIONS]
    causes += [reaction.cause for item in job.items for reaction in item.retrofit.reaction]
    return unique([TERMINAL_15, ENGINE, SPEED, *causes, *marked, *exercised])


class _Comparison:
    """Both sides of a job, network by network."""

    def __init__(
        self,
        job: LoadedJob,
        wanted: Mapping[str, Mapping[FrameId, PayloadTarget]],
        before: MeasuredSide,
        after: MeasuredSide,
    ) -> None:
        """wanted: per network that both sides have, what was followed of each id"""
        talk = with_conversations(job, before.readout, after.readout)
        self._job = job = talk.job
        self._modules = ModuleProof(talk)
        self._sides = before, after = before.told(job, "before"), after.told(job, "after")
        items, writes = judge_items(before.context)
        self._names = tuple(before.context.databases)
        self._both = list(wanted)
        self._planned = {name: planned_on(before.context, items, name) for name in self._names}
        self._messages = {
            name: NetworkMessages(
                name,
                before.channels(name),
                after.channels(name),
                self._planned[name],
                targets=wanted[name],
                uncounted=self._uncounted(name),
            )
            for name in self._both
        }
        models = job.vehicle.model.network
        self._buses = {
            name: NetworkBus(
                name,
                before.channels(name),
                after.channels(name),
                LoadRates(models[name].bitrate, models[name].fd_bitrate),
                self._planned[name].new,
            )
            for name in self._both
            if self._messages[name].has_times
        }
        self._coding = CodingProof(before.context, after.context, items, writes)

    def _uncounted(self, network: str) -> frozenset[FrameId]:
        """Ids of diagnostics, which come when somebody asks."""
        addresses = diagnostic_addresses(self._job.vehicle.model, self._job.model_year)
        return frozenset(
            message.frame_id
            for side in self._sides
            for channel in side.channels(network)
            for message in channel.survey.messages
            if is_diagnostic(message.frame_id, addresses)
        )

    def proof(self) -> Proof:
        """All of it together."""
        before, after = (side.context for side in self._sides)
        same = sameness(
            *self._sides,
            self._messages,
            self._planned,
            (self._modules.vins("before"), self._modules.vins("after")),
        )
        proof = Proof(
            self._job.name,
            self._job.vehicle.model.name,
            self._job.model_year,
            ProveVerdict.NOT_SHOWN,
            before=before.captures.uses,
            after=after.captures.uses,
        )
        if isinstance(same, OtherVehicle):
            return replace(proof, sameness=Sameness(False), changes=(same,))
        needs = tuple(proven_needs(after, self._sides[1].captures))
        done = tuple(exercises(after))
        changes = self._changes(before)
        promised = tuple(self._promises())
        notes = (*self._notes(same), *need_notes(after, needs, done))
        verdict = verdict_of(changes, promised, needs, notes)
        return replace(
            proof,
            verdict=verdict,
            sameness=same,
            networks=tuple(self._comparison(name, changes) for name in self._both),
            changes=changes,
            promises=promised,
            needs=needs,
            exercises=done,
            notes=notes,
        )

    def _comparison(self, name: str, changes: Sequence[VehicleChange]) -> NetworkComparison:
        messages, bus = self._messages[name], self._buses.get(name)
        unawaited = messages.unawaited()
        compared = [frame_id for frame_id in messages.compared() if frame_id not in unawaited]
        changed = {
            message.frame_id
            for message in (getattr(change, "message", None) for change in changes)
            if message is not None and message.network == name
        }
        return NetworkComparison(
            name,
            before=len(messages.before),
            after=len(messages.after),
            compared=len(compared),
            unchanged=len(set(compared) - changed - set(messages.paused())),
            loads=bus.loads if bus else None,
            sleeps=bus.sleeps if bus else None,
        )

    def _changes(self, before: PlanContext) -> tuple[VehicleChange, ...]:
        found: list[VehicleChange] = []
        for name in self._both:
            found += self._messages[name].changes
            if name in self._buses:
                found += self._buses[name].changes()
        stuck = {(c.message, c.signal) for c in found if isinstance(c, SignalStuck)}
        found += [c for c in unanswered(before, self._sides[1]) if (c.message, c.signal) not in stuck]
        return (*found, *self._modules.changes(), *self._coding.changes())

    def _promises(self) -> Iterator[Promise]:
        awake = {
            name: sum(channel.survey.awake_seconds for channel in self._sides[1].channels(name))
            for name in self._names
        }
        yield from promises(self._sides[0].context, self._messages, self._planned, awake)
        yield from self._coding.promises()

    def _notes(self, same: Sameness) -> Iterator[ProveNote]:
        if same.is_same is None and self._both:
            yield VehicleUntold()
        addresses = diagnostic_addresses(self._job.vehicle.model, self._job.model_year)
        for side in self._sides:
            doubts = other_vehicles(self._job.identity.vin, side.context.captures, addresses=addresses)
            yield from map(SideDoubt, doubts)
        for one, other in product(*(side.captures for side in self._sides)):
            if one.is_same_recording(other):
                yield SameRecording(one.loaded.name, other.loaded.name)
        yield from self._network_notes()
        yield from self._coding.notes()
        yield from self._modules.notes()
        for use in self._sides[1].context.captures.uses:
            if use.network is None and not use.is_diagnostics_only:
                yield StrangeAfter(use)

    def _network_notes(self) -> Iterator[ProveNote]:
        for name in self._names:
            here = [bool(side.channels(name)) for side in self._sides]
            if here == [True, False]:
                yield NotAfter(name)
            elif here == [False, True]:
                yield NotBefore(name)
            elif all(here):
                if name not in self._buses:
                    yield WithoutTimes(name)
                else:
                    yield from self._messages[name].notes()
                    yield from self._buses[name].notes()


def verdict_of(
    changes: Sequence[VehicleChange],
    promised: Iterable[Promise],
    needs: Sequence[ProvenNeed],
    notes: Sequence[ProveNote],
) -> ProveVerdict:
    """The first verdict whose condition holds."""
    promised = tuple(promised)
    firm = [need for need in needs if not need.result.optional]
    if (
        any(not change.is_planned for change in changes)
        or any(promise.is_kept is False for promise in promised)
        or any(need.result.status is Status.MISSING or need.is_too_late for need in firm)
    ):
        return ProveVerdict.FAIL
    open_ = {Status.EXPECTED, Status.AFTER_CODING}
    if (
        any(promise.is_kept is None for promise in promised)
        or any(need.result.status in open_ for need in firm)
        or any(isinstance(note, NotAfter | SameRecording) for note in notes)
    ):
        return ProveVerdict.NOT_SHOWN
    return ProveVerdict.PASS_WITH_NOTES if notes else ProveVerdict.PASS
