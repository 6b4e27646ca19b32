"""Check digits and model years against published numbers and the table of the rule."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.diagnostics import vin_facts

SIGNS = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ"


@pytest.mark.parametrize(
    ("vin", "year"),
    [
        ("1G4AH59H45G118341", 2005),  # 49 CFR 565, sample of an older table
        ("1J9RP1A36A1644345", 2010),  # an outline for new manufacturers
        ("1M8GDM9AXKP042788", 1989),
    ],
)
def test_published_numbers(vin, year):
    facts = vin_facts(vin)
    assert facts is not None
    assert (facts.has_check, facts.is_bound, facts.years[0]) == (True, True, year)


def test_ones():
    facts = vin_facts("1" * 17)
    assert facts is not None
    assert (facts.has_check, facts.years) == (True, (2001, 2031))


@given(
    st.sampled_from(["1G4AH59H45G118341", "1M8GDM9AXKP042788"]),
    st.integers(0, 16),
    st.sampled_from("0123456789"),
)
def test_another_digit_breaks_the_check(vin, place, digit):
    """Digits differ by less than 11, and no weight but that of the check digit is a multiple of 11."""
    changed = vin[:place] + digit + vin[place + 1 :]
    facts = vin_facts(changed)
    assert facts is not None
    if vin[place].isdigit() and digit != vin[place]:
        assert not facts.has_check


@pytest.mark.parametrize("vin", ["", "1M8GDM9AXKP04278", "IM8GDM9AXKP042788", "1m8gdm9axkp042788"])
def test_what_is_no_number(vin):
    assert vin_facts(vin) is None


def test_elsewhere_it_is_a_hint_and_some_letters_are_no_year():
    facts = vin_facts("ZZZSK240ZU0123456")
    assert facts is not None
    assert (facts.is_bound, facts.years) == (False, ())


@given(st.text(SIGNS, min_size=17, max_size=17))
def test_one_check_digit_fits(vin):
    fitting = [sign for sign in "0123456789X" if vin_facts(vin[:8] + sign + vin[9:]).has_check]
    assert len(fitting) == 1
