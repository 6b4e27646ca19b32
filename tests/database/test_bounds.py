"""DBC texts made to take minutes or gigabytes: refused with their line before cantools sees them.

Texts of these kinds took minutes or gigabytes without the bounds. Most tests call the bounds themselves,
which look at the text alone.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from cantools.database.can.formats import dbc
from hypothesis import given
from hypothesis import strategies as st

from netcheck.database import _bounds, _load, load_database
from netcheck.database._bounds import check_bounds
from netcheck.database._text import dbc_text
from netcheck.errors import InputError
from tests.database.test_load import HEAD, write

MESSAGE = 'BO_ 1 One: 8 GATE\n SG_ P M : 0|8@1+ (1,0) [0|0] "" GATE\n SG_ Q m0 : 8|8@1+ (1,0) [0|0] "" GATE\n'


def refused(body: str) -> str:
    with pytest.raises(InputError) as caught:
        check_bounds(dbc_text(HEAD + body), "x.dbc")
    text = str(caught.value)
    assert text.startswith("x.dbc: line ")
    assert " – correct it in a copy" in text
    assert len(text) < 250
    return text.removeprefix("x.dbc: ")


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ("BO_ 1 One: 1000000 GATE\n", "line 9: message One has 1000000 bytes, the most is 65,535"),
        (
            "BO_1 One:1000000 GATE BO_ 2 T:8 G\nBO_ 1 One//:\n:+65536 A",
            "line 10: message One has +65536 bytes",
        ),
        ("BO_ 1 One: -1 GATE\n", "line 9: message One has -1 bytes, the most is 65,535"),
        (MESSAGE.replace("8|8", "8|-8"), "line 11: signal Q has -8 bits, the most is 524,280"),
        (MESSAGE.replace("8|8", "1000000|8"), "line 11: signal Q has 1000000 as its start bit, the most"),
        (MESSAGE.replace("8|8", "8|1000000"), "line 11: signal Q has 1000000 bits, the most is 524,280"),
        (MESSAGE + "SG_ X:0|" + "9" * 5000 + "@1+", "line 12: signal X has 99999999999999999999 bits"),
        ("BO_ 1 " + "x" * 9999 + ": 99999 GATE\n", "line 9: message xxxx"),
    ],
)
def test_widths_lengths_and_places(body: str, said: str):
    assert said in refused(body)


ATTRIBUTE = 'BA_DEF_ BO_ "Far" INT {low} 5;\nBA_DEF_DEF_ "Far" {default};\nBA_ "Far" BO_ 1 {value};\n'


@pytest.mark.parametrize(
    ("given", "line"),
    [
        ({"low": "-1e300100000"}, 11),
        ({"default": '"1e1000000"'}, 12),
        ({"default": '" 1_0E+1_000_000 "'}, 12),  # what Python's Decimal takes
        ({"default": '"\u0661e\u0669\u0669\u0669\u0669\u0669\u0669\u0669"'}, 12),  # Arabic-Indic digits
        ({"value": "9" * 501}, 13),
        ({"value": "1." + "0" * 99 + "e500"}, 13),
    ],
)
def test_numbers_of_very_many_digits(given: dict[str, str], line: int):
    attributes = ATTRIBUTE.format(**{"low": "0", "default": "0", "value": "3"} | given)
    said = refused("BO_ 1 One: 8 GATE\n\n" + attributes)
    assert said.startswith(f"line {line}: number ")
    assert "has more than 500 digits" in said


@pytest.mark.parametrize("value", ["3e5", "1e-1000000", '"1e99 of 1e9999"', "1e499", '"e1000"'])
def test_numbers_that_cantools_can_read(value: str):
    check_bounds(dbc_text(HEAD + ATTRIBUTE.format(low="0", default=value, value="1")), "x.dbc")


@pytest.mark.parametrize(
    "pages",
    [
        "0-65536",
        "0-4294967295",
        "3-3, 1 - 99999999999999999999",
        "0 -99999999",
        "1 99999999",
        "1.5 2 0-99999999",
    ],
)
def test_page_ranges(pages: str):
    assert "line 12: page range " in refused(MESSAGE + f"SG_MUL_VAL_ 1 Q P {pages};\n")


def test_many_page_ranges():
    assert "line 12: page ranges have more than 4,194,304 pages in all" in refused(
        MESSAGE + "SG_MUL_VAL_ 1 Q P " + ",".join(["0-65535"] * 65) + ";\n"
    )
    assert "line 12: page ranges have more than" in refused(
        MESSAGE + "SG_MUL_VAL_ 9 Q P " + ",".join(["0-65535"] * 65) + ";\n"
    )


def paged(number: int, ranges: str) -> str:
    """A chain of multiplexers, each on the pages of the one before."""
    names = [f"S{index}" for index in range(number)]
    signals = "".join(f' SG_ {name} m0M : 0|8@1+ (1,0) [0|0] "" A\n' for name in names[1:])
    entries = "".join(f"SG_MUL_VAL_ 1 {inner} {outer} {ranges};\n" for outer, inner in pairwise(names))
    return f'BO_ 1 One: 8 A\n SG_ S0 M : 0|8@1+ (1,0) [0|0] "" A\n{signals}{entries}'


@pytest.mark.parametrize(
    "body",
    [
        paged(5, "0-99"),
        'BO_ 1 One: 64 A\n SG_ M M : 0|16@1+ (1,0) [0|0] "" A\n'
        + "".join(f' SG_ S{page} m{page} : 16|8@1+ (1,0) [0|0] "" A\n' for page in range(20_000)),
        'BO_ 1 One: 64 A\n SG_ M M : 0|16@1+ (1,0) [0|0] "" A\n SG_ S m1 : 16|8@1+ (1,0) [0|0] "" A\n'
        + "VAL_ 1 M "
        + " ".join(f'{page} "x"' for page in range(250_000))
        + ";\n",
        'BO_ 1 One: 65535 A\n SG_ M M : 0|16@1+ (1,0) [0|0] "" A\n SG_ S m1 : 16|8@1+ (1,0) [0|0] "" A\n'
        "SG_MUL_VAL_ 1 S M 0-5000;\n",
        "".join(f"BO_ {number} M{number}: 65535 A\n" for number in range(5000)),
    ],
    ids=["nested", "many-signals", "many-labels", "long", "many-long"],
)
def test_pages_that_multiply(body: str):
    assert "those before it have too many pages to work out" in refused(body)


def test_senders():
    body = "".join(f"BO_TX_BU_ 1 : {','.join(['A'] * 100)};\n" for _ in range(50))
    assert "line 52: message One has more than 4,096 senders" in refused(MESSAGE + body)


def test_words(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(_bounds, "_MOST_WORDS", 1000)
    check_bounds(dbc_text(HEAD + "A" * 2000), "x.dbc")
    with pytest.raises(InputError, match="has more than 1,000 words"):
        check_bounds(dbc_text(HEAD + ";" * 1000), "x.dbc")


@pytest.mark.parametrize(
    "tail",
    [
        "SG_MUL_VAL_ 1 Q P " + "1" * 200_000 + ";\n",
        "SG_MUL_VAL_ 1 Q P " + " " * 200_000 + "x;\n",
        "/" * 200_000,
        '"\\"' * 100_000,
        "\\" * 200_000 + '"',
        "BO_ " + "1" * 200_000,
        "SG_ " + "a" * 200_000,
        'VAL_ 1 S "a" ' * 20_000,
        "VAL_ 1 " + "a" * 200_000,
        "BU_BO_REL_ " * 20_000,
    ],
)
def test_looking_over_is_not_quadratic(tmp_path: Path, tail: str):
    """Each took over ten seconds with a pattern that begins anew at every character; a file, as they come."""
    assert any("line 12" in text for text in told(write(tmp_path, MESSAGE + tail)))


def told(path: Path) -> tuple[str, ...]:
    try:
        return load_database(path).warnings
    except InputError as error:
        return (str(error),)


def test_what_is_within_bounds_is_read(tmp_path: Path):
    path = write(
        tmp_path,
        MESSAGE + "SG_MUL_VAL_ 1 Q P 0-2047;\nBO_ 2 Long: 4095 GATE\n"
        ' SG_ A : 0|8@1+ (1,0) [0|0] "" GATE\n SG_ B : 4|8@1+ (1,0) [0|0] "" GATE\n',
    )
    database = load_database(path)
    assert database.warnings == (f"{path}: The signals B and A are overlapping in message Long",)
    assert len(database.messages[0].signals[1].pages[0].values) == 2048


def test_a_message_too_long_to_check_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    path = write(
        tmp_path,
        'BO_ 2 Long: 65535 GATE\n SG_ A : 0|8@1+ (1,0) [0|0] "" GATE\n SG_ B : 4|8@1+ (1,0) [0|0] "" GATE\n'
        'BO_ 3 Wide: 8 GATE\n SG_ C : 0|524280@1+ (1,0) [0|0] "" GATE\n',
    )
    database = load_database(path)
    assert database.warnings == (
        f"{path}: message Long is too long to check whether its signals overlap",
        f"{path}: message Wide is too long to check whether its signals overlap",
        f"{path}: signal C of message Wide is left out: it has 524280 bits, more than 64",
    )
    assert [signal.name for signal in database.messages[0].signals] == ["A", "B"]


def test_a_file_that_is_too_large(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(_load, "LARGEST", 1 << 20)
    path = tmp_path / "x.dbc"
    path.write_bytes(b" " * (3 << 20))
    with pytest.raises(InputError, match="3 MB is too large for this kind of file"):
        load_database(path)


numbers = st.sampled_from(["0", "1", "7", "9", "20", "65536", "1000000", "99999999999999"])
spaces = st.sampled_from(["", " ", "\n", " // x\n", "\t"])


@given(st.lists(spaces, min_size=8, max_size=8), numbers, numbers, numbers, st.sampled_from(["+", "", "-"]))
def test_what_cantools_takes_is_seen_however_it_is_spaced(
    gaps: list[str], length: str, start: str, width: str, sign: str
):
    """Whatever passes the bounds has lengths within them for cantools, too."""
    a, b, c, d, e, f, g, h = gaps
    text = (
        f"{HEAD}BO_{a or ' '}1{b}One{c}:{d}{sign}{length} GATE\n"
        f' SG_{e or " "}S{f}:{g}{start}{h}|{width}@1+ (1,0) [0|0] "" GATE\n'
    )
    try:
        check_bounds(dbc_text(text), "x.dbc")
    except InputError:
        return
    try:
        (message,) = dbc.load_string(text, strict=False).messages
    except Exception:
        return  # refused, which is told as well
    assert message.length <= 65_535
    assert all(max(signal.start, signal.length) <= 8 * 65_535 for signal in message.signals)
