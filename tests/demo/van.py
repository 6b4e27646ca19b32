"""A Skerry 240 while it is being recorded: what is done to the van reaches all its networks.

Roles are looked up in the vehicle file, by the year, so that one call moves the gear lever on the drive
network, its copies on the other two, and the reversing lamps.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import cantools
from cantools.database.can import Database

from netcheck.bench import BitRates, Frame, Scenario, Span, simulate
from netcheck.database import Database as Layouts
from netcheck.database import load_database
from tests.demo.effects import ALONG, NOISE, OPTIONAL, SPEEDS, YEARS
from tests.demo.strangers import read_block
from tests.simulated import scenario_of

DBC = Path(__file__).parents[2] / "dbc"
VEHICLE = DBC / "skerry_240.vehicle.toml"


@dataclass(frozen=True)
class MarkLine:
    """A mark as the technician wrote it down."""

    role: str
    begin: float
    end: float
    state: str = "active"
    between: Span | None = None


@cache
def vehicle() -> dict[str, Any]:
    """The vehicle file as tables."""
    return tomllib.loads(VEHICLE.read_text("utf-8"))


@cache
def database(network: str) -> Database:
    """A network's DBC."""
    loaded = cantools.database.load_file(DBC / vehicle()["network"][network]["dbc"], strict=True)
    assert isinstance(loaded, Database)
    return loaded


@cache
def layouts(network: str) -> Layouts:
    """The same as netcheck reads it."""
    return load_database(DBC / vehicle()["network"][network]["dbc"])


def _entries(role: str) -> list[dict[str, Any]]:
    table: Any = vehicle()["role"]
    for part in role.split("."):
        table = table[part]
    assert isinstance(table, list)
    return table


