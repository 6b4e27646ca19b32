"""What a page of the guide looks like on a terminal, whole."""

from __future__ import annotations

import pytest

from netcheck.report.guide import guide_page_text, topics_text

PAGE = """# Captures

A **mark** says *what* you did, `2*3*4`. See [the tap](tap.md), [an
example](../../dbc/skerry.toml) and [dbc/a.dbc](../../dbc/a.dbc).

## Look inside
### Values

- `--signal` takes a pattern
  of names
- **`-o` writes** a file
1. clip on

| verdict | status | means |
|---|---|---|
| `go` | 0 | every need is shown as well as the part asks |
| `no-go` | 1 | a need is missing |

```console
$ netcheck decode a.log --dbc dbc/skerry_conversion.dbc
time   value

- not a list
```

After.
"""

AT_50 = """\
Captures

A mark says what you did, `2*3*4`. See the tap
(netcheck guide tap), an example (dbc/skerry.toml)
and dbc/a.dbc.

── Look inside ───────────────────────────────────

Values

  - `--signal` takes a pattern of names
  - `-o` writes a file
  1. clip on

verdict  status  means
`go`     0       every need is shown as well as
                 the part asks
`no-go`  1       a need is missing

$ netcheck decode a.log --dbc dbc/skerry_conversion.dbc
time   value

- not a list

After.
"""


def test_a_page() -> None:
    assert guide_page_text(PAGE, width=50, colour=False) == AT_50


def test_colour_adds_nothing_but_colour() -> None:
    coloured = guide_page_text(PAGE, width=50, colour=True)
    assert coloured.replace("\x1b[1m", "").replace("\x1b[0m", "") == AT_50
    assert "\x1b[1mCaptures\x1b[0m\n" in coloured
    assert "\x1b[1mverdict  status  means\x1b[0m\n" in coloured


def test_a_table_that_is_too_wide_is_told_row_by_row() -> None:
    table = (
        "| what | against | ratio |\n|---|---|---|\n"
        "| reading a long log | the other reader's loop | 161 × |\n| starting | – | 7 × |\n"
    )
    assert guide_page_text(table, width=40, colour=False) == (
        "- reading a long log\n"
        "    against: the other reader's loop\n"
        "    ratio: 161 ×\n"
        "- starting\n"
        "    against: –\n"
        "    ratio: 7 ×\n"
    )


@pytest.mark.parametrize("colour", [False, True])
def test_topics(colour: bool) -> None:
    text = topics_text([("plan", "Can it be fitted?"), ("survey", "What is on it?")], width=80, colour=colour)
    assert text.replace("\x1b[1m", "").replace("\x1b[0m", "") == (
        "The guide: netcheck guide TOPIC prints a page.\n"
        "\n"
        "  plan    Can it be fitted?\n"
        "  survey  What is on it?\n"
    )
