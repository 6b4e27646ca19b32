"""Rows, clashes and writes, from hand-worked blocks."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.coding import Clash, ClashSide, CodingRow, CodingStatus, Wanted, Write, plan_coding
from netcheck.errors import InputError, UsageError
from tests.coding.vehicles import vehicle, want

GATEWAY = {("gateway", 0x0600): bytes.fromhex("03001F00")}


def test_a_change_to_do() -> None:
    result = plan_coding(vehicle(), 2020, GATEWAY, [want("park_distance_module", "fitted")])
    assert result.rows == (
        CodingRow(
            module="gateway",
            did="0x0600",
            field="park_distance_module",
            from_="absent",
            to="fitted",
            byte=2,
            before="1F",
            after="3F",
            mask="20",
            status=CodingStatus.TO_DO,
            unlock=None,
            why="because",
        ),
    )
    assert result.writes == (Write("gateway", "0x0600", "03001F00", "03003F00"),)
    assert result.clashes == ()


def test_a_value_that_is_there_already_is_no_write() -> None:
    result = plan_coding(vehicle(), 2020, GATEWAY, [want("park_distance_module", "absent", unlock="reverse")])
    (row,) = result.rows
    assert (row.status, row.from_, row.to, row.before, row.after) == (
        "already",
        "absent",
        "absent",
        "1F",
        "1F",
    )
    assert row.unlock == "reverse"
    assert result.writes == ()


def test_without_a_readout_nothing_is_written() -> None:
    result = plan_coding(vehicle(), 2020, {}, [want("park_distance_module", 1)])
    (row,) = result.rows
    assert (row.status, row.from_, row.to) == ("unknown", None, "fitted")
    assert (row.did, row.byte, row.before, row.after, row.mask) == ("0x0600", 2, None, None, "20")
    assert result.writes == ()


@pytest.mark.parametrize(
    ("module", "field"), [("gateway", "horn"), ("brakes", "horn"), ("cluster", "park_display")]
)
def test_what_the_model_year_does_not_have(module: str, field: str) -> None:
    result = plan_coding(vehicle(), 2018, GATEWAY, [want(field, "on", module=module)])
    (row,) = result.rows
    assert row.status is CodingStatus.UNDEFINED
    assert (row.did, row.byte, row.from_, row.before, row.after, row.mask) == (None,) * 6
    assert row.to == "on"


def test_a_value_without_a_label_is_its_number() -> None:
    (row,) = plan_coding(vehicle(), 2020, GATEWAY, [want("market", 9)]).rows
    assert (row.from_, row.to, row.before, row.after) == (3, 9, "03", "09")
    (row,) = plan_coding(vehicle(), 2020, GATEWAY, [want("market", 2)]).rows
    assert (row.from_, row.to) == (3, "mainland")


def test_only_the_bytes_of_the_field_and_only_its_own_change() -> None:
    readouts = {**GATEWAY, ("gateway", 0x0610): bytes.fromhex("AA010203 3412".replace(" ", ""))}
    wanted = [want("serial", 0x010299), want("park_distance_module", 1), want("amplifier_module", 1)]
    result = plan_coding(vehicle(), 2020, readouts, wanted)
    assert [(row.before, row.after, row.mask) for row in result.rows] == [
        ("010203", "010299", "FFFFFF"),
        ("1F", "3F", "20"),
        ("1F", "5F", "40"),
    ]
    assert result.writes == (
        Write("gateway", "0x0600", "03001F00", "03007F00"),
        Write("gateway", "0x0610", "AA0102033412", "AA0102993412"),
    )


def test_little_endian_whole_bytes() -> None:
    readouts = {("gateway", 0x0610): bytes.fromhex("AA0102033412")}
    (row,) = plan_coding(vehicle(), 2020, readouts, [want("little", 0x1235)]).rows
    assert (row.from_, row.before, row.after) == (0x1234, "3412", "3512")


def test_two_items_with_one_wish_share_the_write() -> None:
    wanted = [want("amplifier_module", "fitted", item=0), want("amplifier_module", 1, item=1)]
    result = plan_coding(vehicle(), 2020, GATEWAY, wanted)
    assert [row.status for row in result.rows] == ["to-do", "to-do"]
    assert result.clashes == ()
    assert result.writes == (Write("gateway", "0x0600", "03001F00", "03005F00"),)


def test_two_values_of_one_field_clash_and_are_not_written() -> None:
    wanted = [
        want("park_distance_module", "absent", item=1),
        want("park_distance_module", "fitted", item=0, unlock="park.lamp"),
        want("market", "island", item=2),
    ]
    result = plan_coding(vehicle(), 2020, GATEWAY, wanted)
    (clash,) = result.clashes
    assert (clash.first, clash.second) == (0, 1)
    assert clash == Clash(
        "gateway",
        "0x0600",
        ClashSide(0, "part-0", "park_distance_module", "fitted", "park.lamp"),
        ClashSide(1, "part-1", "park_distance_module", "absent", None),
    )
    assert result.writes == (Write("gateway", "0x0600", "03001F00", "01001F00"),)


def test_one_item_can_contradict_itself() -> None:
    wanted = [want("amplifier_module", 0), want("amplifier_module", 1)]
    result = plan_coding(vehicle(), 2020, GATEWAY, wanted)
    assert [(clash.first, clash.second) for clash in result.clashes] == [(0, 0)]
    assert result.writes == ()


@pytest.mark.parametrize(("pattern", "clash"), [(0b11, True), (0b01, False), (0b00, True)])
def test_fields_that_overlap_clash_on_different_bits_only(pattern: int, clash: bool) -> None:
    wanted = [
        want("fit_pattern", pattern, item=0),
        want("park_distance_module", 1, item=1),
        want("amplifier_module", 0, item=2),
    ]
    result = plan_coding(vehicle(), 2020, GATEWAY, wanted)
    assert bool(result.clashes) is clash
    if not clash:
        assert result.writes == (Write("gateway", "0x0600", "03001F00", "03003F00"),)
    for found in result.clashes:
        assert found.first == 0
        assert found.one.field == "fit_pattern" != found.other.field


def test_clashes_stand_without_a_readout_too() -> None:
    wanted = [want("amplifier_module", 0, item=0), want("amplifier_module", 1, item=1)]
    assert len(plan_coding(vehicle(), 2020, {}, wanted).clashes) == 1


def test_same_bits_of_two_blocks_do_not_clash() -> None:
    wanted = [want("market", 1), want("park_display", 0, module="cluster", item=1)]
    assert plan_coding(vehicle(), 2020, {}, wanted).clashes == ()


def test_a_label_that_is_not_there_names_the_place() -> None:
    with pytest.raises(
        InputError, match=r"^part.retrofit.toml: code\[0\]: 'x' is not a value of gateway.market"
    ):
        plan_coding(vehicle(), 2020, {}, [want("market", "x")])


def test_a_readout_of_a_wrong_length() -> None:
    with pytest.raises(UsageError, match="3 bytes"):
        plan_coding(vehicle(), 2020, {("gateway", 0x0600): b"abc"}, [want("market", 1)])


FIELDS = ["park_distance_module", "amplifier_module", "fit_pattern", "market"]


@given(
    st.binary(min_size=4, max_size=4),
    st.lists(st.tuples(st.sampled_from(FIELDS), st.integers(0, 1), st.integers(0, 2)), max_size=6),
    st.randoms(use_true_random=False),
)
def test_the_order_of_wishes_changes_nothing_that_is_written(
    block: bytes, wishes: list[tuple[str, int, int]], random: object
) -> None:
    readouts = {("gateway", 0x0600): block}
    wanted: list[Wanted] = [want(field, value, item=item) for field, value, item in wishes]
    shuffled = list(wanted)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    one, other = (
        plan_coding(vehicle(), 2020, readouts, wanted),
        plan_coding(vehicle(), 2020, readouts, shuffled),
    )
    assert one.writes == other.writes
    assert sorted(map(repr, one.clashes)) == sorted(map(repr, other.clashes))
    assert len(one.rows) == len(wanted)
    # Planned again on what was written, every row that was to do is there already.
    after = {(w.module, int(w.did, 16)): bytes.fromhex(w.after) for w in one.writes}
    again = plan_coding(vehicle(), 2020, {**readouts, **after}, wanted)
    assert again.writes == ()
