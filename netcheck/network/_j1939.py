"""J1939: what a 29-bit id says, and whether a channel speaks it.

Layout of the id: SAE J1939-21; checked against published worked examples in the tests. Names of parameter
groups and addresses are those in common use (SAE J1939-71, J1939-81, FMS-Standard), written from memory.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from netcheck.database import parameter_group
from netcheck.records import dataclass

GROUPS: Final[Mapping[int, str]] = MappingProxyType(
    {
        0x0000: "torque/speed control 1",
        0xE800: "acknowledgement",
        0xEA00: "request",
        0xEB00: "transport, data",
        0xEC00: "transport, connection",
        0xEE00: "address claimed",
        0xEF00: "proprietary A",
        0xF000: "retarder controller 1",
        0xF001: "brake controller 1",
        0xF002: "transmission controller 1",
        0xF003: "engine controller 2",
        0xF004: "engine controller 1",
        0xF005: "transmission controller 2",
        0xF009: "vehicle dynamic stability 2",
        0xFD7C: "particulate filter control 1",
        0xFE56: "reagent tank information 1",
        0xFE6C: "tachograph",
        0xFEBF: "wheel speeds",
        0xFEC1: "high-resolution distance",
        0xFECA: "active fault codes (DM1)",
        0xFECB: "earlier fault codes (DM2)",
        0xFED5: "auxiliary analogue information",
        0xFEDF: "engine controller 3",
        0xFEE5: "engine hours",
        0xFEE6: "time and date",
        0xFEE8: "direction and speed",
        0xFEE9: "fuel consumption",
        0xFEEC: "vehicle identification",
        0xFEEE: "engine temperature 1",
        0xFEEF: "engine fluid level and pressure 1",
        0xFEF0: "power take-off",
        0xFEF1: "cruise control and vehicle speed 1",
        0xFEF2: "fuel economy",
        0xFEF5: "ambient conditions",
        0xFEF6: "inlet and exhaust conditions 1",
        0xFEF7: "electrical power 1",
        0xFEF8: "transmission fluids",
        0xFEFC: "dash display",
    }
)
ADDRESSES: Final[Mapping[int, str]] = MappingProxyType(
    {
        0x00: "engine 1",
        0x01: "engine 2",
        0x03: "transmission 1",
        0x05: "shift console",
        0x0B: "brakes",
        0x0F: "engine retarder",
        0x10: "driveline retarder",
        0x11: "cruise control",
        0x13: "steering controller",
        0x17: "instrument cluster 1",
        0x19: "passenger compartment climate",
        0x1D: "vehicle security",
        0x21: "body controller",
        0x27: "management computer",
        0x28: "cab display",
        0x31: "cab controller",
        0x3D: "exhaust emission controller",
        0xEE: "tachograph",
        0xF9: "service tool 1",
        0xFA: "service tool 2",
        0xFE: "no address",
        0xFF: "all",
    }
)
_DIAGNOSTIC: Final = frozenset({0xDA00, 0xDB00, 0xCD00, 0xCE00})  # ISO 15765-2 uses these ids on any network
_NO_ADDRESS: Final = 0xFE
_LEAST_GROUPS: Final = 2
_SHARE: Final = 0.8


@dataclass(frozen=True)
class J1939:
    """A 29-bit id taken apart.

    destination: None for a group that goes to all; group_name: "" if not known
    """

    priority: int
    group: int
    source: int
    destination: int | None
    group_name: str

    @property
    def has_address(self) -> bool:
        """Whether the sender has one: those that could not claim any share a source."""
        return self.source != _NO_ADDRESS

    @property
    def source_name(self) -> str:
        """Who has this address by the standard's assignment, "" if not known; not proof of who sends."""
        return ADDRESSES.get(self.source, "")

    @property
    def destination_name(self) -> str:
        """Likewise whom it is for; "" for a group that goes to all."""
        return "" if self.destination is None else ADDRESSES.get(self.destination, "")


def take_apart(can_id: int) -> J1939:
    """Priority, parameter group, source and destination of a 29-bit id."""
    group = parameter_group(can_id)
    is_addressed = (can_id >> 16 & 0xFF) < 0xF0
    destination = can_id >> 8 & 0xFF if is_addressed else None
    return J1939(can_id >> 26 & 7, group, can_id & 0xFF, destination, group_name(group))


def group_name(group: int) -> str:
    """What a parameter group is for, "" if not known."""
    if group & 0x3FF00 == 0xFF00:
        return "proprietary B"
    return GROUPS.get(group, "")


def is_j1939(ids: Mapping[int, int], declared: bool = False) -> bool:
    """Whether 29-bit ids are J1939 traffic.

    ids:      29-bit ids of a channel, with their frames
    declared: a DBC that explains the channel says so
    They are, if at least two different parameter groups are known ones (proprietary ones not counted) and
    four of five frames are of known groups, or the DBC says so. Ids of diagnostic requests
    (ISO 15765-2), which look alike and come on any network, do not count at all.
    """
    if declared:
        return True
    frames = {can_id: count for can_id, count in ids.items() if parameter_group(can_id) not in _DIAGNOSTIC}
    known = {parameter_group(can_id) for can_id in frames} & GROUPS.keys()
    named = sum(count for can_id, count in frames.items() if group_name(parameter_group(can_id)))
    return len(known) >= _LEAST_GROUPS and named >= _SHARE * sum(frames.values())
