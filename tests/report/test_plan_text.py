"""The text report. Whole outputs stand in ``golden/``.

A meant change of wording: ``python -m tests.report.examples`` writes them anew; read the difference
before committing it.
"""

import re
import tomllib
from dataclasses import fields, is_dataclass, replace
from enum import Enum
from typing import get_args

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from netcheck.coding import CodingRow, CodingStatus, Write
from netcheck.files import Retrofit
from netcheck.network import Candidate, Gaps
from netcheck.plan import Plan
from netcheck.report import plan_text, step_text
from netcheck.verdict import Reason, Status, ToldByReader, Verdict
from netcheck.work import STAGES, GateCheck, Mind, Step
from tests.report import examples, made
from tests.report.examples import EXAMPLES, GOLDEN
from tests.report.layout import overlong

ESCAPE = re.compile(r"\x1b\[[0-9;]*m")


def text_of(plan: Plan, *, width: int = 80, colour: bool = False, verbose: bool = False) -> str:
    return plan_text(plan, width=width, colour=colour, verbose=verbose)


@pytest.mark.parametrize("name", EXAMPLES)
def test_whole_output(name: str) -> None:
    assert text_of(EXAMPLES[name]()) == (GOLDEN / f"{name}.txt").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize("verbose", [False, True])
def test_colour_adds_escape_sequences_only(name: str, verbose: bool) -> None:
    plan = EXAMPLES[name]()
    plain, coloured = text_of(plan, verbose=verbose), text_of(plan, colour=True, verbose=verbose)
    assert "\x1b" not in plain
    assert coloured != plain
    assert ESCAPE.sub("", coloured) == plain


@pytest.mark.parametrize("name", ["go", "unproven", "no_go"])
def test_a_small_job_takes_two_screens(name: str) -> None:
    """One item, five needs: at most twice 45 lines."""
    assert len(text_of(EXAMPLES[name]()).splitlines()) <= 90


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_paper_copy_has_no_trailing_blanks(name: str) -> None:
    assert all(line == line.rstrip() for line in text_of(EXAMPLES[name](), verbose=True).split("\n"))


CODES = {*STAGES, *get_args(GateCheck)}
LONG = st.text("ab-_/.木 é\u200b\x1b", min_size=1, max_size=130)


def _with_texts(value: object, draw: st.DataObject) -> object:
    """The same plan with every free text and name drawn anew."""
    if isinstance(value, Enum):
        return value
    if isinstance(value, str):
        is_code = re.fullmatch(r"[0-9A-F]+|0x[0-9A-F]+|after|fit|code|prove", value)
        return value if is_code or value in CODES else draw.draw(LONG)
    if isinstance(value, tuple):
        return tuple(_with_texts(entry, draw) for entry in value)
    if is_dataclass(value) and not isinstance(value, type):
        return replace(value, **{f.name: _with_texts(getattr(value, f.name), draw) for f in fields(value)})
    return value


