"""Invented vehicles recorded before and after a fitting, seeded: nothing wrong, or one thing planted.

Each vehicle has its own messages, periods, counters, checksums and signals. Before and after differ as two
recordings of one vehicle do: other length, other phases, other moments, other values, engine on for another
time, keys pressed at other times.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from netcheck.bench import (
    ALWAYS,
    BitRates,
    Checksum,
    Cycle,
    Frame,
    InjectedFault,
    Scenario,
    candump_lines,
    simulate,
)
from netcheck.catalogue import load_job
from netcheck.database import Database, load_database
from netcheck.files import LoadedJob
from tests.prove.small import UNIT_AND_ROLES

BITRATE = 500_000
VIN_ID = 0x3C6
NEW_ID = 0x2F1  # what the fitted part sends, as its papers say
OLD_NAME = "Old"  # what it replaces
PERIODS = (10, 20, 20, 50, 50, 100, 100, 100, 200, 200, 500, 1000)
VINS = ("1M8GDM9AXKP042788", "1M8GDM9AXKP042791")
CRC = Checksum("crc", polynomial=0x1D, start=0xFF, final=0xFF)


@dataclass
class MadeMessage:
    """One message of an invented vehicle: its bytes hold values, then a counter and a checksum, if any."""

    name: str
    can_id: int
    length: int
    period: int
    has_counter: bool
    checksum: Checksum | None
    moving: bool  # its first value wanders all the time

    def dbc(self) -> str:
        """As the DBC has it. The last byte is the checksum, the one before it holds the counter."""
        lines = [f"BO_ {self.can_id} {self.name}: {self.length} UNIT"]
        room = self.length - (self.checksum is not None) - self.has_counter
        lines += [f' SG_ {self.name}Value{n} : {8 * n}|8@1+ (1,0) [0|255] "" UNIT' for n in range(room)]
        if self.has_counter:
            lines.append(f' SG_ {self.name}Counter : {8 * room}|4@1+ (1,0) [0|15] "" UNIT')
        if self.checksum is not None:
            lines.append(f' SG_ {self.name}Check : {8 * (self.length - 1)}|8@1+ (1,0) [0|255] "" UNIT')
        return "\n".join(lines)


@dataclass
class Recording:
    """One side of a pair: what is simulated, and frames and lines beside it."""

    scenario: Scenario
    seconds: float
    off: float  # when terminal 15 goes off
    asleep: float  # and when the network is silent then
    vin: str
    errors: int = 0
    noise: list[Frame] = field(default_factory=list)


class Pair:
    """An invented vehicle and its two recordings. Plants change ``after`` before it is written."""

    def __init__(self, seed: int) -> None:
        self.rng = random.Random(seed)
        self.seed = seed
        self.messages = list(self._messages())
        self.extra_ids = self.rng.sample(range(0x500, 0x5F0), 4)
        self.before = self._recording(VINS[0])
        self.after = self._recording(VINS[0])
        self.after_readout = "00 01 00 00"
        self.after_faults = ["B100011"] if self.rng.random() < 0.5 else []
        self.is_answering = True  # the module, after the fitting
        # what tells the vehicle's number: a message, an answer of the module, or a readout that the job names
        self.teller = random.Random(f"{seed} teller").choice(["message", "module", "readout"])
        self.after.scenario.never(OLD_NAME)

    def _messages(self) -> Iterator[MadeMessage]:
        rng = self.rng
        ids = rng.sample([i for i in range(0x080, 0x400) if i not in {VIN_ID, NEW_ID}], rng.randint(14, 26))
        for number, can_id in enumerate(sorted(ids)):
            checksum = rng.choice([None, None, CRC, Checksum("xor"), Checksum("sum")])
            yield MadeMessage(
                f"Message{number}",
                can_id,
                rng.choice([4, 6, 7, 8, 8, 8]),
                rng.choice(PERIODS),
                checksum is not None or rng.random() < 0.4,
                checksum,
                rng.random() < 0.5,
            )

    def _recording(self, vin: str) -> Recording:
        rng = self.rng
        seconds = rng.uniform(48.0, 66.0)
        off = seconds - rng.uniform(11.0, 13.0)
        made = Recording(Scenario(), seconds, off, off + rng.uniform(2.0, 3.0), vin)
        scenario = made.scenario
        for message in self.messages:
            if message.has_counter:
                scenario.counters.add((message.name, f"{message.name}Counter"))
            if message.checksum is not None:
                scenario.checksums[message.name, f"{message.name}Check"] = message.checksum
            key = (message.name, f"{message.name}Value0")
            scenario.starts[key] = 100
            if message.moving:
                scenario.noise[key] = 60.0
            else:
                for at in sorted(rng.uniform(1.0, seconds) for _ in range(rng.randint(0, 3))):
                    scenario.put(key, at, rng.randint(90, 110))
        scenario.put(("Terminal", "Terminal15"), 0.0, 1.0)
        scenario.put(("Terminal", "Terminal15"), off, 0.0)
        begin = rng.uniform(4.0, 8.0)
        scenario.put(("Terminal", "EngineOn"), begin, 1.0)
        scenario.put(("Terminal", "EngineOn"), begin + rng.uniform(18.0, 24.0), 0.0)
        scenario.counters.add(("Terminal", "TerminalCounter"))
        for _ in range(3):  # a lever that the part needs
            at = rng.uniform(1.0, off - 2.0)
            scenario.put(("Lever", "LeverReverse"), at, 1.0)
            scenario.put(("Lever", "LeverReverse"), at + rng.uniform(0.5, 1.5), 0.0)
        scenario.asleep.append((made.asleep, seconds - 0.7))  # then a door wakes it
        for can_id in self.extra_ids:  # keys: sent when pressed
            for _ in range(rng.randint(2, 9)):
                made.noise.append(_frame(rng.uniform(0.0, made.asleep), can_id, bytes([rng.randint(0, 255)])))
        return made

    def dbc(self) -> str:
        """The network's DBC."""
        own = [
            'BO_ 1 Terminal: 3 UNIT\n SG_ Terminal15 : 0|2@1+ (1,0) [0|3] "" UNIT\n'
            ' SG_ EngineOn : 2|2@1+ (1,0) [0|3] "" UNIT\n SG_ TerminalCounter : 8|4@1+ (1,0) [0|15] "" UNIT',
            'BO_ 2 Lever: 2 UNIT\n SG_ LeverReverse : 0|2@1+ (1,0) [0|3] "" UNIT',
            f'BO_ 3 {OLD_NAME}: 2 UNIT\n SG_ OldValue : 0|8@1+ (1,0) [0|255] "" UNIT',
        ]
        cycles = {1: 100, 2: 50, 3: 100} | {message.can_id: message.period for message in self.messages}
        lines = [
            'VERSION ""',
            "BU_: UNIT",
            *own,
            *(message.dbc() for message in self.messages),
            'BA_DEF_ BO_ "GenMsgCycleTime" INT 0 10000;',
            'BA_DEF_DEF_ "GenMsgCycleTime" 0;',
            *(f'BA_ "GenMsgCycleTime" BO_ {can_id} {period};' for can_id, period in cycles.items()),
        ]
        return "\n".join(lines) + "\n"

    def write(self, folder: Path) -> LoadedJob:
        """The job with both recordings, in a folder."""
        (folder / "van.dbc").write_text(self.dbc(), encoding="utf-8")
        (folder / "van.vehicle.toml").write_text(VEHICLE, encoding="utf-8")
        (folder / "part.retrofit.toml").write_text(RETROFIT, encoding="utf-8")
        (folder / "van.job.toml").write_text(self._job(), encoding="utf-8")
        database = load_database(folder / "van.dbc", cache=False)
        self.after.noise += _every(0.1, NEW_ID, bytes(6), self.after.asleep, 0.031)
        for number, made in enumerate((self.before, self.after)):
            name = ("before.log", "after.log")[number]
            (folder / name).write_text(self._log(made, database, f"{self.seed} {number}"), encoding="ascii")
        return load_job(folder / "van.job.toml")

    def _job(self) -> str:
        faults = ", ".join(f'"{code}"' for code in self.after_faults)
        told = [("before", self.before.vin), ("after", self.after.vin)] if self.teller == "readout" else []
        numbers = "".join(NUMBER.replace("WHEN", when).replace("VIN", vin) for when, vin in told)
        return JOB.replace("AFTER", self.after_readout).replace("FAULTS", faults) + numbers

    def _log(self, made: Recording, database: Database, seed: str) -> str:
        for page in range(3) if self.teller == "message" else ():
            part = bytes([page]) + made.vin[7 * page : 7 * page + 7].encode().ljust(7, b"\0")
            made.noise += _every(0.6, VIN_ID, part, made.asleep, 0.2 * page)
        if self.teller == "module" and (made is self.before or self.is_answering):
            answer = bytes.fromhex("1014 62F190") + made.vin[:3].encode()
            rest = (bytes([0x21 + n]) + made.vin[3 + 7 * n : 10 + 7 * n].encode() for n in range(2))
            asked = [(0x7E0, bytes.fromhex("0322F19055555555")), (0x7E8, answer)]
            talk = [*asked, (0x7E0, bytes.fromhex("3000005555555555")), *((0x7E8, part) for part in rest)]
            made.noise += [_frame(3.0 + 0.02 * n, *frame) for n, frame in enumerate(talk)]
        for number in range(3):  # a tester reads the part number
            at = 5.0 + 1.7 * number
            made.noise.append(_frame(at, 0x7E0, bytes.fromhex("0322F18755555555")))
            if made is self.before or self.is_answering:
                made.noise.append(_frame(at + 0.02, 0x7E8, bytes.fromhex("0662F187414243")))
        made.scenario.extra += made.noise
        frames = simulate(database, made.scenario, made.seconds, seed, "can0", BitRates(BITRATE))
        lines = list(candump_lines(frames))
        rng = random.Random(seed)
        for place in sorted(rng.sample(range(len(lines)), made.errors), reverse=True):
            stamp = lines[place].split()[0]
            lines.insert(place, f"{stamp} can0 20000080#0000000000000000\n")
        return "".join(lines)

    # -- what the plants take

    def choose(self, wanted: Callable[[MadeMessage], bool] = lambda _: True) -> MadeMessage:
        """One of the vehicle's messages of a kind; it gets what it lacks where none has it."""
        return self.rng.choice([message for message in self.messages if wanted(message)])

    def has(self, wanted: Callable[[MadeMessage], bool]) -> bool:
        """Whether the vehicle has such a message."""
        return any(map(wanted, self.messages))