@dataclass
class Van:
    """A van of a model year, parked with the ignition on, the engine off and the hand brake pulled.

    options: what it has of OPTIONAL, such as ``"wheel-buttons"``
    """

    year: int
    options: tuple[str, ...] = ()
    scenarios: dict[str, Scenario] = field(default_factory=dict)
    marks: list[MarkLine] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.scenarios = {network: scenario_of(layouts(network)) for network in vehicle()["network"]}
        for option, messages in OPTIONAL.items():
            if option not in self.options:
                for network, message in messages:
                    self.scenarios[network].never(message)
        for network, message, first, last in YEARS:
            if not first <= self.year <= last:
                self.scenarios[network].never(message)
        for (network, message, signal), amplitude in NOISE.items():
            self.scenarios[network].noise[message, signal] = amplitude
        self.put("comfort", "VanIdentity", "IdentityYear", 0.0, self.year)
        self.turn("engine-running", 0.0, on=False)
        self._ignition_time(0.0, 40.0)

    def turn(self, role: str, at: float, *, on: bool) -> None:
        """Put a role with active states into the active one, or the one with raw value 0."""
        for entry in self._mapped(role):
            message, signal = entry["message"], entry["signal"]
            layout = database(entry["network"]).get_message_by_name(message).get_signal_by_name(signal)
            assert layout.choices is not None
            value = entry["active"][0] if on else str(layout.choices[0])
            self.scenarios[entry["network"]].put((message, signal), at, value)
        for network, message, signal, active, inactive in ALONG.get(role, ()):
            self.scenarios[network].put((message, signal), at, active if on else inactive)
        if role == "terminal-15":
            self._ignition_time(at, 0.0 if on else None)

    def set(self, role: str, at: float, value: float, ramp: float = 0.0) -> None:
        """Take a role with numbers to a value within ``ramp`` seconds."""
        for entry in self._mapped(role):
            self.scenarios[entry["network"]].put((entry["message"], entry["signal"]), at, value, ramp)
        if role == "vehicle-speed":
            for network, message, signal, factor in SPEEDS:
                self.scenarios[network].put((message, signal), at, value * factor, ramp)

    def hold(self, role: str, begin: float, end: float, *, mark: bool = True) -> None:
        """Hold a role active; the hand is a little later than the note of the mark."""
        self.turn(role, begin + 0.12, on=True)
        self.turn(role, end + 0.22, on=False)
        if mark:
            self.mark(role, begin, end)

    def mark(self, role: str, begin: float, end: float, state: str = "active") -> None:
        """Note that the role was in a state."""
        self.marks.append(MarkLine(role, begin, end, state))

    def mark_between(self, role: str, begin: float, end: float, low: float, high: float) -> None:
        """Note that the role was inside a range."""
        self.marks.append(MarkLine(role, begin, end, between=(low, high)))

    def run_engine(self, begin: float, end: float, *, mark: bool = True) -> None:
        """Crank for less than a second, idle, stop; the mark begins when it fires."""
        for network, message, signal in (
            ("drive", "EngineSpeed", "EngineState"),
            ("comfort", "EngineCopy", "EngineRun"),
        ):
            self.scenarios[network].put((message, signal), begin, "cranking")
        self.set("engine-speed", begin, 240.0, 0.3)
        fires = round(begin + 0.8, 1)
        self.turn("engine-running", fires, on=True)
        self.set("engine-speed", fires, 1050.0, 0.4)
        self.set("engine-speed", fires + 0.8, 800.0, 1.5)
        self.turn("engine-running", end + 0.2, on=False)
        self.set("engine-speed", end + 0.2, 0.0, 0.9)
        self.put("comfort", "EngineCopy", "EngineCoolant", fires, 76.0, end - fires)
        self.put("drive", "EngineTemperatures", "CoolantTemperature", fires, 76.0, end - fires)
        if mark:
            self.mark("engine-running", fires, end)

    def ignition_off(self, begin: float, end: float) -> None:
        """Ignition off for a while; the key stays in the lock."""
        self.turn("terminal-15", begin, on=False)
        self.turn("terminal-15", end, on=True)

    def creep(self, begin: float, end: float, speed: float) -> None:
        """Hand brake off, a stretch at a walking pace or a little more, hand brake on."""
        self.turn("park-brake", begin, on=False)
        self.standstill(begin + 1.0, standing=False)
        self.set("vehicle-speed", begin + 1.0, speed, 2.5)
        self.set("engine-speed", begin + 1.0, 1350.0, 2.0)
        self.set("vehicle-speed", end - 3.5, 0.0, 2.5)
        self.set("engine-speed", end - 3.5, 800.0, 2.0)
        self.standstill(end - 1.0, standing=True)
        metres = speed / 3.6 * (end - begin - 4.5)
        self.put("comfort", "TravelCopy", "TravelPulses", begin + 1.0, round(25 * metres), end - begin - 2.0)
        self.put(
            "drive", "RecorderSpeed", "RecorderPulses", begin + 1.0, round(25 * metres), end - begin - 2.0
        )
        self.turn("park-brake", end, on=True)

    def standstill(self, at: float, *, standing: bool) -> None:
        """Say on every network whether the van stands."""
        state = "on" if standing else "off"
        self.scenarios["drive"].put(("RoadSpeed", "RoadStandstill"), at, state)
        self.scenarios["drive"].put(("RoadSpeed", "RoadDirection"), at, "standing" if standing else "forward")
        self.scenarios["comfort"].put(("TravelCopy", "TravelStandstill"), at, state)

    def put(
        self, network: str, message: str, signal: str, at: float, value: float | str, ramp: float = 0.0
    ) -> None:
        """Any other signal."""
        self.scenarios[network].put((message, signal), at, value, ramp)

    def number(self, vin: str) -> None:
        """What its gateway sends as the vehicle number, in pages of seven characters; else the DBC's own."""
        for place, name in enumerate(("IdentityOne", "IdentityTwo", "IdentityThree")):
            letters = vin[7 * place : 7 * place + 7].encode("ascii")
            self.scenarios["comfort"].starts["VanIdentity", name] = int.from_bytes(letters, "big")

    def read_out(self, module: str, did: int, data: str, at: float) -> None:
        """A tester reads a coding block on the module's network."""
        entry = vehicle()["module"][module]
        frames = read_block(entry["request_id"], entry["response_id"], did, bytes.fromhex(data), at)
        self.scenarios[entry["network"]].extra += frames

    def asleep(self, network: str, begin: float, end: float) -> None:
        """Nothing is sent on a network."""
        self.scenarios[network].asleep.append((begin, end))

    def frames(self, network: str, seconds: float, seed: int, channel: str = "can0") -> list[Frame]:
        """The traffic of one network."""
        if network == "comfort":
            self._clock(seconds)
        rates = BitRates(vehicle()["network"][network]["bitrate"])
        return list(simulate(layouts(network), self.scenarios[network], seconds, seed, channel, rates))

    def _mapped(self, role: str) -> Iterator[dict[str, Any]]:
        for entry in _entries(role):
            first, last = entry.get("years", (self.year, self.year))
            if first <= self.year <= last:
                yield entry

    def _ignition_time(self, at: float, seconds: float | None) -> None:
        self.put("comfort", "KeyState", "KeyRunTime", at, seconds or 0.0)
        if seconds is not None:
            self.put("comfort", "KeyState", "KeyRunTime", at, seconds + 3600.0, 3600.0)

    def _clock(self, seconds: float) -> None:
        for second in range(int(seconds)):
            self.scenarios["comfort"].put(("ClusterClock", "ClockSecond"), float(second), second % 60)
            self.scenarios["comfort"].put(("ClusterClock", "ClockMinute"), float(second), 42 + second // 60)


def marks_file(marks: Iterable[MarkLine], comments: Iterable[str]) -> str:
    """A marks file to stand beside a capture."""
    lines = [f"# {comment}" for comment in comments] + ['kind = "marks"', "format = 1"]
    for mark in sorted(marks, key=lambda mark: (mark.begin, mark.role)):
        lines += ["", "[[mark]]", f'role = "{mark.role}"']
        if mark.between:
            lines.append(f"between = [{mark.between[0]}, {mark.between[1]}]")
        else:
            lines.append(f'state = "{mark.state}"')
        lines += [f"from = {mark.begin}", f"to = {mark.end}"]
    return "\n".join(lines) + "\n"
