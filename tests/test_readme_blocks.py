"""Renewed blocks show what the old ones showed, in today's words."""

from __future__ import annotations

import pytest

from tests import readme_blocks
from tests.readme_blocks import blocks, renew, renewed

HEAD = ["Skerry 240, model year 2017", ""]
WHY = [
    "X NO-GO – do not fit it.",
    "  Why   clutch-pedal is missing: not on drive, where the",
    "        part is wired.",
]
REST = [
    "",
    "Shown",
    "  + brake-pedal",
    "  + vehicle-speed",
    "",
    "Checklist",
    "Before fitting",
    "  [ ] 1",
    "  [ ] 2",
]
PAGE = """# A

```console
$ netcheck plan a
no-go
```

```sh
ls
```

```console
$ netcheck tap b
wrong
…
```
"""


@pytest.mark.parametrize(
    ("shown", "printed", "now"),
    [
        pytest.param([*HEAD, *WHY, *REST], [*HEAD, *REST], [*HEAD, *REST], id="all of it"),
        pytest.param([*HEAD, "…"], [*HEAD, *REST], [*HEAD, "…"], id="nothing to do"),
        pytest.param(
            [*HEAD, *WHY, "…"],
            [
                *HEAD,
                "X NO-GO – do not fit it.",
                "  Why  clutch-pedal is missing: it is not on drive,",
                "       where the part is",
                "       wired.",
                *REST,
            ],
            [
                *HEAD,
                "X NO-GO – do not fit it.",
                "  Why  clutch-pedal is missing: it is not on drive,",
                "       where the part is",
                "       wired.",
                "…",
            ],
            id="reworded and wrapped anew",
        ),
        pytest.param(
            ["…", "", "Checklist", "Before fitting", "…"],
            [*HEAD, *REST[:-4], "Worklist", *REST[-3:]],
            ["…", "", "Worklist", "Before fitting", "…"],
            id="the first line behind the gap changed",
        ),
        pytest.param(
            ["Shown", "  + brake-pedal", "…", "  [ ] 1", "…"],
            ["Proven", "  + brake-pedal", "  + vehicle-speed", "", "  [ ] 1", "  [ ] 2"],
            ["Proven", "  + brake-pedal", "…", "  [ ] 1", "…"],
            id="several gaps",
        ),
        pytest.param(["one", "…", "two"], ["one!", "two"], ["one!", "two"], id="nothing left to leave out"),
        pytest.param(
            ["time,value", "1.0,3 …", "…"],
            ["time,value,label", "1.0,3 …", "2.0,4"],
            ["time,value,label", "1.0,3 …", "…"],
            id="an ellipsis inside a line is a word",
        ),
    ],
)
def test_lines_to_show_now(shown: list[str], printed: list[str], now: list[str]) -> None:
    assert renewed(shown, printed) == now


def test_a_page_is_renewed_in_place(monkeypatch: pytest.MonkeyPatch) -> None:
    said = {"plan a": ["go"], "tap b": ["all right", "end"]}
    monkeypatch.setattr(readme_blocks, "printed_by", said.__getitem__)
    new = renew(PAGE)
    assert new == PAGE.replace("no-go", "go").replace("wrong\n", "all right\n")
    assert renew(new) == new
    assert [(block.command, block.shown) for block in blocks(new)] == [
        ("plan a", ["go"]),
        ("tap b", ["all right", "…"]),
    ]