def _frame(at: float, can_id: int, data: bytes) -> Frame:
    return Frame(round(at * 1e6), "", can_id, False, data)


def _every(period: float, can_id: int, data: bytes, until: float, first: float) -> Iterator[Frame]:
    for number in range(int((until - first) / period)):
        yield _frame(first + number * period, can_id, data)


def _fault(kind: str, share: float = 1.0, **more: object) -> InjectedFault:
    return InjectedFault(kind, ALWAYS, share, **more)  # type: ignore[arg-type]


# ---- what is planted, by the kind of change that must be found; each returns the message's name, or ""


def other_vehicle(pair: Pair) -> str:
    """Another vehicle of the model, told by its number."""
    pair.after.vin = VINS[1]
    return ""


def message_gone(pair: Pair) -> str:
    message = pair.choose()
    pair.after.scenario.never(message.name)
    return message.name


def message_new(pair: Pair) -> str:
    period = pair.rng.choice([0.02, 0.1, 0.5, 1.0])
    can_id = pair.rng.randrange(0x400, 0x4F0)
    pair.after.noise += _every(period, can_id, bytes(8), pair.after.asleep, 0.011)
    return f"0x{can_id:03X}"


def length_changed(pair: Pair) -> str:
    message = pair.choose()
    share = pair.rng.choice([0.1, 1.0])
    fault = _fault("wrong-length", share, length=pair.rng.randint(1, message.length - 1))
    pair.after.scenario.faults.setdefault(message.name, []).append(fault)
    return message.name


