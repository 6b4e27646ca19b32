"""A small invented vehicle, recorded before and after a fitting by hand: all of its traffic is said here."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import reduce
from operator import xor
from pathlib import Path

from netcheck.catalogue import load_job
from netcheck.files import LoadedJob
from netcheck.prove import Proof, prove
from tests.network.logs import ERROR_FLAG, Line, text_of

VIN = "1M8GDM9AXKP042788"
OTHER_VIN = "1M8GDM9AXKP042791"
SECONDS = 40.0


@dataclass(frozen=True)
class Sent:
    """A message by the clock. data: payload of frame number n, sent at t seconds."""

    can_id: int
    period_ms: float
    data: Callable[[int, float], bytes]
    begin: float = 0.0
    end: float = SECONDS
    channel: str = "can0"

    def lines(self) -> Iterable[Line]:
        number, at = 0, self.begin + 0.0007 * (self.can_id % 13)
        while at < self.end:
            yield Line(1000 * at, self.can_id, self.data(number, at), self.channel)
            number += 1
            at += self.period_ms / 1000


def checked(payload: bytes) -> bytes:
    """The payload with the exclusive-or of its bytes behind it."""
    return payload + bytes([reduce(xor, payload, 0)])


def status(number: int, at: float) -> bytes:
    """A value that wanders, three that stand, a counter in the lower half of byte 4, a checksum in byte 5."""
    return checked(bytes([(37 * number) % 90, 7, number // 3 % 5, 9, number % 16]))


def terminal(off: float = 1e9, engine: tuple[float, float] = (0.0, 0.0)) -> Callable[[int, float], bytes]:
    """Terminal 15 on until ``off``; the engine runs for a while."""
    return lambda _, at: bytes([(at < off) | (engine[0] <= at < engine[1]) << 1])


def lever(*held: tuple[float, float]) -> Callable[[int, float], bytes]:
    """Reverse while one of these times lasts."""
    return lambda _, at: bytes([any(begin <= at < end for begin, end in held), 0])


def fixed(data: bytes) -> Callable[[int, float], bytes]:
    """The same payload all the time."""
    return lambda _number, _at: data


def vin_pages(vin: str) -> Sent:
    """A vehicle number in three pages of seven characters, as gateways send it."""
    pages = [bytes([page]) + vin[7 * page : 7 * page + 7].encode().ljust(7, b"\0") for page in range(3)]
    return Sent(0x3C6, 200, lambda number, _: pages[number % 3])


USUAL = {
    "Terminal": Sent(0x101, 100, terminal()),
    "Status": Sent(0x102, 50, status),
    "Lever": Sent(0x103, 50, lever((10.0, 14.0), (20.0, 24.0))),
    "Old": Sent(0x104, 100, fixed(b"\x05")),
    "Slow": Sent(0x105, 1000, fixed(b"\x01\x02\x03\x04")),
    "Plain": Sent(0x106, 20, fixed(b"\x11\x22")),
    "Vin": vin_pages(VIN),
}
NEW = Sent(0x2F1, 100, fixed(bytes(6)))  # what the fitted part sends
Traffic = dict[str, Sent]


def changed(traffic: Traffic, name: str, **values: object) -> Traffic:
    """The traffic with one message sent otherwise."""
    return traffic | {name: replace(traffic[name], **values)}  # type: ignore[arg-type]


def without(traffic: Traffic, *names: str) -> Traffic:
    """The traffic without some messages."""
    return {name: sent for name, sent in traffic.items() if name not in names}


def log_of(traffic: Traffic, more: Iterable[Line] = ()) -> str:
    """All of it as a log, in order of time."""
    lines = [line for sent in traffic.values() for line in sent.lines()]
    return text_of(sorted([*lines, *more], key=lambda line: line.ms))


def errors(count: int) -> list[Line]:
    """Error frames, spread over the log."""
    return [Line(1000.0 + 700 * n, ERROR_FLAG | 0x80, bytes(8)) for n in range(count)]


@dataclass
class SmallJob:
    """A folder with a job: before, after, and what the part and the job say."""

    folder: Path
    before: str = ""
    after: str = ""
    retrofit: str = ""
    item: str = ""
    captures: str = ""
    readouts: str = ""
    identity: str = ""
    vehicle: str = ""
    is_later: bool = True  # the second recording is from the next day

    def load(self) -> LoadedJob:
        folder = self.folder
        (folder / "van.dbc").write_text(DBC, encoding="utf-8")
        (folder / "van.vehicle.toml").write_text(VEHICLE + self.vehicle, encoding="utf-8")
        (folder / "part.retrofit.toml").write_text(RETROFIT + self.retrofit, encoding="utf-8")
        captures = ""
        for when, text in (("before", self.before), ("after", self.after)):
            if text:
                begin = "(16001" if when == "after" and self.is_later else "(16000"
                (folder / f"{when}.log").write_text(text.replace("(16000", begin), encoding="ascii")
                captures += f'[[capture]]\nfile = "{when}.log"\nwhen = "{when}"\n'
        job = JOB.format(item=self.item, identity=self.identity) + captures + self.captures + self.readouts
        (folder / "van.job.toml").write_text(job, encoding="utf-8")
        return load_job(folder / "van.job.toml")

    def proof(self) -> Proof:
        return prove(self.load())


def pair(folder: Path, before: Traffic, after: Traffic, more: Iterable[Line] = (), **job: str) -> Proof:
    """Two recordings compared; ``more``: lines of the second."""
    return SmallJob(folder, log_of(before), log_of(after, more), **job).proof()


def kinds(proof: Proof, *, planned: bool = False) -> list[str]:
    """Kinds of the changes that were planned, or were not."""
    return [change.kind.value for change in proof.changes if change.is_planned is planned]


def note_kinds(proof: Proof) -> list[str]:
    """Names of the notes."""
    return [type(note).__name__ for note in proof.notes]


DBC = """VERSION ""
BU_: GATE SWITCH
BO_ 257 Terminal: 1 GATE
 SG_ Terminal15 : 0|1@1+ (1,0) [0|1] "" SWITCH
 SG_ EngineOn : 1|1@1+ (1,0) [0|1] "" SWITCH
