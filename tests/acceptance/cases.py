"""A whole job in a few lines: vehicle file, DBCs, retrofits, candump logs and job, written and planned.

The van of these tests is invented. It has two networks:

``body`` (names in ``BODY_DBC``)      ``drive`` (names in ``DRIVE_DBC``)
    LEVER 0x100  Gear, Turn, Turn10       ENGINE 0x200  Revs
    SPEED 0x110  Speed                    BRAKE  0x210  Pressed
    DOOR  0x120  Open                     PUMP1 .. PUMP3 0x701 .. 0x703
    MENU  0x130  Volume or Track
    TEMP  0x140  Heat, Level, Free
    LAMP1 .. LAMP3 0x601 .. 0x603

A new log holds the lamps (or the pumps), every 100 ms from 0 to 10 s: enough to know the network
and to keep it awake. All times are seconds from the first frame; data are hex digits.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

import netcheck
from netcheck.verdict import ItemResult, NeedResult

LEVER, SPEED, DOOR, MENU, TEMP = 0x100, 0x110, 0x120, 0x130, 0x140
LAMPS = (0x601, 0x602, 0x603)
ENGINE, BRAKE = 0x200, 0x210
PUMPS = (0x701, 0x702, 0x703)
BACKGROUND = {"body": LAMPS, "drive": PUMPS, None: ()}

BODY_DBC = """VERSION ""
NS_ :
BS_:
BU_: COLUMN ABS LATCH RADIO CLIMATE LAMPS
BO_ 256 LeverStatus: 4 COLUMN
 SG_ Gear : 0|8@1+ (1,0) [0|0] "" LAMPS
 SG_ Turn : 8|4@1+ (1,0) [0|15] "" LAMPS
 SG_ Turn10 : 12|4@1+ (1,0) [0|9] "" LAMPS
BO_ 272 SpeedStatus: 4 ABS
 SG_ Speed : 0|16@1+ (0.1,0) [0|250] "km/h" RADIO
BO_ 288 DoorStatus: 2 LATCH
 SG_ Open : 0|8@1+ (1,0) [0|3] "" RADIO
BO_ 304 MenuStatus: 4 RADIO
 SG_ Page M : 0|8@1+ (1,0) [0|0] "" LAMPS
 SG_ Volume m1 : 8|8@1+ (1,0) [0|0] "" LAMPS
 SG_ Track m2 : 8|8@1+ (1,0) [0|0] "" LAMPS
 SG_ MenuTurn : 16|4@1+ (1,0) [0|15] "" LAMPS
BO_ 320 ClimateStatus: 4 CLIMATE
 SG_ Heat : 0|8@1+ (1,-40) [-40|80] "degC" RADIO
 SG_ Level : 8|8@1+ (0.1,0) [0|0.3] "" RADIO
 SG_ Free : 16|8@1+ (1,0) [0|0] "" RADIO
BO_ 1537 Lamp1: 1 LAMPS
 SG_ On1 : 0|1@1+ (1,0) [0|1] "" RADIO
BO_ 1538 Lamp2: 1 LAMPS
 SG_ On2 : 0|1@1+ (1,0) [0|1] "" RADIO
BO_ 1539 Lamp3: 1 LAMPS
 SG_ On3 : 0|1@1+ (1,0) [0|1] "" RADIO
BO_TX_BU_ 320 : CLIMATE,RADIO;
VAL_ 256 Gear 0 "P" 1 "R" 2 "N" 3 "D" 15 "none" ;
VAL_ 288 Open 0 "shut" 1 "open" 2 "ajar" ;
"""

DRIVE_DBC = """VERSION ""
NS_ :
BS_:
BU_: MOTOR ABS
BO_ 512 EngineStatus: 4 MOTOR
 SG_ Revs : 0|16@1+ (1,0) [0|8000] "1/min" ABS
BO_ 528 BrakeStatus: 1 ABS
 SG_ Pressed : 0|1@1+ (1,0) [0|1] "" MOTOR
BO_ 1793 Pump1: 1 MOTOR
 SG_ Run1 : 0|1@1+ (1,0) [0|1] "" ABS
