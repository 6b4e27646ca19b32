"""A workshop's equipment reads out the library vans, before the coding and of Puffin also after it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

PUFFIN = "ZZZSK240ZL0123456"
FULMAR = "ZZZSK240ZN0123502"
GANNET = "ZZZSK240ZK0123417"
RAZORBILL = "ZZZSK240ZM0120733"
TESTER_MS = 12  # from an answer to the next request
MODULES: Mapping[str, tuple[int, int]] = {
    "gateway": (0x6A0, 0x6B0),
    "body": (0x6A1, 0x6B1),
    "column": (0x6A3, 0x6B3),
    "cluster": (0x6A4, 0x6B4),
    "engine": (0x6A8, 0x6B8),
    "airbag": (0x6AE, 0x6BE),
}
PARTS: Mapping[str, tuple[str, str]] = {  # spare part number, software version
    "gateway": ("SK24-GAT-B", "0310"),
    "body": ("SK24-BOD-A", "0207"),
    "column": ("SK24-COL-A", "0142"),
    "cluster": ("SK24-CLU-C", "0411"),
    "engine": ("SK24-ENG-F", "1106"),
    "airbag": ("SK24-AIR-A", "0103"),
}
CODING: Mapping[str, tuple[int, str]] = {
    "gateway": (0x2210, "4C011F028000"),
    "body": (0x2215, "0A0013FF"),
    "column": (0x2230, "21000104"),
    "cluster": (0x2240, "013C400000085600"),
    "engine": (0x2281, "91002D7003"),
}
WRITES: Sequence[tuple[str, str]] = (  # in the order of the plan; the cluster refuses its own
    ("column", "21120104"),
    ("cluster", "013C700000085600"),
    ("engine", "95002D7003"),
    ("body", "4A0013FF"),
    ("gateway", "4C011F228000"),
)


class Equipment:
    """Frames of requests and answers, as candump lines."""

    def __init__(self, start_us: int, vin: str = PUFFIN) -> None:
        self._now_us = start_us
        self._vin = vin
        self.lines: list[str] = []

    def ask(self, module: str, request: str, *answers: str) -> None:
        """A request, and what the module answers; "response pending" takes a while."""
        tester, unit = MODULES[module]
        self._now_us += TESTER_MS * 1000
        self._message(tester, unit, bytes.fromhex(request), 2_000)
        for answer in answers:
            self._message(unit, tester, bytes.fromhex(answer), 45_000 if len(answers) > 1 else 4_200)

    def _message(self, sender: int, receiver: int, data: bytes, wait_us: int) -> None:
        self._now_us += wait_us
        if len(data) <= 7:
            self._frame(sender, bytes([len(data)]) + data)
            return
        self._frame(sender, bytes([0x10 | len(data) >> 8, len(data) & 0xFF]) + data[:6])
        self._frame(receiver, b"\x30\x00\x05")
        for number, at in enumerate(range(6, len(data), 7), 1):
            self._now_us += 5_000
            self._frame(sender, bytes([0x20 | number & 15]) + data[at : at + 7])

    def _frame(self, can_id: int, data: bytes) -> None:
        self._now_us += 640
        seconds, micros = divmod(self._now_us, 1_000_000)
        padded = data.ljust(8, b"\x55")
        self.lines.append(f"({seconds}.{micros:06}) can0 {can_id:03X}#{padded.hex().upper()}\n")

    def identify(self, module: str) -> None:
        """Part number, software version, vehicle number."""
        part, software = PARTS[module]
        self.ask(module, "22F187", "62F187" + part.encode().hex())
        self.ask(module, "22F189", "62F189" + software.encode().hex())
        self.ask(module, "22F190", "62F190" + self._vin.encode().hex())

    def read(self, module: str, data: str) -> None:
        """The coding block."""
        did = f"{CODING[module][0]:04X}"
        self.ask(module, f"22{did}", f"62{did}{data}")

    def faults(self, module: str, *codes: str) -> None:
        """Fault codes with their status, three and one bytes each."""
        self.ask(module, "190209", "590209" + "".join(codes))

    def log(self, *told: str) -> str:
        """The whole capture."""
        head = ("Invented data: a simulated Skerry 240, no real vehicle.", *told)
        return "".join(f"# {line}\n" for line in head) + "".join(self.lines)


def before(start_us: int) -> str:
    """Identification, coding and faults of every module."""
    equipment = Equipment(start_us)
    for module in MODULES:
        equipment.identify(module)
        if module in CODING:
            equipment.read(module, CODING[module][1])
        equipment.faults(module, *(["01C01408", "92341A09"] if module == "body" else []))
    return equipment.log("Library van Puffin, read out before the coding, at the diagnostic connector.")


def blocks(start_us: int, van: str, vin: str, **coding: str) -> str:
    """Identification and coding of some modules."""
    equipment = Equipment(start_us, vin)
    for module, data in coding.items():
        equipment.identify(module)
        equipment.read(module, data)
    return equipment.log(f"Library van {van}, read out at the diagnostic connector.")


def fulmar(start_us: int) -> str:
    """Column module, cluster and gateway."""
    named = {module: CODING[module][1] for module in ("column", "cluster", "gateway")}
    return blocks(start_us, "Fulmar", FULMAR, **named)


def gannet(start_us: int) -> str:
    """The cluster alone: there was no time for more."""
    return blocks(start_us, "Gannet", GANNET, cluster=CODING["cluster"][1])


def gannet_gateway(start_us: int) -> str:
    """The gateway, on another day."""
    return blocks(start_us, "Gannet", GANNET, gateway=CODING["gateway"][1])


def petrel(start_us: int) -> str:
    """Column module, cluster and engine control."""
    named = {"column": CODING["column"][1], "cluster": "013C500000085600", "engine": CODING["engine"][1]}
    return blocks(start_us, "Petrel", "ZZZSK240ZH0123388", **named)


def razorbill(start_us: int) -> str:
    """Every module that eight parts have coded, and all faults: there are none."""
    equipment = Equipment(start_us, RAZORBILL)
    for module in MODULES:
        equipment.identify(module)
        if module in CODING:
            equipment.read(module, CODING[module][1])
        equipment.faults(module)
    return equipment.log("Library van Razorbill, read out at the diagnostic connector.")


def after(start_us: int) -> str:
    """The writing, and every module read out again."""
    equipment = Equipment(start_us)
    for module, data in WRITES:
        did = f"{CODING[module][0]:04X}"
        equipment.ask(module, "1003", "5003003201F4")
        equipment.ask(module, "2701", "67015A17C3E0")
        equipment.ask(module, "270281B4026D", "6702")
        answer = "7F2E22" if module == "cluster" else f"6E{did}"
        equipment.ask(module, f"2E{did}{data}", "7F2E78", answer)
    written = dict(WRITES)
    for module in MODULES:
        equipment.identify(module)
        if module in CODING:
            equipment.read(module, CODING[module][1] if module == "cluster" else written[module])
        codes = {"body": ["92341A09"], "airbag": ["C1408708"]}
        equipment.faults(module, *codes.get(module, []))
    return equipment.log("Library van Puffin, coded and read out again, at the diagnostic connector.")
