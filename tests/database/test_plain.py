"""A database through JSON and back, and damaged JSON."""

import copy
import json
from pathlib import Path
from typing import Any

import opendbc
import pytest

from netcheck.database import Database, DbcRepair, Message, MuxPage, RepairKind, Signal, load_database
from netcheck.database._plain import PLAIN_FORMAT, from_plain, to_plain

FULL = Database(
    ("a.dbc",),
    (
        Message(
            "M",
            0x1FFFFFFF,
            True,
            True,
            True,
            64,
            ("A", "B"),
            20.0,
            (
                Signal(
                    "S",
                    7,
                    64,
                    True,
                    False,
                    False,
                    0.1,
                    -1e300,
                    None,
                    5.0,
                    "°C",
                    {-1: "none", 2**63: "far"},
                    (),
                    2**63 + 1,
                ),
                Signal(
                    "T",
                    0,
                    8,
                    False,
                    True,
                    True,
                    1.0,
                    0.0,
                    0.0,
                    None,
                    "",
                    {},
                    (MuxPage("S", (1, 2)), MuxPage("U", (0,))),
                ),
            ),
            "a.dbc",
            0xFE,
        ),
    ),
    ("something",),
    (
        DbcRepair(RepairKind.STRAY_ENTRY, "a.dbc", 7, "T", "VAL_", 0x123),
        DbcRepair(RepairKind.DIGIT_NAME, "a.dbc", 8, "2x"),
    ),
)


def through_json(database: Database) -> Any:
    return json.loads(json.dumps(to_plain(database), allow_nan=False))


def test_round_trip():
    assert from_plain(through_json(FULL)) == FULL


@pytest.mark.parametrize("name", ["cadillac_ct6_object", "ford_lincoln_base_pt", "tesla_model3_vehicle"])
def test_round_trip_of_real_dbcs(name: str):
    database = load_database(Path(opendbc.__file__).parent / "dbc" / f"{name}.dbc")
    again = from_plain(through_json(database))
    assert again == database
    assert [list(s.labels) for m in again.messages for s in m.signals] == [
        list(s.labels) for m in database.messages for s in m.signals
    ]


def test_anything_else_is_a_value_error():
    for other in (None, [], {}, "text", {"format": 0}, {"format": PLAIN_FORMAT, "files": "a"}):
        with pytest.raises(ValueError, match="not a plain database"):
            from_plain(other)


def test_every_missing_or_misplaced_value_is_found():
    plain = through_json(FULL)

    def damaged(place: Any, path: tuple[Any, ...] = ()):
        """Every way to drop a key, or to put an object where it does not belong."""
        for key in list(place) if isinstance(place, dict) else range(len(place)):
            yield (*path, key), place[key]
            if isinstance(place[key], dict | list):
                yield from damaged(place[key], (*path, key))

    def holder(whole: Any, path: tuple[Any, ...]) -> Any:
        for key in path[:-1]:
            whole = whole[key]
        return whole

    tried = 0
    for path, _ in damaged(plain):
        wrong = copy.deepcopy(plain)
        holder(wrong, path)[path[-1]] = {"x": object()} if path[-1] != "format" else PLAIN_FORMAT + 1
        with pytest.raises(ValueError, match="not a plain database"):
            from_plain(wrong)
        if isinstance(path[-1], str):
            del holder(wrong, path)[path[-1]]
            with pytest.raises(ValueError, match="not a plain database"):
                from_plain(wrong)
        tried += 1
    assert tried > 60
