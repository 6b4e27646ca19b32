"""A vehicle and a script put on the bench."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from os import PathLike
from pathlib import Path

from netcheck.bench._faults import ScriptTargets, apply_checksums, apply_cycles, apply_faults
from netcheck.bench._frame import BitRates, Frame, due, merge
from netcheck.bench._module import ModuleSetting
from netcheck.bench._module_setup import module_settings
from netcheck.bench._remarks import BenchRemark, count_by_names, is_sent, remarks_on
from netcheck.bench._scenario import Scenario
from netcheck.bench._settings import apply_settings, marks_of
from netcheck.bench._simulate import simulate
from netcheck.bench._states import resting_raw, start_values
from netcheck.database import Database, DbcRepair, Message
from netcheck.errors import UsageError
from netcheck.files import (
    LoadedVehicle,
    Mark,
    Problem,
    Script,
    load_script,
    load_vehicle,
    one_of,
    present_modules,
    problem_error,
    year_problem,
)
from netcheck.records import dataclass
from netcheck.roles import Watch, load_networks, roles_of


@dataclass(frozen=True)
class BenchNetwork:
    """A network of the vehicle, ready to be simulated. channel: what its frames carry in a log."""

    name: str
    channel: str
    database: Database
    scenario: Scenario
    rates: BitRates


@dataclass(frozen=True)
class BenchOverload:
    """A network on which more is to be sent than its bit rate allows. load: a share of the bit rate."""

    network: str
    load: float
    bitrate: int


@dataclass(frozen=True)
class Bench:
    """A vehicle that is ready to play a script.

    marks:     what the script does, in seconds from its start
    warnings:  those of the DBC files, as texts
    overloads: networks on which frames will pile up
    remarks:   what was assumed, and what is not known
    left_out:  messages that something else on the bus sends, by network
    modules:   those that answer diagnostic requests; on a bus only, as in a log nobody asks
    repairs:   what was put right in the DBC files
    """

    vehicle: str
    year: int
    networks: tuple[BenchNetwork, ...]
    marks: tuple[Mark, ...]
    seconds: float
    seed: int
    warnings: tuple[str, ...]
    overloads: tuple[BenchOverload, ...] = ()
    remarks: tuple[BenchRemark, ...] = ()
    left_out: tuple[tuple[str, tuple[str, ...]], ...] = ()
    modules: tuple[ModuleSetting, ...] = ()
    repairs: tuple[DbcRepair, ...] = ()

    def frames(self) -> Iterator[Frame]:
        """The traffic of all networks in the order of time; the same every time."""
        return merge(
            *(
                simulate(
                    network.database,
                    network.scenario,
                    self.seconds,
                    f"{self.seed} {network.name}",
                    network.channel,
                    network.rates,
                )
                for network in self.networks
            )
        )


def load_bench(
    vehicle: str | PathLike[str],
    script: str | PathLike[str],
    *,
    year: int | None = None,
    networks: Sequence[str] = (),
    without: Sequence[str] = (),
) -> Bench:
    """A vehicle file and a script file put on the bench; see ``set_up``.

    year:     model year; the last of the vehicle file's span if not given
    networks: names; all if none is given
    without:  what else on the bus sends: nodes of the DBC files, modules of the vehicle file, or ids (0x123)
    Raises InputError for a file that cannot be used, UsageError for an unknown network, node or id, or a
    wrong year.
    """
    loaded, file = load_vehicle(vehicle), Path(script)
    return set_up(loaded, load_script(script), file, year=year, networks=networks, without=without)


def set_up(
    vehicle: LoadedVehicle,
    script: Script,
    file: Path,
    *,
    year: int | None = None,
    networks: Sequence[str] = (),
    without: Sequence[str] = (),
) -> Bench:
    """A vehicle and a script put on the bench.

    Every message of the chosen networks is sent, but for those of modules that the model year does not have
    and those that ``without`` leaves out; what the script says of other networks is checked all the same.
    Roles stand at rest until the script sets them. Counters that the vehicle file names go on, and those that
    only their names tell. Checksums that the script knows are valid.

    file: the script's, for messages
    Raises InputError and UsageError as ``load_bench``.
    """
    year = _year(vehicle, year)
    unknown = next((name for name in networks if name not in vehicle.model.network), None)
    if unknown is not None:
        remedy = one_of(unknown, vehicle.model.network)
        raise UsageError(f"--network: {vehicle.file} has no network '{unknown}'", remedy=remedy)
    databases = load_networks(vehicle)
    roles = {
        role: tuple(entry.played_by for entry in entries if entry.played_by is not None)
        for role, entries in roles_of(vehicle, year, databases).items()
    }
    playing = tuple(played for several in roles.values() for played in several)
    scenarios = _scenarios(vehicle, year, databases, playing)
    chosen = [name for name in databases if not networks or name in networks]
    left_out = _left_out(vehicle, {name: databases[name] for name in chosen}, without)
    for name, messages in left_out.items():
        scenarios[name].never(*messages)
    by_name = {
        name: tuple(count_by_names(databases[name], scenario, playing))
        for name, scenario in scenarios.items()
    }
    targets = ScriptTargets(databases, playing, scenarios)
    try:
        uncycled = apply_cycles(script, targets)
        apply_checksums(script, targets)
        apply_settings(script, roles, scenarios)
        apply_faults(script, targets)
        modules = tuple(module_settings(script, vehicle, year))
    except Problem as problem:
        raise problem_error(file, problem) from None
    staged = tuple(
        BenchNetwork(name, f"can{number}", databases[name], scenarios[name], _rates(vehicle, name))
        for number, name in enumerate(chosen)
    )
    seen = {played.role for played in playing if played.network in chosen}
    return Bench(
        vehicle=vehicle.model.name,
        year=year,
        networks=staged,
        marks=tuple(mark for mark in marks_of(script, roles) if mark.role in seen),
        seconds=script.seconds,
        seed=script.seed,
        warnings=tuple(text for network in staged for text in network.database.warnings),
        overloads=tuple(found for network in staged for found in _overload(network)),
        remarks=tuple(
            remark
            for network in staged
            for remark in remarks_on(
                network.name,
                network.database,
                network.scenario,
                uncycled[network.name],
                by_name[network.name],
            )
        ),
        left_out=tuple((name, messages) for name, messages in left_out.items() if messages),
        modules=modules,
        repairs=tuple(repair for network in staged for repair in network.database.repairs),
    )


def _remarks(
    network: BenchNetwork, uncycled: Mapping[str, frozenset[str]], by_name: Mapping[str, tuple[str, ...]]
) -> Iterator[BenchRemark]:
    """What is worth saying of a network; arguments as ``remarks_on`` has them, by network."""
    name = network.name
    return remarks_on(name, network.database, network.scenario, uncycled[name], by_name[name])


def _scenarios(
    vehicle: LoadedVehicle, year: int, databases: Mapping[str, Database], playing: Sequence[Watch]
) -> dict[str, Scenario]:
    """Every network at rest: start values, counters that the vehicle file names, and who is not there."""
    scenarios = {name: Scenario() for name in databases}
    for name, scenario in scenarios.items():
        own = [played for played in playing if played.network == name]
        _rest(databases[name], scenario)
        scenario.starts.update(start_values(own))
        scenario.counters.update((c.message.name, c.counter.name) for c in own if c.counter is not None)
        scenario.never(*_of_absent_modules(vehicle, year, databases[name]))
    return scenarios


def _left_out(
    vehicle: LoadedVehicle, databases: Mapping[str, Database], without: Sequence[str]
) -> dict[str, tuple[str, ...]]:
    """By network, the messages of nodes, modules or ids. Raises UsageError for one that has none there."""
    found: dict[str, dict[str, None]] = {name: {} for name in databases}
    for word in without:
        chosen = [
            (name, message.name)
            for name, database in databases.items()
            for message in database.messages
            if _is_of(vehicle, message, word)
        ]
        if not chosen:
            nodes = {node for database in databases.values() for m in database.messages for node in m.senders}
            where = " and ".join(databases)
            raise UsageError(
                f"--without: nothing on {where} is sent by '{word}'", remedy=one_of(word, sorted(nodes))
            )
        for name, message in chosen:
            found[name][message] = None
    return {name: tuple(messages) for name, messages in found.items()}


def _is_of(vehicle: LoadedVehicle, message: Message, word: str) -> bool:
    """Whether a node, a module or an id is that of a message."""
    module = vehicle.model.module.get(word)
    if word in message.senders or (module is not None and module.node in message.senders):
        return True
    try:
        return message.can_id == int(word, 0)
    except ValueError:
        return False


def _year(vehicle: LoadedVehicle, year: int | None) -> int:
    if year is None:
        return vehicle.model.model_years[1]
    problem = year_problem(vehicle.model, year, ())
    if problem is not None:
        raise UsageError(f"--year: {problem.what} ({vehicle.file})", remedy=problem.remedy)
    return year


def _rates(vehicle: LoadedVehicle, network: str) -> BitRates:
    entry = vehicle.model.network[network]
    return BitRates(entry.bitrate, entry.fd_bitrate)


def _rest(database: Database, scenario: Scenario) -> None:
    for message in database.messages:
        for signal in message.signals:
            scenario.starts[message.name, signal.name] = resting_raw(signal)


def _of_absent_modules(vehicle: LoadedVehicle, year: int, database: Database) -> Iterator[str]:
    """Messages that only modules send which this model year does not have."""
    present = present_modules(vehicle.model, year)
    absent = {module.node for name, module in vehicle.model.module.items() if name not in present}
    absent -= {module.node for module in present.values()}
    for message in database.messages:
        if message.senders and absent.issuperset(message.senders):
            yield message.name


def _overload(network: BenchNetwork) -> Iterator[BenchOverload]:
    load = 0.0
    for message in network.database.messages:
        cycle = network.scenario.cycles.get(message.name)
        period_ms = cycle.period_ms if cycle is not None else message.cycle_time_ms
        if period_ms and is_sent(message, network.scenario):
            frame = Frame(0, "", message.can_id, message.is_extended, bytes(message.length), message.is_fd)
            load += due(frame, network.rates).wire_us / 1000 / period_ms
    if load >= 1:
        yield BenchOverload(network.name, load, network.rates.bitrate)
