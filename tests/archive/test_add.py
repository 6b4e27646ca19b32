"""Adding: each capture once, whole or not at all, and nothing is lost without a word."""

from __future__ import annotations

import errno
import gzip
import json
import multiprocessing
import shutil
from collections.abc import Sequence
from pathlib import Path

import pytest

from netcheck.archive import Adder, Archive, CaptureFacts, Store, WantedCapture, find_captures, open_store
from netcheck.archive._add import Reader, read_here
from netcheck.archive._read import ReadOrder
from netcheck.archive._store import StoreChange
from netcheck.cli import main
from netcheck.errors import InputError, UsageError
from tests.archive.fleet import VINS, add_fleet, make, new_store
from tests.faults import Faults

Capsys = pytest.CaptureFixture[str]


def of(fleet: Path, *names: str, year: int | None = 2021) -> list[WantedCapture]:
    known = CaptureFacts(fleet / "gull.vehicle.toml", year)
    return find_captures([str(fleet / name) for name in names], known).captures


def count(store: Store, table: str = "captures") -> int:
    return int(store.read(table, ["capture"]).num_rows)


def content(folder: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def test_adding_twice_adds_nothing(fleet: Path, tmp_path: Path) -> None:
    store = new_store(tmp_path / "a")
    first, second = (Adder(store).add(of(fleet, "2021")) for _ in range(2))
    assert (len(first.added), first.known) == (2, [])
    assert (second.added, len(second.known), second.frames) == ([], 2, 0)
    assert count(store) == 2


def test_a_copy_is_told_and_left_out(fleet: Path, tmp_path: Path) -> None:
    store = new_store(tmp_path / "a")
    log = fleet / "2021" / "1.log"
    packed = tmp_path / "same.log.gz"
    packed.write_bytes(gzip.compress(log.read_bytes()))
    renamed = tmp_path / "renamed.log"
    renamed.write_bytes(log.read_bytes())
    added = Adder(store).add(of(fleet, str(log), str(packed), str(renamed)))
    assert added.added == [str(log)]
    assert added.copies == {str(packed): str(log), str(renamed): str(log)}
    assert count(store) == 1


def test_a_changed_vehicle_file_has_the_roles_read_again_and_nothing_else(tmp_path: Path) -> None:
    make(tmp_path, "x/1.log")
    vehicle = tmp_path / "gull.vehicle.toml"
    store = new_store(tmp_path / "a")
    Adder(store).add(of(tmp_path, "x"))
    before = {table: store.paths(table) for table in ("channels", "messages", "roles", "captures")}
    vehicle.write_text(vehicle.read_text().replace("[[role.horn]]", "[[role.whistle]]"))
    shutil.copy(tmp_path / "x" / "1.marks.toml", tmp_path / "kept")
    again = Adder(store).add(of(tmp_path, "x"))
    assert (again.added, again.reread, len(again.roles)) == ([], [], 1)
    assert store.paths("channels") == before["channels"]
    assert store.paths("messages") == before["messages"]
    assert store.paths("roles") != before["roles"]
    (tmp_path / "x" / "1.marks.toml").unlink()
    assert len(Adder(store).add(of(tmp_path, "x")).roles) == 1
    with Archive(store) as archive:
        assert archive.ask("SELECT marks, frames > 0 FROM captures").rows == ((0, True),)
        assert archive.ask("SELECT max(marks) FROM roles").rows == ((0,),)


def test_other_facts_and_other_dbc_files_have_all_of_it_read_again(tmp_path: Path) -> None:
    make(tmp_path, "x/1.log")
    store = new_store(tmp_path / "a")
    Adder(store).add(of(tmp_path, "x"))
    assert len(Adder(store).add(of(tmp_path, "x", year=2020)).reread) == 1
    assert len(Adder(store).add(of(tmp_path, "x", year=None)).known) == 1  # nothing else is said
    dbc = tmp_path / "body.dbc"
    dbc.write_text(dbc.read_text().replace("Doors", "Gates"))
    vehicle = tmp_path / "gull.vehicle.toml"
    vehicle.write_text(vehicle.read_text().replace('"Doors"', '"Gates"'))
    assert len(Adder(store).add(of(tmp_path, "x", year=None)).reread) == 1
    with Archive(store) as archive:
        assert archive.ask("SELECT DISTINCT year FROM messages").rows == ((2020,),)
        assert archive.ask("SELECT count(*) FROM messages WHERE name = 'Gates'").rows == ((1,),)
    known = CaptureFacts(fitting="after")
    refused = Adder(store).add(find_captures([str(tmp_path / "x")], known).captures).refused
    assert list(refused.values()) == [
        f"{tmp_path / 'x' / '1.log'} is in the archive as a Gull 3 – give the vehicle file with --vehicle, to"
        " read it again"
    ]


def test_frames_are_added_later_on_request(fleet: Path, tmp_path: Path) -> None:
    store = new_store(tmp_path / "a")
    Adder(store).add(of(fleet, "2021/1.log"))
    assert count(store, "frames") == 0
    assert len(Adder(store, frames=True).add(of(fleet, "2021/1.log")).reread) == 1
    frames = count(store, "frames")
    assert frames > 400
    assert len(Adder(store).add(of(fleet, "2021/1.log")).known) == 1
    assert count(store, "frames") == frames


def test_a_bad_file_stops_nothing_and_is_listed(fleet: Path, tmp_path: Path, capsys: Capsys) -> None:
    folder = tmp_path / "mixed"
    (folder / "deep").mkdir(parents=True)
    shutil.copy(fleet / "2021" / "1.log", folder / "deep" / "good.log")
    (folder / "bad.log.gz").write_bytes(b"\x1f\x8b but no more")
    (folder / "empty.log").write_bytes(b"")
    (folder / "readme.md").write_text("notes")
    (folder / "torn.job.toml").write_text("kind = ")
    code = main(["archive", "add", str(folder), "--store", str(tmp_path / "a"), "--format", "json"])
    told = json.loads(capsys.readouterr().out)
    assert code == 2
    assert told["added"] == [str(folder / "deep" / "good.log")]
    assert sorted(Path(name).name for name in told["refused"]) == ["bad.log.gz", "empty.log", "torn.job.toml"]
    assert told["others"] == 1
    assert count(open_store(tmp_path / "a")) == 1


def test_a_job_says_what_its_captures_are_of(tmp_path: Path) -> None:
    make(tmp_path, "x.log", year=2020)
    (tmp_path / "van.job.toml").write_text(
        'kind = "job"\nformat = 1\nvehicle = "gull.vehicle.toml"\nmodel_year = 2020\n'
        f'[identity]\nvin = "{VINS[0]}"\n'
        '[[item]]\nretrofit = "beeper.retrofit.toml"\nnetwork = "body"\n'
        '[[capture]]\nfile = "x.log"\nwhen = "after"\nchannels = { can0 = "body" }\n'
    )
    found = find_captures([str(tmp_path)], CaptureFacts())
    assert [(one.year, one.vin, one.fitting) for one in found.captures] == [(2020, VINS[0], "after")]
    store = new_store(tmp_path / "a")
    Adder(store).add(found.captures)
    with Archive(store) as archive:
        assert archive.ask("SELECT year, fitting, van IS NULL FROM captures").rows == (
            (2020, "after", False),
        )


def test_a_vin_in_a_file_name_is_hidden(tmp_path: Path) -> None:
    path = make(tmp_path, f"of {VINS[1].lower()}.log")
    store = new_store(tmp_path / "a")
    Adder(store).add(find_captures([str(path)], CaptureFacts(vin=VINS[1])).captures)
    with Archive(store) as archive:
        ((file,),) = archive.ask("SELECT file FROM captures").rows
    assert Path(file).name == f"of {'X' * 17}.log"


def test_a_capture_that_grows_while_it_is_read_is_refused(
    fleet: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    log = tmp_path / "x.log"
    shutil.copy(fleet / "2021" / "1.log", log)
    from netcheck.archive import _read

    real = _read.go_through

    def slow(*given: object) -> object:
        with log.open("a") as stream:
            stream.write("(1600000000.000000) can0 123#00\n")
        return real(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(_read, "go_through", slow)
    store = new_store(tmp_path / "a")
    added = Adder(store, frames=True).add(find_captures([str(log)], CaptureFacts()).captures)
    assert added.refused == {
        str(log): f"{log}: changed while it was read – add it once the recording is finished"
    }
    assert count(store) == 0
    assert list(store.data.iterdir()) == []


def test_whatever_write_fails_the_store_is_the_old_one_or_the_new_one(fleet: Path, tmp_path: Path) -> None:
    original = new_store(tmp_path / "original")
    Adder(original).add(of(fleet, "2020", year=2020))
    orders: list[ReadOrder] = []

    def remembered(asked: Sequence[ReadOrder]) -> Reader:
        orders.extend(asked)
        return read_here

    other = open_store(shutil.copytree(original.folder, tmp_path / "other"))
    Adder(other, reader=remembered).add(of(fleet, "2020/1.log"))  # of another year: read again
    (read,) = read_here(orders)

    def run(call: int) -> tuple[Faults, Store, InputError | None]:
        store = open_store(shutil.copytree(original.folder, tmp_path / f"a{call}"))
        change = StoreChange({name: [rows] for name, rows in read.tables.items()})
        change.drops = {name: {read.order.digest} for name in read.tables}
        faults = Faults(store.folder, call, errno.ENOSPC)
        with pytest.MonkeyPatch.context() as patch:
            faults.install(patch)
            try:
                store.commit(change)
            except InputError as error:
                return faults, store, error
        return faults, store, None

    faults, store, failure = run(0)
    assert failure is None
    before, after = store_state(original), store_state(store)
    assert before != after
    assert len(faults.seen) > 30
    for call in range(1, len(faults.seen) + 1):
        _, store, failure = run(call)
        assert "No space left" in str(failure), call
        assert len(str(failure).splitlines()) == 1
        assert store_state(store) in {before, after}
        assert not list(store.folder.rglob("*.part"))
        named = {part.file for part in store.manifest().parts} | {file for file, _ in store.manifest().old}
        assert {path.name for path in store.data.iterdir()} == named


def store_state(store: Store) -> tuple[object, ...]:
    """What stands in it: capture and year of each row of each table."""
    tables = ("captures", "channels", "messages", "roles")
    return tuple(
        tuple(sorted(map(str, store.read(name, ["capture", "year"]).to_pylist()))) for name in tables
    )


def test_a_disk_that_is_full_leaves_no_frames_behind(fleet: Path, tmp_path: Path) -> None:
    store = new_store(tmp_path / "a")
    for call in (1, 2, 4):  # opening, writing, renaming
        with pytest.MonkeyPatch.context() as patch:
            Faults(store.folder, call, errno.ENOSPC).install(patch)
            added = Adder(store, frames=True).add(of(fleet, "2021/1.log"))
        (text,) = added.refused.values()
        assert "cannot be written: No space left on device" in text
        assert list(store.data.iterdir()) == []


def _add_year(folder: str, fleet: str, year: int) -> None:
    Adder(open_store(Path(folder), create=True)).add(of(Path(fleet), str(year), "2021", year=None))


def test_two_processes_add_at_once(fleet: Path, tmp_path: Path) -> None:
    context = multiprocessing.get_context("spawn")
    folder = str(tmp_path / "a")
    both = [context.Process(target=_add_year, args=(folder, str(fleet), year)) for year in (2019, 2020)]
    for process in both:
        process.start()
    for process in both:
        process.join()
        assert process.exitcode == 0
    store = open_store(Path(folder))
    with Archive(store) as archive:
        assert archive.ask("SELECT count(*), count(DISTINCT capture) FROM captures").rows == ((6, 6),)
        doubled = "SELECT capture, channel, id FROM messages GROUP BY ALL HAVING count(*) > 1"
        assert archive.ask(doubled).rows == ()


def test_a_store_of_a_newer_version_is_refused(tmp_path: Path) -> None:
    store = new_store(tmp_path / "a")
    manifest = store.folder / "netcheck-archive.json"
    manifest.write_text(manifest.read_text().replace('"format": 1', '"format": 2'))
    before = content(store.folder)
    with pytest.raises(InputError, match="written by a newer version \\(format 2\\) – update netcheck"):
        open_store(store.folder, create=True)
    assert content(store.folder) == before


@pytest.mark.parametrize("text", ["", "{}", '{"format": 1, "parts": [{"file": "../x"}]}', "[]", "\x00"])
def test_a_damaged_manifest_is_one_line(text: str, tmp_path: Path) -> None:
    store = new_store(tmp_path / "a")
    (store.folder / "netcheck-archive.json").write_text(text)
    with pytest.raises(InputError, match="is damaged – put the archive back from a backup"):
        open_store(store.folder)


def test_a_truncated_part_is_one_line(fleet: Path, tmp_path: Path, capsys: Capsys) -> None:
    store = new_store(tmp_path / "a")
    add_fleet(store, fleet)
    path = store.paths("messages")[0]
    path.write_bytes(path.read_bytes()[:-100])
    code = main(["archive", "ask", "SELECT count(DISTINCT name) FROM messages", "--store", str(store.folder)])
    told = capsys.readouterr()
    assert (code, told.out) == (2, "")
    assert told.err.startswith(f"netcheck: {path}: this file of the archive is damaged or gone – ")
    assert told.err.count("\n") == 1


def test_a_folder_with_other_files_is_no_store(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("dear")
    with pytest.raises(InputError, match="is no archive and is not empty"):
        open_store(tmp_path, create=True)
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]
    with pytest.raises(InputError, match="there is no archive here – make one with netcheck archive add"):
        open_store(tmp_path)


def test_files_that_are_not_the_stores_are_left_alone(fleet: Path, tmp_path: Path) -> None:
    store = new_store(tmp_path / "a")
    stranger = store.data / "holiday.parquet"
    stranger.write_bytes(b"not ours")
    add_fleet(store, fleet)
    assert count(store) == 6
    assert stranger.read_bytes() == b"not ours"


def test_the_key_is_for_its_owner_alone(tmp_path: Path) -> None:
    store = new_store(tmp_path / "a")
    assert (store.folder / "key").stat().st_mode & 0o077 == 0
    (store.folder / "key").unlink()
    with pytest.raises(InputError, match="the key of the store is missing or damaged"):
        open_store(store.folder)


def test_a_year_needs_a_vehicle_file_that_has_it(fleet: Path, tmp_path: Path) -> None:
    store = new_store(tmp_path / "a")
    with pytest.raises(UsageError, match="1999 is outside the vehicle file's model years"):
        Adder(store).add(of(fleet, "2021", year=1999))
    with pytest.raises(UsageError, match="a model year without a vehicle file – give --vehicle"):
        Adder(store).add(find_captures([str(fleet / "2021")], CaptureFacts(year=2021)).captures)


def test_vins_in_the_clear_are_a_choice_for_the_whole_store(fleet: Path, tmp_path: Path) -> None:
    store = new_store(tmp_path / "a")
    store.keep_vin(keeps=True)
    Adder(store).add(find_captures([str(fleet / "2021")], CaptureFacts(vin=VINS[0])).captures)
    with Archive(store) as archive:
        assert archive.ask("SELECT DISTINCT van FROM captures").rows == ((VINS[0],),)
    with pytest.raises(UsageError, match="keeps VINs in the clear – make another store"):
        store.keep_vin(keeps=False)


def test_a_capture_that_lies_elsewhere_is_the_same_capture(fleet: Path, tmp_path: Path) -> None:
    store = new_store(tmp_path / "a")
    address = (fleet / "2021" / "1.log").as_uri()
    gone = (fleet / "2021" / "none.log").as_uri()
    facts = CaptureFacts(fleet / "gull.vehicle.toml", 2021)
    added = Adder(store).add(find_captures([address, gone], facts).captures)
    assert (added.added, list(added.refused)) == ([address], [gone])
    assert added.refused[gone].startswith(f"{gone}: cannot be read: ")
    assert added.refused[gone].endswith(" – check the address")
    # beside the file its marks are read, too, which an address does not have
    assert len(Adder(store).add(of(fleet, "2021/1.log")).roles) == 1