BO_ 1794 Pump2: 1 MOTOR
 SG_ Run2 : 0|1@1+ (1,0) [0|1] "" ABS
BO_ 1795 Pump3: 1 MOTOR
 SG_ Run3 : 0|1@1+ (1,0) [0|1] "" ABS
"""


def plain_dbc(*ids: int, length: int = 1) -> str:
    """A DBC with one message for each id, one 8-bit signal ``V`` in it, all named by the id."""
    messages = (
        f'BO_ {number} M{number:X}: {length} Vector__XXX\n SG_ V : 0|8@1+ (1,0) [0|0] "" Vector__XXX\n'
        for number in ids
    )
    return 'VERSION ""\nNS_ :\nBS_:\nBU_:\n' + "".join(messages)


def with_cycle(dbc: str, can_id: int, cycle_ms: int) -> str:
    """The DBC with a cycle time for one message."""
    head = 'BA_DEF_ BO_ "GenMsgCycleTime" INT 0 65535;\nBA_DEF_DEF_ "GenMsgCycleTime" 0;\n'
    return f'{dbc}{head}BA_ "GenMsgCycleTime" BO_ {can_id} {cycle_ms};\n'


def every(period: float, start: float = 0.0, end: float = 10.0) -> list[float]:
    """Times from ``start`` to ``end``, both included where they fall on the period."""
    count = int(round((end - start) / period, 6)) + 1
    return [round(start + i * period, 6) for i in range(count)]


def during(start: float, end: float, inside: str, outside: str) -> Callable[[float], str]:
    """Data that are ``inside`` from ``start`` to ``end``, both included, and ``outside`` else."""
    return lambda time: inside if start <= time <= end else outside


def _value(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{json.dumps(str(k))} = {_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value(v) for v in value) + "]"
    return json.dumps(value)


def _table(header: str, pairs: dict[str, Any]) -> str:
    return "\n".join([header, *(f"{k.rstrip('_')} = {_value(v)}" for k, v in pairs.items())]) + "\n"


def _on_screen(frame: str) -> str:
    """A frame as a screen shows it: ``100   [2]  01 00``, where a log has ``100#0100``."""
    number, rest = frame.split("#", 1)
    if rest.startswith("R"):
        return f"{number}   [{rest[1:] or 0}]  remote request"
    data = rest[2:] if rest.startswith("#") else rest
    pairs = " ".join(data[i : i + 2] for i in range(0, len(data), 2))
    count = f"{len(data) // 2:02d}" if rest.startswith("#") else str(len(data) // 2)
    tail = "  ERRORFRAME" if len(number) == 8 and int(number, 16) >> 29 else ""
    return f"{number}   [{count}]  {pairs}{tail}"


class Log:
    """A candump log with its entry in the job file."""

    def __init__(self, case: Case, name: str, network: str | None, entry: dict[str, Any]) -> None:
        self.case, self.name, self.entry = case, name, {"file": name, **entry}
        self.rows: list[tuple[float, str, str]] = []
        self.marks: list[dict[str, Any]] = []
        self.epoch = 1_700_000_000
        self.is_timed = True  # else its lines are those of a screen, without stamps
        for can_id in BACKGROUND[network]:
            self.send(can_id, every(0.1), "00")

    def send(
        self,
        can_id: int,
        times: Iterable[float],
        data: str | Sequence[str] | Callable[[float], str],
        *,
        channel: str = "can0",
        extended: bool = False,
    ) -> Log:
        """Frames of one id: the same data each time, one of a list each time, or data by time."""
        times = list(times)
        if isinstance(data, str):
            payloads = [data] * len(times)
        else:
            payloads = [data(time) for time in times] if callable(data) else list(data)
        digits = 8 if extended or can_id > 0x7FF else 3
        rows = zip(times, payloads, strict=True)
        self.rows += [(time, channel, f"{can_id:0{digits}X}#{payload}") for time, payload in rows]
        return self

    def mark(self, role: str, start: float, end: float, state: str | int | None = None, **more: Any) -> Log:
        """Mark a stretch; the active state unless another state or ``between`` is named."""
        if "between" not in more:
            more["state"] = "active" if state is None else state
        self.marks.append({"role": role, **more, "from": start, "to": end})
        return self

    def without(self, start: float, end: float) -> Log:
        """Silence: drop every frame between two times, the ends left standing."""
        self.rows = [row for row in self.rows if not start < row[0] < end]
        return self

    def write(self) -> str:
        """Write the log; return its part of the job file."""
        lines = []
        for time, channel, frame in sorted(self.rows, key=lambda row: row[0]):
            if not self.is_timed:
                lines.append(f"  {channel}  {_on_screen(frame)}\n")
                continue
            micros = self.epoch * 1_000_000 + round(time * 1_000_000)
            lines.append(f"({micros // 1_000_000}.{micros % 1_000_000:06d}) {channel} {frame}\n")
        (self.case.folder / self.name).write_text("".join(lines), encoding="utf-8")
        marks = (_table("[[capture.mark]]", mark) for mark in self.marks)
        return _table("[[capture]]", self.entry) + "".join(marks)


class Item:
    """A part to fit: a retrofit file and its entry in the job file."""

    def __init__(self, name: str, network: str | None) -> None:
        self.name, self.network = name, network
        self.tables: list[str] = []
        self.wires: list[str] = []

    def _add(self, kind: str, pairs: dict[str, Any]) -> Item:
        self.tables.append(_table(f"[[{kind}]]", pairs))
        return self

    def need(self, role: str, **more: Any) -> Item:
        return self._add("need", {"role": role, **more})

    def supply(self, *roles: str, **more: Any) -> Item:
        return self._add("supply", {"roles": list(roles), **more})

    def replace(self, **what: str) -> Item:
        return self._add("replace", what)

    def match(self, fact: str, *any_of: Any) -> Item:
        return self._add("match", {"fact": fact, "any_of": list(any_of)})

    def require(self, module: str) -> Item:
        return self._add("require", {"module": module})

    def code(self, module: str, field: str, value: str | int, **more: Any) -> Item:
        return self._add("code", {"module": module, "field": field, "value": value, **more})

    def step(self, text: str, **more: Any) -> Item:
        return self._add("step", {"phase": "before", "text": text, **more})

    def exercise(self, role: str, **more: Any) -> Item:
        return self._add("exercise", {"role": role, "do": "Do it", **more})

    def provide(self, resource: str, count: int = 1) -> Item:
        return self._add("provide", {"resource": resource, "count": count})

    def use(self, resource: str, count: int = 1, **more: Any) -> Item:
        return self._add("use", {"resource": resource, "count": count, **more})

    def wire(self, role: str) -> Item:
        """Give the part a wire of its own for a role, in the job file."""
        self.wires.append(_table("[[item.wire]]", {"role": role, "from": "plug 3, pin 1"}))
        return self

    def write(self, folder: Path) -> str:
        """Write the retrofit file; return the item's part of the job file."""
        head = _table("", {"kind": "retrofit", "format": 1, "name": self.name, "title": self.name})
        file = f"{self.name}.retrofit.toml"
        (folder / file).write_text(head + "".join(self.tables), encoding="utf-8")
        wired = {} if self.network is None else {"network": self.network}
        return _table("[[item]]", {"retrofit": file, **wired}) + "".join(self.wires)


class Case:
    """A job under construction; ``plan()`` writes everything and plans it."""

    def __init__(self, folder: Path, year: int = 2020) -> None:
        self.folder, self.year = folder, year
        self.bitrate = 500_000
        self.dbc: dict[str, str | list[str]] = {"body": BODY_DBC, "drive": DRIVE_DBC}
        self.vehicle_tables: list[str] = []
        self.items: list[Item] = []
        self.logs: list[Log] = []
        self.readouts: list[str] = []
        self.own_facts: dict[str, Any] = {}

    def role(self, name: str, place: str, **more: Any) -> Case:
        """Map a role to ``"network message signal"``."""
        network, message, signal = place.split()
        pairs = {"network": network, "message": message, "signal": signal, **more}
        self.vehicle_tables.append(_table(f'[[role."{name}"]]', pairs))
        return self

    def module(self, name: str, **pairs: Any) -> Case:
        self.vehicle_tables.append(_table(f"[module.{name}]", pairs))
        return self

    def block(self, module: str, did: int, length: int, **fields: dict[str, Any]) -> Case:
        """A coding block of a module; a field is ``{"byte": 1, "bit": 4, "width": 1, "values": {...}}``."""
        head = f"[module.{module}.coding.0x{did:04X}]"
        self.vehicle_tables.append(_table(head, {"length": length, "field": fields}))
        return self

    def facts(self, **facts: Any) -> Case:
        self.vehicle_tables.append(_table("[facts]", facts))
        return self

    def item(self, name: str = "part", network: str | None = "body") -> Item:
        self.items.append(Item(name, network))
        return self.items[-1]

    def log(self, network: str | None = "body", **entry: Any) -> Log:
        """A capture with the network's background traffic, or with none."""
        self.logs.append(Log(self, f"log{len(self.logs)}.log", network, entry))
        return self.logs[-1]

    def readout(self, module: str, did: int, data: str, **more: Any) -> Case:
        pairs = {"module": module, "did": did, "data": data, **more}
        self.readouts.append(_table("[[readout]]", pairs))
        return self

    def _write_vehicle(self) -> None:
        head = {"kind": "vehicle", "format": 1, "name": "Test van", "model_years": [2017, 2022]}
        networks = []
        for network, texts in self.dbc.items():
            names = []
            for number, text in enumerate([texts] if isinstance(texts, str) else texts):
                names.append(f"{network}{number}.dbc")
                (self.folder / names[-1]).write_text(text, encoding="utf-8")
            dbc = names if len(names) > 1 else names[0]
            networks.append(_table(f"[network.{network}]", {"bitrate": self.bitrate, "dbc": dbc}))
        text = _table("", head) + "".join(networks + self.vehicle_tables)
        (self.folder / "van.vehicle.toml").write_text(text, encoding="utf-8")

    def write(self) -> Path:
        """Write every file; return the job's path."""
        self._write_vehicle()
        head = {"kind": "job", "format": 1, "vehicle": "van.vehicle.toml", "model_year": self.year}
        own = _table("[facts]", self.own_facts) if self.own_facts else ""
        parts = [_table("", head), own, *(item.write(self.folder) for item in self.items)]
        parts += [log.write() for log in self.logs] + self.readouts
        path = self.folder / "van.job.toml"
        path.write_text("".join(parts), encoding="utf-8")
        return path

    def plan(self) -> netcheck.Plan:
        return netcheck.make_plan(netcheck.load_job(self.write()))

    def need(self) -> NeedResult:
        """The first need of the first item, as planned."""
        return self.plan().items[0].needs[0]

    def outcome(self) -> tuple[str, str]:
        """Status and reason of that need."""
        need = self.need()
        return str(need.status), str(need.reason)


SHOWN = ("shown", "ok")


def expected(reason: str) -> tuple[str, str]:
    return "expected", reason


def missing(reason: str) -> tuple[str, str]:
    return "missing", reason


def kinds(item: ItemResult) -> list[str]:
    """The kinds of an item's conflicts, sorted."""
    return sorted(str(conflict.kind) for conflict in item.conflicts)


def questions(case: Case) -> dict[str, list[str]]:
    """The kinds of every item's questions, by retrofit."""
    return {
        item.retrofit: sorted(str(question.kind) for question in item.questions) for item in case.plan().items
    }


def conflicts(case: Case) -> dict[str, list[str]]:
    """The kinds of every item's conflicts, by retrofit."""
    return {item.retrofit: kinds(item) for item in case.plan().items}


def lever_case(folder: Path, **need: Any) -> Case:
    """One item on ``body`` that needs ``reverse``: the lever's gear, active in R, 15 meaning "none"."""
    case = Case(folder).role("reverse", "body LeverStatus Gear", active=["R"], not_available=[15])
    case.item().need("reverse", **need)
    return case
