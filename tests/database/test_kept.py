"""Layouts from the user's cache folder are those that the parser gives."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import opendbc
import pytest

from netcheck.cache import FOLDER_VARIABLE
from netcheck.database import _kept, _load, load_database, to_plain
from netcheck.errors import InputError

DEMO = Path(__file__).parent.parent.parent / "dbc"
OPEN = Path(opendbc.__file__).parent / "dbc"
COMPLAINED = """VERSION ""
BU_: A
BO_ 1 First: 2 A
 SG_ Inside : 0|8@1+ (1,0) [5|3] "km/h" A
 SG_ Outside : 12|8@1+ (0.1,-40) [0|0] "°C" A
BO_ 2 Empty: 8 A
VAL_ 1 Inside 0 "nichts" 1 "größer" ;
"""
LOAD = """
import sys
from netcheck.database import load_database
print(len(load_database(sys.argv[1]).messages), "cantools" in sys.modules, "numba" in sys.modules)
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(_load, "read_layout", _kept.read_layout)
    monkeypatch.setattr(_load, "keep_layout", _kept.keep_layout)
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "cache"))
    return tmp_path / "cache"


@pytest.fixture
def parses(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Paths of the files that were parsed."""
    parsed: list[str] = []
    parse = _load.parse_dbc

    def watched(path: str, text: str) -> object:
        parsed.append(path)
        return parse(path, text)

    monkeypatch.setattr(_load, "parse_dbc", watched)
    return parsed


def entries(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_file())


@pytest.mark.parametrize(
    "path",
    [
        *sorted(DEMO.glob("*.dbc")),
        OPEN / "ford_lincoln_base_pt.dbc",
        OPEN / "volvo_v60_2015_pt.dbc",
        OPEN / "cadillac_ct6_object.dbc",
    ],
    ids=lambda path: path.stem,
)
def test_the_second_load_is_equal_and_parses_nothing(folder, parses, path):
    parsed = load_database(path, cache=False)
    assert entries(folder) == []
    assert load_database(path) == parsed
    assert len(entries(folder)) == 1
    parses.clear()
    again = load_database(path)
    assert again == parsed
    assert to_plain(again) == to_plain(parsed)
    assert parses == []


def test_what_the_loader_had_to_overlook_is_said_again(folder, parses, tmp_path):
    path = tmp_path / "odd.dbc"
    path.write_text(COMPLAINED, encoding="utf-8")
    first = load_database(path)
    assert len(first.warnings) >= 2
    assert load_database(path) == first
    assert len(parses) == 1


def test_a_copy_elsewhere_is_named_as_what_it_is(folder, parses, tmp_path):
    one, two = tmp_path / "one.dbc", tmp_path / "two.dbc"
    one.write_text(COMPLAINED, encoding="utf-8")
    shutil.copy(one, two)
    first, second = load_database(one), load_database(two)
    assert parses == [str(one)]
    assert {message.file for message in second.messages} == {str(two)}
    assert second.warnings == tuple(warning.replace(str(one), str(two)) for warning in first.warnings)
    assert [replace(message, file="") for message in second.messages] == [
        replace(message, file="") for message in first.messages
    ]


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="files have no owners here")
def test_a_layout_that_others_could_have_written_is_not_taken(folder, parses):
    path = DEMO / "skerry_drive.dbc"
    parsed = load_database(path)
    folder.chmod(0o777)
    assert load_database(path) == parsed
    assert len(parses) == 2


def test_a_changed_file_is_parsed_again(folder, parses, tmp_path):
    path = tmp_path / "odd.dbc"
    path.write_text(COMPLAINED, encoding="utf-8")
    load_database(path)
    status = path.stat()
    path.write_text(COMPLAINED.replace("(0.1,-40)", "(0.2,-40)"), encoding="utf-8")
    os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns))  # content counts, not its age
    message = load_database(path).message("First")
    assert message is not None
    outside = message.signal("Outside")
    assert outside is None or outside.scale == 0.2
    assert len(parses) == 2


@pytest.mark.parametrize("part", ["installed", "_reader"])
def test_another_parser_or_loader_takes_nothing_of_the_old_one(folder, parses, monkeypatch, part):
    path = DEMO / "skerry_drive.dbc"
    load_database(path)
    monkeypatch.setattr(_kept, part, lambda *_: "another" if part == "installed" else b"another")
    load_database(path)
    assert len(parses) == 2


@pytest.mark.parametrize(
    "body", [b"", b"{", b"[]", b"null", b'{"messages": [1]}', b'{"messages": [], "format": 99}', b"\xff"]
)
def test_a_damaged_entry_is_rebuilt_silently(folder, parses, capfd, monkeypatch, body):
    path = DEMO / "skerry_drive.dbc"
    parsed = load_database(path, cache=False)
    _kept.write_entry(_kept.KIND, _kept._key(path.read_bytes()), body)
    parses.clear()
    assert load_database(path) == parsed
    assert load_database(path) == parsed
    assert len(parses) == 1
    assert capfd.readouterr() == ("", "")


def test_without_the_cache_nothing_is_kept_and_nothing_taken(folder, parses):
    path = DEMO / "skerry_drive.dbc"
    load_database(path, cache=False)
    assert not folder.exists()
    load_database(path)
    load_database(path, cache=False)
    assert len(parses) == 3


def test_a_faulty_file_is_refused_each_time_and_not_kept(folder, tmp_path):
    path = tmp_path / "picture.dbc"
    path.write_text("no DBC at all", encoding="utf-8")
    for _ in range(2):
        with pytest.raises(InputError, match="not a DBC file"):
            load_database(path)
    assert not folder.exists()


def test_a_hit_imports_neither_parser_nor_compiler(folder):
    command = [sys.executable, "-c", LOAD, str(DEMO / "skerry_drive.dbc")]
    results = [subprocess.run(command, capture_output=True, text=True, check=True).stdout for _ in range(2)]
    count = len(load_database(DEMO / "skerry_drive.dbc", cache=False).messages)
    assert results == [f"{count} True False\n", f"{count} False False\n"]


def test_processes_that_load_the_same_file_at_once_all_have_it(folder):
    command = [sys.executable, "-c", LOAD, str(DEMO / "skerry_comfort.dbc")]
    running = [subprocess.Popen(command, stdout=subprocess.PIPE, text=True) for _ in range(4)]
    counts = {process.communicate()[0].split()[0] for process in running}
    assert counts == {str(len(load_database(DEMO / "skerry_comfort.dbc", cache=False).messages))}
    assert len(entries(folder)) == 1
