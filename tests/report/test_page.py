"""A page: what of it reaches a terminal, and how wide it is."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from netcheck.report._page import Page, StyledText
from tests.report.layout import overlong

TEXTS = st.text("ab/_. 1F0é木\x1b\x07\x9b\u202e\u200b", max_size=150)


@given(TEXTS, TEXTS, st.integers(40, 200), st.integers(0, 8), st.none() | st.integers(0, 60))
def test_no_line_is_too_wide_and_none_takes_control_characters(
    lead: str, text: str, width: int, indent: int, column: int | None
) -> None:
    page = Page(width)
    page.heading(lead)
    page.text(text, indent=indent)
    page.entry(lead, text, indent=indent, column=column)
    shown = page.render(colour=False)
    assert overlong(shown, width) == []
    assert all(char.isprintable() or char == "\n" for char in shown)


def test_a_raw_line_is_escaped_as_toml_and_json_have_it() -> None:
    page = Page(80)
    page.raw(StyledText('  file = "a\x7f\u202e.log"'))
    assert page.render(colour=False) == '  file = "a\\u007f\\u202e.log"\n'
