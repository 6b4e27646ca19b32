"""What is unusual on one van beside the others of its model year: told with counts, and no verdict by it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from netcheck.archive import (
    Adder,
    Archive,
    BesidePeers,
    CaptureFacts,
    Store,
    Unusual,
    UnusualKind,
    beside_peers,
    find_captures,
)
from netcheck.cli import main
from netcheck.report.archive import unusual_text
from tests.archive.fleet import make, new_store

Capsys = pytest.CaptureFixture[str]
VANS = 3


@pytest.fixture(scope="module")
def peers(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Store]:
    """Three vans of 2021 in an archive; a fourth one, ``own.log``, which is not."""
    folder = tmp_path_factory.mktemp("peers")
    for number in range(VANS + 1):
        make(folder, f"{number}.log", seed=number + 1)
    (folder / f"{VANS}.log").rename(folder / "own.log")
    store = new_store(folder / "archive")
    for number in range(VANS):
        known = CaptureFacts(folder / "gull.vehicle.toml", 2021, f"9GULL30000000010{number}")
        Adder(store).add(find_captures([str(folder / f"{number}.log")], known).captures)
    return folder, store


def changed(folder: Path, name: str, line: Callable[[int, str], str]) -> Path:
    """The van's own capture with lines rewritten, by number and text; "" leaves one out."""
    lines = (folder / "own.log").read_text().splitlines(keepends=True)
    path = folder / name
    path.write_text("".join(sorted(line(number, text) for number, text in enumerate(lines))))
    return path


def said(peers: tuple[Path, Store], path: Path, *, year: int = 2021, vin: str | None = None) -> BesidePeers:
    folder, store = peers
    known = CaptureFacts(folder / "gull.vehicle.toml", year, vin)
    (wanted,) = find_captures([str(path)], known).captures
    with Archive(store) as archive:
        return beside_peers(archive, wanted)


def kinds(beside: BesidePeers) -> list[tuple[UnusualKind, str, str, tuple[int, int]]]:
    return [(one.kind, one.network, one.message, one.vans) for one in beside.unusual]


def test_a_van_like_the_others_has_nothing_unusual(peers: tuple[Path, Store]) -> None:
    beside = said(peers, peers[0] / "own.log")
    assert (beside.peers, beside.strangers) == ({"body": (VANS, VANS), "rear": (VANS, VANS)}, False)
    assert beside.is_known
    assert beside.unusual == ()


def test_a_message_that_stays_away_or_that_nobody_has(peers: tuple[Path, Store]) -> None:
    path = changed(peers[0], "other_id.log", lambda _, text: text.replace(" 400#", " 4F3#"))
    assert kinds(said(peers, path)) == [
        (UnusualKind.MESSAGE_ABSENT, "body", "Tow", (3, 3)),
        (UnusualKind.MESSAGE_ALONE, "body", "", (0, 3)),
    ]


def test_a_period_beside_those_of_the_others(peers: tuple[Path, Store]) -> None:
    count = iter(range(10_000))
    path = changed(peers[0], "slow.log", lambda _, text: "" if " 300#" in text and next(count) % 2 else text)
    (one,) = said(peers, path).unusual
    assert (one.kind, one.can_id, one.vans) == (UnusualKind.PERIOD, 0x300, (3, 3))
    assert one.here == pytest.approx(40, abs=2)  # every second frame of 20 ms is left out
    assert (one.low, one.high) == (pytest.approx(20, abs=1), pytest.approx(20, abs=1))


def test_gaps_that_scatter_more_than_on_any_other_van(peers: tuple[Path, Store]) -> None:
    def late(number: int, text: str) -> str:
        stamp = float(text[1:18])
        return f"({stamp + 0.008:.6f}{text[18:]}" if " 300#" in text and number % 7 == 0 else text

    (one,) = said(peers, changed(peers[0], "late.log", late)).unusual
    assert (one.kind, one.can_id, one.vans) == (UnusualKind.SPREAD, 0x300, (3, 3))
    assert one.here is not None
    assert one.high is not None
    assert one.here > 14 > 2 * one.high  # 8 ms later, then 8 ms sooner


def test_states_and_values_of_a_role(peers: tuple[Path, Store]) -> None:
    def other(number: int, text: str) -> str:
        if " 100#" in text and number < 100:
            return re.sub(r"#(.)0", r"#\g<1>1", text)  # D, which no van was in
        return re.sub(r"200#(.)0..", r"200#\g<1>003", text)  # the door has no value

    found = said(peers, changed(peers[0], "states.log", other)).unusual
    assert [(one.kind, one.role, one.vans, one.states) for one in found] == [
        (UnusualKind.STATES, "reverse-engaged", (0, 3), ("D",)),
        (UnusualKind.NO_VALUE, "door.left-open", (3, 3), ()),
    ]


