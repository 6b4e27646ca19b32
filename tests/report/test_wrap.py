"""Lines by width. Cell widths: Unicode Standard Annex 11, classes W and F take two columns."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.report._wrap import cells, clean, wrap

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


def test_a_long_path_is_broken_where_it_can_be_read_on() -> None:
    assert wrap("logs/skerry_240/comfort_before.log", 16) == [
        "logs/skerry_240/",
        "comfort_before.",
        "log",
    ]


def test_a_long_word_without_such_a_place_is_broken_anywhere() -> None:
    assert wrap("abcdefghij", 4) == ["abcd", "efgh", "ij"]


@given(TEXTS, st.integers(2, 40), st.integers(2, 40))
def test_no_line_is_too_wide_and_nothing_is_lost(text: str, width: int, first: int) -> None:
    lines = wrap(text, width, first)
    assert lines
    assert cells(lines[0]) <= first
    assert all(cells(line) <= width for line in lines[1:])
    assert "".join(lines).replace(" ", "") == clean(text).replace(" ", "")
