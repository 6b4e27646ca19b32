"""What is passed on tells nobody whose van it was, and what is forgotten is gone from the disk."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from netcheck.archive import Adder, Archive, CaptureFacts, Store, export, find_captures, forget, open_store
from netcheck.cli import main
from netcheck.errors import InputError
from tests.archive.fleet import VINS, new_store

Capsys = pytest.CaptureFixture[str]


def telling_log(vin: str) -> str:
    """An answer to a read of the VIN (ISO 14229-1: 62 F1 90), in segments as ISO 15765-2 has it."""
    payload = bytes.fromhex("62F190") + vin.encode()
    frames = [(0x6A8, "0322F19000000000"), (0x6B8, f"10{len(payload):02X}" + payload[:6].hex().upper())]
    frames.append((0x6A8, "3000000000000000"))
    for number, begin in enumerate(range(6, len(payload), 7), 1):
        frames.append((0x6B8, f"2{number}" + payload[begin : begin + 7].ljust(7, b"\0").hex().upper()))
    return "".join(
        f"({1_600_000_000 + n / 100:.6f}) can0 {can_id:03X}#{data}\n"
        for n, (can_id, data) in enumerate(frames)
    )


@pytest.fixture
def of_two(store: Store, tmp_path: Path) -> Store:
    """A copy of the fleet's store, with a capture that tells a VIN itself."""
    found = open_store(shutil.copytree(store.folder, tmp_path / "copy"))
    log = tmp_path / f"{VINS[0]}.log"
    log.write_text(telling_log(VINS[0]))
    added = Adder(found, frames=True).add(find_captures([str(log)], CaptureFacts()).captures)
    assert len(added.added) == 1
    return found


def everything(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file())


def test_a_number_that_a_capture_tells_is_hidden_in_rows_and_frames(of_two: Store) -> None:
    with Archive(of_two) as archive:
        rows = archive.ask(
            "SELECT count(DISTINCT van), count(*) FROM captures WHERE van IN"
            " (SELECT van FROM captures WHERE year = 2019)"
        ).rows
        assert rows == ((1, 3),)  # the capture that tells it is of the same van
        data = archive.ask(
            "SELECT data FROM frames f JOIN captures c USING (capture) WHERE c.year IS NULL ORDER BY time"
        ).rows
    payloads = b"".join(row[0] for row in data)
    assert VINS[0].encode() not in payloads.replace(b"!", b"").replace(b'"', b"")
    assert payloads.count(b"X") >= 17
    assert VINS[0].encode() not in everything(of_two.folder)


def test_forgetting_takes_every_row_and_every_byte(of_two: Store, capsys: Capsys) -> None:
    before = {path.name for path in of_two.data.iterdir()}
    assert main(["archive", "forget", VINS[0], "--store", str(of_two.folder), "--format", "json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [Path(name).name for name in told["captures"]] == ["1.log", "2.log", f"{'X' * 17}.log"]
    with Archive(of_two) as archive:
        for table in ("captures", "channels", "messages", "roles", "frames"):
            gone = archive.ask(
                f"SELECT count(*) FROM {table} WHERE capture NOT IN (SELECT capture FROM captures)"
            ).rows
            assert gone == ((0,),)
        assert archive.ask("SELECT DISTINCT year FROM captures ORDER BY year").rows == ((2020,), (2021,))
    named = {part.file for part in of_two.manifest().parts}
    assert {path.name for path in of_two.data.iterdir()} == named
    assert before - named
    assert forget(of_two, VINS[0]).captures == ()


def test_what_is_exported_for_others_names_nobody(of_two: Store, tmp_path: Path) -> None:
    with Archive(of_two) as archive:
        names = {row[0] for row in archive.ask("SELECT capture FROM captures").rows}
        vans = {row[0] for row in archive.ask("SELECT DISTINCT van FROM captures").rows}
        asked = "SELECT year, role, evidence, states, period_ms FROM roles ORDER BY ALL"
        rows = archive.ask(asked).rows
        frames = archive.ask("SELECT id, length, data FROM frames ORDER BY ALL").rows
    done = export(of_two, tmp_path / "for others", anonymise=True)
    assert (done.captures, done.without_frames) == (7, 0)
    content = everything(tmp_path / "for others")
    for secret in (*names, *vans, *VINS, ".log", str(tmp_path), of_two.key.hex()):
        assert secret.encode() not in content, secret
    with Archive(open_store(tmp_path / "for others")) as archive:
        assert archive.ask(asked).rows == rows
        assert archive.ask("SELECT id, length, data FROM frames ORDER BY ALL").rows == frames
        # still one van a year, and a capture's rows belong together
        assert archive.ask("SELECT count(DISTINCT van), count(start), count(added) FROM captures").rows == (
            (3, 0, 0),
        )
        assert archive.ask(
            "SELECT count(DISTINCT capture) FROM roles SEMI JOIN captures USING (capture)"
        ).rows
        assert archive.ask("SELECT min(epoch_us(time)) FROM frames").rows == ((0,),)
    with pytest.raises(InputError, match="is an archive already"):
        export(of_two, tmp_path / "for others", anonymise=True)


def test_frames_with_readable_numbers_stay_behind(fleet: Path, tmp_path: Path) -> None:
    store = new_store(tmp_path / "a")
    store.keep_vin(keeps=True)
    log = tmp_path / "x.log"
    log.write_text(telling_log(VINS[1]))
    Adder(store, frames=True).add(find_captures([str(log)], CaptureFacts()).captures)
    with Archive(store) as archive:
        assert archive.ask("SELECT van FROM captures").rows == ((VINS[1],),)
    done = export(store, tmp_path / "b", anonymise=True)
    assert (done.frames, done.without_frames) == (0, 1)
    assert VINS[1].encode() not in everything(tmp_path / "b")
    whole = export(store, tmp_path / "c")
    assert (whole.frames > 3, whole.is_anonymous) == (True, False)
    with Archive(open_store(tmp_path / "c")) as archive:
        assert archive.ask("SELECT van FROM captures").rows == ((VINS[1],),)
    assert len(forget(open_store(tmp_path / "c"), VINS[1].lower()).captures) == 1


@pytest.mark.parametrize("vin", ["", "9GULL30000000000", "9GULL3000000000O1", "IOQ"])
def test_what_is_no_number_is_one_line(vin: str, store: Store, capsys: Capsys) -> None:
    assert main(["archive", "forget", vin, "--store", str(store.folder)]) == 2
    assert "not a VIN – 17 letters and digits" in capsys.readouterr().err