def period_changed(pair: Pair) -> str:
    message = pair.choose(lambda message: message.period >= 20)
    factor = pair.rng.choice([0.5, 0.8, 1.25, 1.5, 2.0])
    pair.after.scenario.cycles[message.name] = Cycle(message.period * factor)
    return message.name


def counter_failing(pair: Pair) -> str:
    message = pair.choose(NEEDED["counter-failing"])
    kind, share = pair.rng.choice([("frozen-counter", 1.0), ("lost-frames", 0.08), ("second-sender", 1.0)])
    pair.after.scenario.faults.setdefault(message.name, []).append(_fault(kind, share))
    return message.name


def checksum_failing(pair: Pair) -> str:
    message = pair.choose(NEEDED["checksum-failing"])
    key = (message.name, f"{message.name}Check")
    pair.after.scenario.checksums[key] = Checksum("crc", polynomial=0x2F, start=pair.rng.randint(0, 255))
    return message.name


def load_higher(pair: Pair) -> str:
    """A tester that goes on asking: ids of diagnostics are never new messages."""
    pair.after.noise += _every(0.004, 0x7E0, bytes(8), pair.after.asleep, 0.001)
    return ""


def error_frames(pair: Pair) -> str:
    pair.after.errors = pair.rng.randint(4, 40)
    return ""


