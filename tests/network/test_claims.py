"""J1939 address claims, against the NAME of PyPI's ``can-j1939`` (MIT), a library of the protocol."""

from __future__ import annotations

import j1939
import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.network import RemarkKind
from netcheck.network._claims import J1939Name, names_in
from netcheck.report.onsite import survey_json, survey_text
from tests.network.logs import Line, channel_of, survey_of

ENGINE, MODULE = bytes.fromhex("0102030405060780"), bytes.fromhex("1B02205A04810C20")


@given(st.binary(min_size=8, max_size=8))
def test_every_field_is_that_of_the_library(payload):
    (found,) = names_in([payload])
    reference = j1939.Name(bytes=payload)
    assert found.value & ~(1 << 48) == reference.value  # the library leaves the reserved bit out
    assert found.identity == reference.identity_number
    assert found.manufacturer == reference.manufacturer_code
    assert found.ecu_instance == reference.ecu_instance
    assert found.function_instance == reference.function_instance
    assert found.function == reference.function
    assert found.vehicle_system == reference.vehicle_system
    assert found.vehicle_system_instance == reference.vehicle_system_instance
    assert found.industry == reference.industry_group
    assert found.takes_another == reference.arbitrary_address_capable


def test_names_are_told_once_and_other_lengths_are_none():
    assert names_in([MODULE, ENGINE, MODULE, b"\x01", bytes(9)]) == (
        J1939Name(0x200C81045A20021B), J1939Name(0x8007060504030201),
    )  # fmt: skip


def claims(folder, *payloads: bytes, source: int = 0x21):
    """Engine traffic, and a claim of one address by each payload."""
    lines = [Line(10 * n, (0x0CF00400, 0x18FEF100)[n % 2], bytes(8)) for n in range(100)]
    lines += [Line(1000 + 10 * n, 0x18EEFF00 | source, each) for n, each in enumerate(payloads)]
    return lines


def test_a_device_that_claims_its_address(tmp_path):
    channel = channel_of(tmp_path, claims(tmp_path, MODULE, MODULE))
    (message,) = [entry for entry in channel.messages if entry.claims]
    assert str(message.frame_id) == "0x18EEFF21"
    assert message.claims == names_in([MODULE])
    assert not channel.remarks


@pytest.mark.parametrize(
    ("payloads", "devices"),
    [
        ((MODULE, ENGINE), ("0x200C81045A20021B", "0x8007060504030201")),
        (
            [bytes([n, 0, 0, 0, 0, 0, 0, 1]) for n in range(20)],
            tuple(f"0x01000000000000{n:02X}" for n in range(16)),
        ),
    ],
)
def test_two_devices_that_want_one_address(tmp_path, payloads, devices):
    (remark,) = channel_of(tmp_path, claims(tmp_path, *payloads)).remarks
    assert remark.kind is RemarkKind.ADDRESS_CONFLICT
    assert (remark.address, remark.devices) == (33, devices)


def test_devices_without_an_address_share_a_source(tmp_path):
    assert not channel_of(tmp_path, claims(tmp_path, MODULE, ENGINE, source=0xFE)).remarks


def test_the_same_payload_in_another_group_is_no_claim(tmp_path):
    lines = [Line(1000, 0x18FECA21, MODULE), *claims(tmp_path)]
    assert not any(message.claims for message in channel_of(tmp_path, lines).messages)


def test_claims_in_text_and_json(tmp_path):
    found = survey_of(tmp_path, claims(tmp_path, MODULE))
    text = " ".join(survey_text(found, width=80, colour=False, verbose=True).split())
    assert (
        "0x200C81045A20021B claims address 33: function 129 (instance 0), vehicle system 6, farming and "
        "forestry, manufacturer code 721, identity 539; cannot change its address" in text
    )
    (message,) = [m for m in survey_json(found)["channels"][0]["messages"] if m["id"] == "0x18EEFF21"]
    (claim,) = message["j1939"]["claims"]
    assert (claim["name"], claim["function"], claim["manufacturer_code"]) == ("0x200C81045A20021B", 129, 721)