BO_ 258 Status: 6 GATE
 SG_ StatusValue : 0|8@1+ (1,0) [0|255] "" SWITCH
 SG_ StatusStep : 16|8@1+ (1,0) [0|255] "" SWITCH
 SG_ StatusCounter : 32|4@1+ (1,0) [0|15] "" SWITCH
 SG_ StatusCheck : 40|8@1+ (1,0) [0|255] "" SWITCH
BO_ 259 Lever: 2 GATE
 SG_ LeverReverse : 0|1@1+ (1,0) [0|1] "" SWITCH
BO_ 260 Old: 1 SWITCH
 SG_ OldValue : 0|8@1+ (1,0) [0|255] "" GATE
BO_ 261 Slow: 4 GATE
 SG_ SlowValue : 0|8@1+ (1,0) [0|255] "" SWITCH
BO_ 262 Plain: 2 SWITCH
 SG_ PlainValue : 0|8@1+ (1,0) [0|255] "" GATE
BO_ 753 Part: 6 GATE
 SG_ PartActive : 0|1@1+ (1,0) [0|1] "" SWITCH
BA_DEF_ BO_ "GenMsgCycleTime" INT 0 10000;
BA_DEF_DEF_ "GenMsgCycleTime" 0;
BA_ "GenMsgCycleTime" BO_ 257 100;
BA_ "GenMsgCycleTime" BO_ 259 50;
"""
UNIT_AND_ROLES = """[module.unit]
network = "body"
request_id = 0x7E0
response_id = 0x7E8
[module.unit.coding.0x2210]
length = 4
[module.unit.coding.0x2210.field]
part = { byte = 1, width = 1, values = { 0 = "absent", 1 = "fitted" } }
menu = { byte = 0, bit = 2, width = 1, values = { 0 = "off", 1 = "on" } }
[[role.terminal-15]]
network = "body"
message = "Terminal"
signal = "Terminal15"
active = [1]
[[role.engine-running]]
network = "body"
message = "Terminal"
signal = "EngineOn"
active = [1]
[[role.reverse-engaged]]
network = "body"
message = "Lever"
signal = "LeverReverse"
active = [1]
[[role.old-source]]
network = "body"
message = "Old"
signal = "OldValue"
"""
VEHICLE = """kind = "vehicle"
format = 1
name = "Dunlin 1"
model_years = [2020, 2020]
[network.body]
bitrate = 500_000
dbc = "van.dbc"
"""
VEHICLE += UNIT_AND_ROLES
VEHICLE += """[[role."camera.active"]]
network = "body"
message = "Part"
signal = "PartActive"
active = [1]
"""
RETROFIT = """kind = "retrofit"
format = 1
name = "part"
[[need]]
role = "reverse-engaged"
max_delay_ms = 200
"""
JOB = """kind = "job"
format = 1
vehicle = "van.vehicle.toml"
model_year = 2020
{identity}
[[item]]
retrofit = "part.retrofit.toml"
network = "body"
{item}
"""