def sleep_later(pair: Pair) -> str:
    made = pair.after
    made.asleep = pair.rng.choice([made.seconds, made.off + 7.5])
    made.scenario.asleep[:] = [(made.asleep, max(made.asleep, made.seconds - 0.7))]
    return ""


def coding_changed(pair: Pair) -> str:
    pair.after_readout = pair.rng.choice(["00 01 00 08", "04 01 00 00"])
    return ""


def fault_new(pair: Pair) -> str:
    pair.after_faults.append(pair.rng.choice(["U012187/2F", "C003104/08", "P0571"]))
    return ""


def module_silent(pair: Pair) -> str:
    pair.is_answering = False
    return ""


def signal_stuck(pair: Pair) -> str:
    message = pair.choose(NEEDED["signal-stuck"])
    fault = _fault("stuck-signal", signals=frozenset({f"{message.name}Value0"}))
    pair.after.scenario.faults.setdefault(message.name, []).append(fault)
    return message.name


PLANTS: Mapping[str, Callable[[Pair], str]] = {
    "other-vehicle": other_vehicle,
    "message-gone": message_gone,
    "message-new": message_new,
    "length-changed": length_changed,
    "period-changed": period_changed,
    "counter-failing": counter_failing,
    "checksum-failing": checksum_failing,
    "load-higher": load_higher,
    "error-frames": error_frames,
    "sleep-later": sleep_later,
    "coding-changed": coding_changed,
    "fault-new": fault_new,
    "module-silent": module_silent,
    "signal-stuck": signal_stuck,
}
NEEDED: Mapping[str, Callable[[MadeMessage], bool]] = {
    # a sum over a counter alone might be a copy of it
    "checksum-failing": lambda message: (
        message.checksum is not None and message.moving and message.period <= 200
    ),
    "counter-failing": lambda message: message.has_counter and message.period <= 200,
    "signal-stuck": lambda message: message.moving and message.period <= 500,
}

VEHICLE = f"""kind = "vehicle"
format = 1
name = "Dunlin 1"
model_years = [2020, 2020]
[network.body]
bitrate = {BITRATE}
dbc = "van.dbc"
"""
VEHICLE += UNIT_AND_ROLES
RETROFIT = f"""kind = "retrofit"
format = 1
name = "part"
[[need]]
role = "reverse-engaged"
[[supply]]
message_id = {NEW_ID}
period_ms = 100
length = 6
[[replace]]
role = "old-source"
[[code]]
module = "unit"
field = "part"
value = "fitted"
"""
JOB = """kind = "job"
format = 1
vehicle = "van.vehicle.toml"
model_year = 2020
[[item]]
retrofit = "part.retrofit.toml"
network = "body"
[[capture]]
file = "before.log"
[[capture]]
file = "after.log"
when = "after"
[[readout]]
module = "unit"
did = 0x2210
data = "00 00 00 00"
[[readout]]
module = "unit"
did = 0x2210
data = "AFTER"
when = "after"
[[readout]]
module = "unit"
faults = ["B100011"]
[[readout]]
module = "unit"
faults = [FAULTS]
when = "after"
"""
NUMBER = """[[readout]]
module = "unit"
identification = { 0xF190 = "VIN" }
when = "WHEN"
"""
