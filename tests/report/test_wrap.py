"""Lines by width. Cell widths: Unicode Standard Annex 11, classes W and F take two columns."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.report._wrap import cells, clean, pieces, wrap

TEXTS = st.text(
    st.characters(codec="utf-8") | st.sampled_from("ab /_.-:\u00a0\u0301\u200d木Ａ→\x1b\n"), max_size=120
)


@pytest.mark.parametrize(
    ("text", "columns"),
    [("abc", 3), ("→ ½", 3), ("木", 2), ("Ａ", 2), ("e\u0301", 1), ("", 0)],
)
def test_cells(text: str, columns: int) -> None:
    assert cells(text) == columns


def test_clean_keeps_escape_sequences_from_the_terminal() -> None:
    assert clean("a\x1b[31mred\x07 \t\n b") == "a\ufffd[31mred\ufffd b"


@given(TEXTS)
def test_clean_text_is_one_line_of_printable_characters(text: str) -> None:
    cleaned = clean(text)
    assert len(cleaned.splitlines()) <= 1
    assert not any(unicodedata.category(char) in {"Cc", "Cf", "Cs"} for char in cleaned)


def test_wrap_breaks_at_blanks() -> None:
    assert wrap("one two three four", 9) == ["one two", "three", "four"]


def test_the_first_line_may_be_shorter() -> None:
    assert wrap("one two three", 9, first=4) == ["one", "two three"]


def test_a_long_path_overhangs_on_a_line_of_its_own() -> None:
    assert wrap("read logs/skerry_240/comfort_before.log twice", 16) == [
        "read",
        "logs/skerry_240/comfort_before.log",
        "twice",
    ]


def test_text_of_a_script_without_blanks_is_broken_anywhere() -> None:
    assert wrap("木木木木木", 4) == ["木木", "木木", "木"]
    assert wrap("木木木/木木_木", 4) == ["木木木/木木_木"]  # a path is not


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("at 500 kbit/s, then 1.5 m", ["at", "500 kbit/s,", "then", "1.5 m"]),
        ("12 of 64 ids fit, 3 of 3", ["12 of 64 ids", "fit,", "3 of 3"]),
        ("(~5 s) 99.5 % at −40 °C", ["(~5 s)", "99.5 %", "at", "−40 °C"]),
        ("1,234 frames on can0", ["1,234 frames", "on", "can0"]),
        ("in 2020 and 2021", ["in", "2020", "and", "2021"]),  # no unit and nothing counted
        ("old 03 00 1F 00, new", ["old", "03 00 1F 00,", "new"]),
        ("(03 00) was 1F before", ["(03 00)", "was", "1F", "before"]),
        ("see 'my van/x 1.log': it", ["see", "'my van/x 1.log':", "it"]),
        (
            "the vehicle's DBC is the part's x.dbc",
            ["the", "vehicle's", "DBC", "is", "the", "part's", "x.dbc"],
        ),
    ],
)
def test_what_is_read_as_one_is_one_piece(text: str, expected: list[str]) -> None:
    assert pieces(text) == expected


PATHS = st.lists(st.text("abc.-_0木é", min_size=1, max_size=20), min_size=1, max_size=8).map(
    lambda names: "/" + "/".join(names)
)
NAMES = st.from_regex(r"[A-Z][A-Za-z0-9_]{0,70}", fullmatch=True)
IDS = st.integers(0, 0x1FFFFFFF).map("0x{:03X}".format)
AMOUNTS = st.builds(
    "{} {}".format,
    st.integers(0, 10**7).map("{:,}".format) | st.floats(0, 1e4).map("{:.2f}".format),
    st.sampled_from(["kbit/s", "ms", "s", "m", "V", "Ω", "%", "°C", "frames", "ids", "marks"]),
)
SHARES = st.builds("{} of {} ids".format, st.integers(0, 99), st.integers(0, 99))
BYTES = st.binary(min_size=2, max_size=64).map(lambda data: data.hex(" ").upper())
UNBROKEN = st.one_of(PATHS, NAMES, IDS, AMOUNTS, SHARES, BYTES)
WORDS = st.sampled_from(["the", "network", "is", "silent", "→", "read", "and", "before", "–"])
TAILS = st.sampled_from(["", ",", ".", ":", ";"])


@given(st.lists(st.tuples(WORDS, UNBROKEN, TAILS), min_size=1, max_size=12), st.integers(40, 200))
def test_no_end_of_a_line_falls_into_what_is_read_as_one(
    parts: list[tuple[str, str, str]], width: int
) -> None:
    text = " ".join(f"{word} {unbroken}{tail}" for word, unbroken, tail in parts)
    lines = wrap(text, width)
    assert " ".join(lines) == text
    at = 0
    for _, unbroken, tail in parts:
        at = next(i for i in range(at, len(lines)) if unbroken + tail in lines[i])
    for line in lines:
        assert cells(line) <= width or pieces(line) == [line]


@given(TEXTS, st.integers(2, 40), st.integers(2, 40))
def test_no_line_is_too_wide_but_for_one_piece_and_nothing_is_lost(text: str, width: int, first: int) -> None:
    lines = wrap(text, width, first)
    assert lines
    for line, room in zip(lines, [first] + [width] * len(lines), strict=False):
        assert cells(line) <= room or pieces(line) == [line]
    assert "".join(lines).replace(" ", "") == clean(text).replace(" ", "")


@given(TEXTS)
def test_the_pieces_are_the_text(text: str) -> None:
    assert " ".join(pieces(text)) == clean(text)