@pytest.mark.parametrize("name", EXAMPLES)
@settings(max_examples=15, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(data=st.data(), width=st.sampled_from([40, 60, 80, 117]), verbose=st.booleans())
def test_no_line_is_wider_than_asked(name: str, data: st.DataObject, width: int, verbose: bool) -> None:
    plan = _with_texts(EXAMPLES[name](), data)
    assert isinstance(plan, Plan)
    text = text_of(plan, width=width, verbose=verbose)
    assert overlong(text, width) == []
    assert "\x1b" not in text


@pytest.mark.parametrize("length", [1, 16, 17, 64])
@pytest.mark.parametrize("width", [40, 60, 80])
def test_a_block_of_any_length_fits(length: int, width: int) -> None:
    before, after = "00" * length, "00" * (length - 1) + "80"
    row = CodingRow("gateway", "0x2210", "last_bit", 0, 1, length - 1, "00", "80", "80", CodingStatus.TO_DO)
    plan = EXAMPLES["go"]()
    item = replace(plan.items[0], coding=(row,), verdict=Verdict.GO_WITH_CHANGES)
    plan = replace(plan, items=(item,), writes=(Write("gateway", "0x2210", before, after),))
    text = text_of(plan, width=width)
    assert max(map(len, text.splitlines())) <= width
    pattern = r"^  (old, to revert|new) +(?:byte \d+ +)?((?:[0-9A-F]{2} )*[0-9A-F]{2})$"
    shown = re.findall(pattern, text, flags=re.MULTILINE)
    for word, digits in (("old, to revert", before), ("new", after)):
        assert "".join(part.replace(" ", "") for kind, part in shown if kind == word) == digits
    assert text.count("^^") == 1
    assert f"byte {length - 1}: 00 → 80, bit 7 last_bit: 0 → 1" in " ".join(text.split())


@pytest.mark.parametrize(
    ("byte", "before", "after", "mask", "line"),
    [
        (3, "1F", "3F", "20", "byte 3: 1F → 3F, bit 5 name: absent → fitted"),
        (0, "10", "30", "70", "byte 0: 10 → 30, bits 4–6 name: absent → fitted"),
        (2, "00", "FF", "FF", "byte 2: 00 → FF, name: absent → fitted"),
        (4, "07D0", "07B2", "FFFF", "bytes 4–5: 07 D0 → 07 B2, name: absent → fitted"),
    ],
)
def test_the_bits_of_a_change_are_named(byte: int, before: str, after: str, mask: str, line: str) -> None:
    row = CodingRow(
        "gateway", "0x0600", "name", "absent", "fitted", byte, before, after, mask, CodingStatus.TO_DO
    )
    plan = EXAMPLES["go"]()
    item = replace(plan.items[0], coding=(row,), verdict=Verdict.GO_WITH_CHANGES)
    old, new = ("00" * byte + digits + "00" * (6 - byte - len(digits) // 2) for digits in (before, after))
    plan = replace(plan, items=(item,), writes=(Write("gateway", "0x0600", old, new),))
    assert line in text_of(plan)


def test_the_verdict_comes_first_and_the_worst_item_before_the_others() -> None:
    park = EXAMPLES["no_go"]().items[0]
    fine = EXAMPLES["go_with_changes"]()
    plan = replace(fine, items=(*fine.items, park), verdict=Verdict.NO_GO)
    lines = text_of(plan).splitlines()
    assert lines[3] == "X NO-GO – do not fit park-distance."
    headings = [line for line in lines if re.match("── .* on (comfort|drive)", line)]
    assert [heading.split()[1] for heading in headings] == ["park-distance", "wheel-buttons", "cruise-stalk"]


def test_on_a_terminal_that_is_too_low_the_verdict_stands_last_too() -> None:
    plan = EXAMPLES["no_go"]()
    lines = text_of(plan).splitlines()
    assert plan_text(plan, height=len(lines) + 1) == plan_text(plan)
    low = plan_text(plan, height=len(lines)).splitlines()
    assert low[: len(lines)] == lines
    assert low[len(lines)] == ""
    assert "NO-GO" in low[len(lines) + 1]


def test_what_stops_an_item_stands_before_what_is_fine() -> None:
    titles = {"Blocked by", "Not proven yet", "Changes", "Optional, decides nothing", "Shown"}
    plan = EXAMPLES["unproven"]()
    stopped = replace(plan.items[0].needs[0], status=Status.MISSING, reason=Reason.NO_ANSWER)
    coding = (examples.PARK_ROW, *plan.items[0].coding)
    item = replace(plan.items[0], needs=(*plan.items[0].needs[1:], stopped), coding=coding)
    seen = [line for line in text_of(replace(plan, items=(item,))).splitlines() if line in titles]
    assert seen == ["Blocked by", "Not proven yet", "Changes", "Optional, decides nothing", "Shown"]


def test_every_need_is_named_with_its_status_in_words() -> None:
    words = {
        Status.MISSING: "missing:",
        Status.EXPECTED: "expected:",
        Status.SUPPLIED: "supplied:",
        Status.AFTER_CODING: "after coding:",
        Status.SHOWN: "moves:",
    }
    plan = EXAMPLES["go"]()
    for status, word in words.items():
        need = replace(plan.items[0].needs[1], status=status)
        item = replace(plan.items[0], needs=(need,))
        text = text_of(replace(plan, items=(item,)))
        assert re.search(rf"^  [X?*+] vehicle-speed +{word} every 20 ms", text, flags=re.MULTILINE)


def test_needs_that_say_the_same_are_said_once() -> None:
    plan = EXAMPLES["no_go"]()
    missing = plan.items[0].needs[0]
    other = replace(missing, role="reverse-lamp")
    item = replace(plan.items[0], needs=(missing, other), conflicts=())
    text = text_of(replace(plan, items=(item,)))
    assert "  X reverse-engaged, reverse-lamp\n" in text
    assert text.count("→ Check that comfort was fully awake") == 1


def test_the_checklist_is_for_paper_and_verbose() -> None:
    plan = EXAMPLES["unproven"]()
    waiting = next(step for step in plan.checklist if step.phase == "fit" and not step.caution)
    words = " ".join(step_text(waiting.action).split()[:6])
    assert words not in text_of(plan)
    assert "for paper: netcheck plan library_unproven.job.toml --sheet" in " ".join(text_of(plan).split())
    assert words in text_of(plan, verbose=True)


def test_of_many_parts_what_changes_is_one_line_and_what_is_shown_is_left_out() -> None:
    fine = EXAMPLES["go_with_changes"]()
    many = replace(fine, items=fine.items * 2)
    assert "\n  Changes: " in text_of(many)
    assert "Shown" not in text_of(many)
    assert "s on can0\n" not in text_of(many)
    assert "s on can0\n" in text_of(many, verbose=True)
    assert "old, to revert" not in text_of(many)
    assert "old, to revert" in text_of(fine)


def test_cautions_are_never_cut() -> None:
    plan = EXAMPLES["no_go"]()
    cautions = tuple(Step("before", (), Mind(f"caution {number}")) for number in range(40))
    text = text_of(replace(plan, checklist=cautions), verbose=True)
    assert all(f"[!] caution {number}.\n" in text for number in range(40))


def test_many_warnings_are_counted_and_all_shown_when_verbose() -> None:
    plan = replace(EXAMPLES["go"](), warnings=tuple(ToldByReader(f"warning number {i}") for i in range(9)))
    text, full = text_of(plan), text_of(plan, verbose=True)
    assert "9 warnings:" in text
    assert "warning number 1\n" in text
    assert "warning number 2" not in text
    assert "… and 7 more (-v shows them)" in text
    assert all(f"! warning number {i}\n" in full for i in range(9))
    assert "No warnings." in text_of(EXAMPLES["go"]())


def test_verbose_shows_what_was_looked_at() -> None:
    plan = EXAMPLES["no_go"]()
    assert "Looked at" not in text_of(plan)
    text = " ".join(text_of(plan, verbose=True).split())
    assert "── Looked at ─" in text
    assert "SelectorStatus.SelectorLever on comfort; asks answers, gaps up to 250 ms;" in text


def test_without_a_capture_it_says_so() -> None:
    assert "No capture: what is said of signals is by the vehicle file" in text_of(
        replace(EXAMPLES["go"](), captures=())
    )


def test_a_go_by_definition_alone_is_not_said_to_be_captured() -> None:
    plan = EXAMPLES["go"]()
    need = replace(plan.items[0].needs[1], evidence="defined")
    item = replace(plan.items[0], needs=(need,))
    text = " ".join(text_of(replace(plan, items=(item,))).split())
    assert "vehicle-speed by the vehicle file and DBC only, not by a capture." in text


def test_gaps_longer_than_the_part_bears_are_told_with_the_verdict() -> None:
    plan = EXAMPLES["go"]()
    gaps = Gaps(np.array([20_000_000, 4_000_000_000], np.int64), np.array([122, 1], np.int64))
    facts = plan.items[0].needs[1].facts
    facts = replace(facts, seen=replace(facts.seen, gaps=gaps))
    need = replace(plan.items[0].needs[1], max_gap_ms=50.0, facts=facts)
    item = replace(plan.items[0], needs=(need,))
    text = " ".join(text_of(replace(plan, items=(item,))).split())
    assert "But mind the gaps of vehicle-speed (1 of 123 gaps over 50 ms, up to 4.0 s):" in text
    assert "But mind" not in text_of(plan)


def test_a_block_with_a_change_of_an_item_that_waits_is_not_to_be_written() -> None:
    assert "gateway, block 0x2210 – not yet: park-distance is NO-GO" in text_of(EXAMPLES["no_go"]())
    assert "not yet" not in text_of(EXAMPLES["go_with_changes"]())


def test_a_wrongly_declared_channel_is_named() -> None:
    plan = EXAMPLES["go"]()
    use = replace(plan.captures[0], network=None, ids=40, candidates=(Candidate("comfort", 3, 3),))
    text = " ".join(text_of(replace(plan, captures=(use,))).split())
    assert "declared comfort, but its traffic is not (3 of 40 ids fit the DBC of comfort)" in text


def test_an_item_that_needs_nothing() -> None:
    bare = Retrofit.model_validate(
        tomllib.loads('kind = "retrofit"\nformat = 1\nname = "media-socket"\ntitle = "Media socket"\n')
    )
    loaded = made.job("socket", (bare, None))
    result = made.item(bare, None, Verdict.GO, ())
    plan = made.plan(loaded, Verdict.GO, (result,), (), ())
    text = text_of(plan)
    assert "── media-socket network not decided: + GO ─" in text
    assert (
        "No signal is required. Nothing to code; no conflict found, but no capture was there to look at."
        in " ".join(text.split())
    )


def test_the_same_plan_gives_the_same_text() -> None:
    assert len({text_of(EXAMPLES["go_with_changes"]()) for _ in range(3)}) == 1


def test_needs_of_several_parts_are_counted_as_those() -> None:
    plan = EXAMPLES["unproven"]()
    both = replace(plan, items=(plan.items[0], replace(plan.items[0], retrofit="another")))
    one, two = (" ".join(text_of(each).split()) for each in (plan, both))
    assert re.search(r"\d of \d required needs? (is|are) not proven", one)
    assert re.search(r"\d of \d required needs? of 2 parts are not proven", two)
