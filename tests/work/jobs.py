"""Jobs and results in a few words, for tests of what is made of them. All data is invented."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

from netcheck.coding import CodingRow, CodingStatus
from netcheck.files import LoadedItem, LoadedJob, LoadedVehicle, Retrofit, Vehicle
from netcheck.verdict import STATUS, ItemResult, NeedResult, Reason, Verdict

VEHICLE = """
kind = "vehicle"
format = 1
name = "Skerry 240"
model_years = [2017, 2022]
[network.comfort]
bitrate = 125_000
dbc = "comfort.dbc"
tap = "behind the glovebox, pins 4 and 14"
[network.drive]
bitrate = 500_000
fd_bitrate = 2_000_000
dbc = "drive.dbc"
[module.gateway]
title = "Gateway"
request_id = 0x6A0
response_id = 0x6B0
coding_order = "last"
coding_why = "it looks for every module it lists"
[module.gateway.coding.0x2210]
length = 6
[module.column]
title = "Steering column module"
[module.column.coding.0x2230]
length = 4
[module.engine]
coding_order = "first"
[module.engine.coding.0x2281]
length = 12
"""
ROLES = {
    "reverse-engaged": ("comfort", ["R"]),
    "brake-pedal": ("drive", ["pressed"]),
    "vehicle-speed": ("drive", []),
    "wheel.next": ("comfort", ["pressed"]),
    "wheel.mute": ("comfort", ["pressed"]),
}


def vehicle() -> Vehicle:
    data = tomllib.loads(VEHICLE)
    data["role"] = {
        role: [{"network": network, "message": "Message", "signal": "Signal", "active": active}]
        for role, (network, active) in ROLES.items()
    }
    return Vehicle.model_validate(data)


def retrofit(name: str, toml: str = "") -> Retrofit:
    return Retrofit.model_validate(tomllib.loads(f'kind = "retrofit"\nformat = 1\nname = "{name}"\n{toml}'))


def job(*items: tuple[Retrofit, str | None], file: Path | None = Path("van.job.toml")) -> LoadedJob:
    return LoadedJob(
        file=file,
        name="van",
        model_year=2020,
        vehicle=LoadedVehicle(Path("dbc/skerry.vehicle.toml"), vehicle()),
        items=tuple(LoadedItem(entry, network, entry.name) for entry, network in items),
        captures=(),
        readouts=(),
    )


def need(role: str, reason: Reason = Reason.OK, **changes: object) -> NeedResult:
    network = ROLES[role][0] if role in ROLES else None
    result = NeedResult(
        role=role,
        status=STATUS[reason],
        reason=reason,
        evidence="answers",
        network=network,
        message="Message",
        signal="Signal",
        optional=False,
        asks="answers",
        max_gap_ms=None,
        why="",
    )
    return replace(result, **changes)  # type: ignore[arg-type]


def row(module: str, did: str, status: CodingStatus = CodingStatus.TO_DO, **changes: object) -> CodingRow:
    result = CodingRow(
        module=module,
        did=did,
        field="switch",
        from_="off",
        to="on",
        byte=0,
        before="00",
        after="01",
        mask="01",
        status=status,
    )
    return replace(result, **changes)  # type: ignore[arg-type]


def unread(module: str, did: str, **changes: object) -> CodingRow:
    unknown = {"from_": None, "before": None, "after": None, **changes}
    return row(module, did, CodingStatus.UNKNOWN, **unknown)


def item(
    loaded: tuple[Retrofit, str | None], verdict: Verdict, *needs: NeedResult, **changes: object
) -> ItemResult:
    entry, network = loaded
    result = ItemResult(
        retrofit=entry.name,
        title=entry.title or entry.name,
        network=network,
        verdict=verdict,
        needs=needs,
        coding=(),
        conflicts=(),
        questions=(),
        cautions=entry.cautions,
    )
    return replace(result, **changes)  # type: ignore[arg-type]