def test_its_own_captures_and_those_of_its_van_are_no_peers(peers: tuple[Path, Store]) -> None:
    beside = said(peers, peers[0] / "0.log")  # in the archive itself
    assert beside.peers == {"body": (2, 2), "rear": (2, 2)}
    assert not beside.is_known
    beside = said(peers, peers[0] / "own.log", vin="9GULL300000000101")
    assert beside.peers == {"body": (2, 2), "rear": (2, 2)}


def test_another_year_has_no_peers(peers: tuple[Path, Store]) -> None:
    beside = said(peers, peers[0] / "own.log", year=2020)
    assert beside.peers == {"body": (0, 0), "rear": (0, 0)}
    assert beside.unusual == ()


def survey(peers: tuple[Path, Store], name: str, *more: str) -> list[str]:
    folder, store = peers
    vehicle = str(folder / "gull.vehicle.toml")
    return ["survey", str(folder / name), "--vehicle", vehicle, "--archive", str(store.folder), *more]


def test_a_survey_tells_it_and_ends_as_before(peers: tuple[Path, Store], capsys: Capsys) -> None:
    changed(peers[0], "told.log", lambda _, text: text.replace(" 400#", " 4F3#"))
    before = {path: path.read_bytes() for path in peers[1].files()}
    assert main(survey(peers, "told.log", "--year", "2021")) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "Beside other vans of 2021" in text
    assert "body 0x400 Tow: not in this capture; on 3 of 3 vans of 2021 it comes by the clock." in text
    assert "That is rare, not wrong" in text
    assert main(survey(peers, "told.log", "--year", "2021", "--format", "json")) == 0
    told = json.loads(capsys.readouterr().out)["peers"]
    assert told["networks"]["body"] == {"vans": 3, "captures": 3}
    assert [(one["kind"], one["id"]) for one in told["unusual"]] == [
        ("message-absent", "0x400"),
        ("message-alone", "0x4F3"),
    ]
    assert main(survey(peers, "own.log", "--year", "2021")) == 0
    assert "Nothing is unusual beside them." in capsys.readouterr().out
    assert main(survey(peers, "own.log", "--year", "2020")) == 0
    assert "too few to tell what is usual" in " ".join(capsys.readouterr().out.split())
    assert {path: path.read_bytes() for path in peers[1].files()} == before


def test_a_survey_without_a_year_is_refused(peers: tuple[Path, Store], capsys: Capsys) -> None:
    assert main(survey(peers, "own.log")) == 2
    told = capsys.readouterr()
    assert (told.out, told.err.count("\n")) == ("", 1)
    assert "--archive, --year and --vehicle go together" in told.err


def test_a_proof_tells_it_and_judges_as_before(peers: tuple[Path, Store], capsys: Capsys) -> None:
    folder, store = peers
    changed(folder, "after.log", lambda _, text: text.replace(" 400#", " 4F3#"))
    job = folder / "x.job.toml"
    job.write_text(
        'kind = "job"\nformat = 1\nvehicle = "gull.vehicle.toml"\nmodel_year = 2021\n'
        '[[item]]\nretrofit = "beeper.retrofit.toml"\nnetwork = "body"\n'
        '[[capture]]\nfile = "own.log"\n[[capture]]\nfile = "after.log"\nwhen = "after"\n'
    )
    status = main(["prove", str(job), "--format", "json"])
    alone = json.loads(capsys.readouterr().out)
    assert main(["prove", str(job), "--format", "json", "--archive", str(store.folder)]) == status
    beside = json.loads(capsys.readouterr().out)
    (own,) = beside.pop("peers")
    assert alone.pop("peers") is None
    assert beside == alone
    assert own["file"].endswith("after.log")
    assert [one["kind"] for one in own["unusual"]] == ["message-absent", "message-alone"]
    main(["prove", str(job), "--archive", str(store.folder)])
    assert "Beside other vans of 2021" in capsys.readouterr().out


def test_every_kind_has_its_words() -> None:
    texts = {unusual_text(Unusual(kind, "body", "can0", vans=(13, 14)), 2019) for kind in UnusualKind}
    assert len(texts) == len(UnusualKind)
    assert all("13 of 14 vans of 2019" in text for text in texts)


def test_a_period_is_told_with_counts() -> None:
    where = {"network": "body", "channel": "can0", "message": "Lever", "can_id": 0x123}
    unusual = Unusual(UnusualKind.PERIOD, **where, here=120.0, low=98.0, high=102.0, vans=(14, 14))
    assert unusual_text(unusual, 2019) == (
        "body 0x123 Lever: period 120 ms; on 14 of 14 vans of 2019 98 to 102 ms."
    )
