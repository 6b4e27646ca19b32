"""The sentence for the customer."""

from __future__ import annotations

from dataclasses import replace

import pytest

from netcheck.coding import CodingStatus
from netcheck.report import _customer
from netcheck.report._customer import customer_text
from netcheck.verdict import ConflictKind, ResourceWait, Verdict
from tests.report.examples import EXAMPLES


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("go", "Can be fitted: what we looked at on the vehicle suits it."),
        (
            "unproven",
            "We cannot promise it yet: 4 things have to be checked on the vehicle or in its papers first.",
        ),
    ],
)
def test_each_verdict_in_one_sentence(name: str, text: str) -> None:
    assert customer_text(EXAMPLES[name]().items[0]) == text


def test_settings_are_counted_once() -> None:
    item = EXAMPLES["go_with_changes"]().items[0]
    rows = tuple(row for row in item.coding if row.status is CodingStatus.TO_DO)
    once = customer_text(replace(item, coding=rows))
    assert once == customer_text(replace(item, coding=rows * 2))
    assert once.endswith("change, and can change back.")


def test_a_missing_signal_is_named_in_words() -> None:
    item = EXAMPLES["no_go"]().items[0]
    assert customer_text(replace(item, conflicts=())) == (
        "Cannot be fitted as planned: where it is wired, the vehicle does not give it reverse engaged as it "
        "needs it."
    )
    assert "disturb" in customer_text(item)


def test_an_item_that_waits_for_another() -> None:
    item = replace(EXAMPLES["go"]().items[0], verdict=Verdict.UNPROVEN)
    wait = ResourceWait("video-in", 1, 0, (("head-unit", Verdict.NO_GO),))
    for waits, whom in (((), "another part of this job"), ((wait,), "head-unit")):
        said = customer_text(replace(item, waits=waits))
        assert said == f"We cannot promise it yet: it hangs on {whom}, which cannot be fitted yet."


def test_each_conflict_has_its_words() -> None:
    assert set(_customer._STOPS) == set(ConflictKind)
