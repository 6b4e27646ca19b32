"""A small invented vehicle for the coding tests; blocks and fields are our own."""

from __future__ import annotations

from netcheck.coding import Wanted
from netcheck.files import Vehicle


def vehicle() -> Vehicle:
    onoff = {"0": "off", "1": "on"}
    fitted = {"0": "absent", "1": "fitted"}
    return Vehicle.model_validate(
        {
            "kind": "vehicle",
            "format": 1,
            "name": "Skerry 240",
            "model_years": [2017, 2022],
            "network": {"comfort": {"bitrate": 500_000, "dbc": "comfort.dbc"}},
            "module": {
                "gateway": {
                    "coding": {
                        "0x0600": {
                            "length": 4,
                            "field": {
                                "park_distance_module": {"byte": 2, "bit": 5, "width": 1, "values": fitted},
                                "amplifier_module": {"byte": 2, "bit": 6, "width": 1, "values": fitted},
                                "fit_pattern": {"byte": 2, "bit": 5, "width": 2},
                                "market": {"byte": 0, "width": 8, "values": {"1": "island", "2": "mainland"}},
                            },
                        },
                        "0x0610": {
                            "length": 6,
                            "field": {
                                "serial": {"byte": 1, "width": 24},
                                "little": {"byte": 4, "width": 16, "order": "little"},
                            },
                        },
                    }
                },
                "cluster": {
                    "years": [2019, 2022],
                    "coding": {
                        "0x0600": {
                            "length": 1,
                            "field": {"park_display": {"byte": 0, "width": 1, "values": onoff}},
                        }
                    },
                },
            },
        }
    )


def want(
    field: str,
    value: str | int,
    *,
    module: str = "gateway",
    item: int = 0,
    unlock: str | None = None,
) -> Wanted:
    return Wanted(
        item, f"part-{item}", module, field, value, unlock, "because", "part.retrofit.toml", f"code[{item}]"
    )
