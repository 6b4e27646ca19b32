"""Bytes to a table: whatever a path may lead to."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.errors import InputError
from netcheck.files import _toml, load_marks, load_vehicle, parse_toml, read_text
from tests.files.examples import MARKS


def says(path: Path, data: bytes) -> str:
    path.write_bytes(data)
    with pytest.raises(InputError) as caught:
        load_marks(path)
    return str(caught.value).removeprefix(f"{path}: ")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "x.marks.toml"


def test_missing(path: Path) -> None:
    with pytest.raises(InputError) as caught:
        load_marks(path)
    assert str(caught.value) == f"{path}: no such file – check the path"


def test_directory(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"this is a directory – give the file itself$"):
        load_vehicle(tmp_path)


def test_a_path_through_a_file(path: Path) -> None:
    path.write_text(MARKS)
    with pytest.raises(InputError, match="cannot be read: Not a directory"):
        load_marks(path / "y.toml")


def test_a_path_with_a_nul_character() -> None:
    with pytest.raises(InputError, match="cannot be read: "):
        load_marks(Path("a\0b.toml"))


def test_a_path_that_is_far_too_long(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be read: "):
        load_marks(tmp_path / ("x" * 5000))


def test_unreadable(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(path: Path, _: int) -> bytes:
        raise PermissionError(13, "Permission denied", str(path))

    path.write_text(MARKS)
    monkeypatch.setattr(_toml, "read_whole", refuse)
    with pytest.raises(InputError, match=r"cannot be read: Permission denied$"):
        load_marks(path)


@pytest.mark.parametrize(
    ("data", "text"),
    [
        (b"", "the file is empty"),
        (b" \r\n\t\n", "the file is empty"),
        (b"\xef\xbb\xbf", "the file is empty"),
        (b'kind = "marks"\nformat = 1\n# \xe9', "line 3: byte 0xE9 is not UTF-8 – save it as UTF-8 text"),
        (b"\xff\xd8\xff\xe0\x00\x10JFIF", "line 1: byte 0xFF is not UTF-8 – save it as UTF-8 text"),
        (
            b"kind = 'marks'\nformat = \n",
            "line 2: not valid TOML: invalid value – texts need quotes, tables need [brackets]",
        ),
        (b"a = 1\nb = 2\n\na = 3\n", "line 4: the key 'a' is written twice – keep one"),
        (b"[x]\n[y]\n[x]\n", "line 3: the table [x] is written twice – combine the two tables"),
        (b"a.b = 1\n[a]\n", "line 2: the table [a] is written twice – combine the two tables"),
        (b"x = {a = 1, a = 2}\n", "line 1: the key 'a' is written twice – keep one"),
        (b"x = {a = 1}\nx.b = 2\n", "line 2: the key 'x.b' is written twice – keep one"),
        (
            b"[x]\na = 1\n\n[[x]]\na = 2\n",
            "line 4: this line has [[x]], a line above has [x] – "
            "write every entry of a list with two brackets",
        ),
        (
            b"[[x]]\na = 1\n[x] # the second\na = 2\n",
            "line 3: this line has [x], a line above has [[x]] – "
            "write every entry of a list with two brackets",
        ),
        (b"x = 1\n[x]\n", "line 2: a key is written twice – keep one"),
    ],
)
def test_what_it_says(path: Path, data: bytes, text: str) -> None:
    assert says(path, data) == text


def test_values_that_python_cannot_hold(path: Path) -> None:
    assert says(path, b"a = 1" + b"0" * 5000).startswith("a value cannot be read: ")
    assert says(path, b"a = " + b"[" * 100_000) == "lists or tables are nested too deeply"


def test_far_too_large(path: Path) -> None:
    assert says(path, b"#" * (5 << 20)) == "5 MB is too large for this kind of file"


def test_a_capture_instead_of_a_file(tmp_path: Path) -> None:
    path = tmp_path / "drive.log"
    text = says(path, b"(1436509052.249713) can0 123#0011\n")
    assert text == (
        "line 1: not valid TOML: invalid statement – is this the right file? Its name does not end in .toml"
    )


def test_a_byte_order_mark_and_crlf_are_fine(path: Path) -> None:
    path.write_bytes(b"\xef\xbb\xbf" + MARKS.replace("\n", "\r\n").encode())
    (loaded,) = load_marks(path)
    assert (loaded.mark.role, loaded.mark.from_, loaded.mark.to) == ("reverse-engaged", 30.0, 33.0)
    assert (loaded.file, loaded.where) == (path, "mark[0]")


def test_the_text_is_what_is_parsed(path: Path) -> None:
    path.write_text(MARKS, encoding="utf-8")
    assert parse_toml(path, read_text(path))["mark"][0]["state"] == "R"
