"""Questions: named ones against answers worked out by hand, and SQL that can only read."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from netcheck.archive import Archive, Store, ask_named, default_folder, open_archive
from netcheck.cli import main
from netcheck.errors import InputError, UsageError

Capsys = pytest.CaptureFixture[str]


def ask(capsys: Capsys, store: Store, *words: str) -> str:
    assert main(["archive", "ask", *words, "--store", str(store.folder)]) == 0
    return capsys.readouterr().out


def test_since(store: Store, capsys: Capsys) -> None:
    text = " ".join(ask(capsys, store, "since", "reverse-engaged").split())
    assert text == (
        "reverse-engaged on body: since 2020 (captured: 2019, 2020 and 2021) Lever.LeverPosition moved on"
        " 1 of 1 van of 2020 and on 1 of 1 van of 2021; 2019: there and still in 2 captures."
        " reverse-engaged on rear: since 2020 (captured: 2019, 2020 and 2021) LeverCopy.CopyReverse moved on"
        " 1 of 1 van of 2020 and on 1 of 1 van of 2021; 2019: there and still in 2 captures."
    )
    line = ask(capsys, store, "since", "reverse-engaged", "--network", "rear").splitlines()[0]
    assert line == "reverse-engaged on rear: since 2020 (captured: 2019, 2020 and 2021)"


def test_where_says_what_the_vehicle_file_lacks_and_what_never_moved(archive: Archive) -> None:
    records = ask_named(archive, "where", ["tow-lamp"]).records
    assert [(record.year, record.is_mapped, record.captures, record.moved) for record in records] == [
        (2019, False, 2, 0), (2020, True, 2, 0), (2021, True, 2, 0)
    ]  # fmt: skip


def test_period_and_senders(archive: Archive) -> None:
    records = ask_named(archive, "period", ["lever"]).records
    assert [(record.year, record.network, record.id, record.captures) for record in records] == [
        (year, "body", "0x100", 2) for year in (2019, 2020, 2021)
    ]
    assert all(record.period_ms == pytest.approx(50, rel=0.02) for record in records)
    (rear,) = {record.senders for record in ask_named(archive, "who-sends", ["0x110"]).records}
    assert rear == ("GATE",)
    assert ask_named(archive, "who-sends", ["0x7AB"]).records == ()
    assert ask_named(archive, "who-sends", ["0x00000100"]).records == ()  # with 29 bits it is another id


def test_differs(archive: Archive) -> None:
    records = ask_named(archive, "differs", ["2019", "2020"]).records
    assert [(r.kind, r.network, r.subject, r.captures, r.seen) for r in records] == [
        ("message", "body", "Tow", (2, 2), (0, 2)),  # its module came in 2020
        ("role", "body", "reverse-engaged", (2, 2), (0, 2)),
        ("role", "rear", "reverse-engaged", (2, 2), (0, 2)),
    ]
    assert ask_named(archive, "differs", ["2020", "2021"]).records == ()


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["since", "reverse-engage"], "did you mean 'reverse-engaged'?"),
        (["period", "Leverr"], "did you mean 'Lever'?"),
        (["who-sends", "Lever"], "'Lever' is not an id – write it as 0x123"),
        (["who-sends", "0x7FFFFFFFF"], "0x7FFFFFFFF is not an id"),
        (["differs", "2019", "soon"], "'2019' and 'soon' are not two model years"),
        (["differs", "2019", "2031"], "no network was captured in both 2019 and 2031"),
        (["differs", "2019"], "ask differs YEAR YEAR"),
        (["sinse", "horn"], "no question 'sinse' – did you mean 'since'?"),
        (["since"], "ask since ROLE"),
    ],
)
def test_what_cannot_be_answered_is_one_line(
    words: list[str], message: str, store: Store, capsys: Capsys
) -> None:
    assert main(["archive", "ask", *words, "--store", str(store.folder)]) == 2
    told = capsys.readouterr()
    assert message in told.err
    assert (told.out, told.err.count("\n")) == ("", 1)


@pytest.mark.parametrize(
    "sql",
    [
        "COPY captures TO '{out}'",
        "COPY (SELECT 1) TO '{part}'",
        "CREATE TABLE x AS SELECT 1",
        "DROP VIEW captures",
        "INSERT INTO captures SELECT * FROM captures",
        "ATTACH '{out}'",
        "EXPORT DATABASE '{out}'",
        "SET enable_external_access = true",
        "INSTALL httpfs",
        "LOAD httpfs",
        "PRAGMA database_list",
        "CALL pragma_version()",
        "EXPLAIN ANALYZE COPY captures TO '{out}'",
        "SELECT 1; COPY captures TO '{out}'",
        "SELECT * FROM read_text('{key}')",
        "SELECT * FROM read_parquet('{stranger}')",
        "SELECT * FROM glob('/*')",
        "SELECT * FROM '{stranger}'",
        "FROM read_csv('/etc/hostname')",
        "SELEC 1 FROM captures",
        "SELECT no_such_column FROM captures",
        "SELECT * FROM no_such_table",
        "SELECT 'a'::INTEGER FROM captures",
        " ",
    ],
)
def test_sql_only_reads_the_archives_own_tables(
    sql: str, store: Store, tmp_path: Path, capsys: Capsys
) -> None:
    stranger = tmp_path / "x.parquet"
    stranger.write_bytes(store.paths("captures")[0].read_bytes())
    before = {path: path.read_bytes() for path in store.files()}
    places = {
        "out": tmp_path / "out",
        "part": store.paths("captures")[0],
        "key": store.folder / "key",
        "stranger": stranger,
    }
    assert main(["archive", "ask", sql.format(**places) + " ", "--store", str(store.folder)]) == 2
    told = capsys.readouterr()
    assert (told.out, told.err.count("\n")) == ("", 1)
    assert "Traceback" not in told.err
    assert {path: path.read_bytes() for path in store.files()} == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["x.parquet"]


def test_every_form_of_an_answer(store: Store, capsys: Capsys, tmp_path: Path) -> None:
    import pyarrow.parquet as pq

    sql = "SELECT year, count(*) AS n, NULL AS nothing, 0.5 AS half FROM captures GROUP BY year ORDER BY year"
    assert ask(capsys, store, sql) == (
        "year  n  nothing  half\n2019  2        –   0.5\n2020  2        –   0.5\n2021  2        –   0.5\n"
    )
    assert ask(capsys, store, sql, "--format", "csv").splitlines()[1] == "2019,2,,0.5"
    told = json.loads(ask(capsys, store, sql, "--format", "json"))
    assert told["schema"] == "netcheck.archive/1"
    assert told["rows"][0] == {"year": 2019, "n": 2, "nothing": None, "half": 0.5}
    target = tmp_path / "x.parquet"
    ask(capsys, store, sql, "--format", "parquet", "-o", str(target))
    assert pq.read_table(target).column("n").to_pylist() == [2, 2, 2]
    named = json.loads(ask(capsys, store, "since", "reverse-engaged", "--format", "json"))
    assert named["rows"][0]["moved"] == 0
    assert "since 2020" in named["text"][0]


def test_a_result_takes_the_place_of_no_file_of_the_store(store: Store, capsys: Capsys) -> None:
    before = {path: path.read_bytes() for path in store.files()}
    for path in before:
        code = main(
            ["archive", "ask", "FROM captures LIMIT 1", "--store", str(store.folder), "-o", str(path)]
        )
        assert code == 2
    assert {path: path.read_bytes() for path in store.files()} == before
    assert "is an input of this command" in capsys.readouterr().err


def test_list_and_show(store: Store, capsys: Capsys) -> None:
    assert main(["archive", "list", "--store", str(store.folder), "--format", "json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["captures"], len(told["files"]), told["keeps_vin"]) == (6, 6, False)
    assert [(g["year"], g["captures"], g["vans"], g["networks"]) for g in told["groups"]] == [
        (year, 2, 1, ["body", "rear"]) for year in (2019, 2020, 2021)
    ]
    first = told["files"][0]
    assert main(["archive", "show", first["capture"][:8], "--store", str(store.folder)]) == 0
    assert first["file"] in capsys.readouterr().out
    assert main(["archive", "show", "1.log", "--store", str(store.folder)]) == 2
    assert "the archive has 3 captures called '1.log'" in capsys.readouterr().err
    assert main(["archive", "show", "--tables"]) == 0
    assert "frames_hash" in capsys.readouterr().out


def test_an_answer_in_the_libraries_of_python(archive: Archive) -> None:
    sql = "SELECT capture, frames FROM captures ORDER BY capture"
    relation = archive.sql("FROM captures").filter("year = 2020").aggregate("count(*) AS n")
    assert relation.fetchall() == [(2,)]
    frame, table, polar = archive.to_pandas(sql), archive.to_arrow(sql), archive.to_polars(sql)
    assert list(frame["frames"]) == table.column("frames").to_pylist() == polar["frames"].to_list()
    with pytest.raises(UsageError, match="only reads"):
        archive.sql("DROP VIEW captures")


def test_an_empty_archive_answers(tmp_path: Path, capsys: Capsys) -> None:
    from tests.archive.fleet import new_store

    store = new_store(tmp_path / "a")
    assert ask(capsys, store, "SELECT count(*) AS n FROM frames") == "n\n0\n"
    assert ask(capsys, store, "FROM roles") == "No rows.\n"
    assert main(["archive", "list", "--store", str(store.folder)]) == 0
    assert "No captures in" in capsys.readouterr().out


def test_the_default_archive_is_the_users(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On Linux by the XDG base directory specification, in which relative paths are to be ignored."""
    monkeypatch.setenv("NETCHECK_ARCHIVE_DIR", str(store.folder))
    with open_archive() as archive:
        assert archive.ask("SELECT count(*) FROM captures").rows == ((6,),)
    monkeypatch.delenv("NETCHECK_ARCHIVE_DIR")
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    assert default_folder() == tmp_path / "data" / "netcheck" / "archive"
    for relative in ("", "data"):
        monkeypatch.setenv("XDG_DATA_HOME", relative)
        assert default_folder() == tmp_path / ".local" / "share" / "netcheck" / "archive"
    with pytest.raises(InputError, match="there is no archive here – make one with netcheck archive add"):
        open_archive()
