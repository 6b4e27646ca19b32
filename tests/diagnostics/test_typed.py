"""Texts that equipment exports, in the layouts that are usual."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.diagnostics import ReadoutFindingKind, is_typed, read_typed
from netcheck.errors import InputError
from tests.diagnostics.talk import CODING, VEHICLE

ROOT = Path(__file__).parents[2]


def text_file(folder: Path, text: str | bytes) -> Path:
    path = folder / "export.txt"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


@pytest.mark.parametrize(
    "line",
    [
        "gateway 2210 4C011F028000",
        "gateway 0x2210 4C 01 1F 02 80 00",
        "gateway;2210;4C 01 1F 02 80 00",
        "Gateway, 22 10, 0x4C 0x01 0x1F 0x02 0x80 0x00",
        "GATEWAY\t2210h\t4Ch 01h 1Fh 02h 80h 00h",
        "gateway | DID 2210 | 4C-01-1F-02-80-00",
        "gateway: DID 0x2210 = 4c.01.1f.02.80.00   # as read",
        "6A0 2210 4C011F028000",
        "0x6B0; 2210; 4C011F028000",
        "[gateway]\n2210: 4C 01 1F 02 80 00",
        "Gateway:\n  22 10 = 4C 01 1F 02 80 00",
        "module;identifier;data\ngateway;2210;4C011F028000",
        "\ufeffgateway 2210 4C011F028000\r\n",
    ],
)
def test_the_usual_layouts(tmp_path, line):
    path = text_file(tmp_path, line)
    (module,) = read_typed([path], VEHICLE).modules
    assert (module.name, module.request, module.response) == ("gateway", (0x6A0, False), (0x6B0, False))
    assert [(block.did, block.before) for block in module.blocks] == [(0x2210, bytes.fromhex(CODING))]
    assert module.findings == ()


def test_a_title_with_blanks_is_the_longest_name(tmp_path):
    (module,) = read_typed([text_file(tmp_path, "Steering column module 2230 21 00 01 04")], VEHICLE).modules
    assert (module.name, module.blocks[0].before) == ("column", b"\x21\x00\x01\x04")


def test_texts_and_faults(tmp_path):
    text = """
    gateway F187 "SK24-GAT-B"
    gateway F190 31 4D 38 47 44 4D 39 41 58 4B 50 30 34 32 37 38 38
    gateway faults U0121-87/2F, P0123
    column: DTC none
    """
    gateway, column = read_typed([text_file(tmp_path, text)], VEHICLE, when="after").modules
    assert {text.did: text.after for text in gateway.identification} == {
        0xF187: "SK24-GAT-B",
        0xF190: "1M8GDM9AXKP042788",
    }
    assert [str(fault.fault) for fault in gateway.faults.after or ()] == ["P0123", "U012187/2F"]
    assert (column.faults.after, column.faults.before) == ((), None)


def test_without_a_vehicle_file_names_are_as_written(tmp_path):
    (module,) = read_typed([text_file(tmp_path, "Heater unit; 2210; AA")]).modules
    assert (module.name, module.blocks[0].before) == ("Heater unit", b"\xaa")


def test_lines_that_cannot_be_read_are_told(tmp_path):
    text = "gateway 2210 4C011F028000\ngateway 2211 3F0\ngateway faults U01\nnothing here\n"
    readout = read_typed([text_file(tmp_path, text)], VEHICLE)
    assert [(finding.kind, finding.line) for finding in readout.findings] == [
        (ReadoutFindingKind.LINE_NOT_READ, number) for number in (2, 3, 4)
    ]
    assert len(readout.modules[0].blocks) == 1


def test_a_block_of_another_length_is_left_out(tmp_path):
    (module,) = read_typed([text_file(tmp_path, "gateway 2210 4C")], VEHICLE).modules
    (finding,) = module.findings
    assert (module.blocks, finding.kind, finding.found, finding.due) == (
        (),
        ReadoutFindingKind.WRONG_LENGTH,
        1,
        6,
    )


@pytest.mark.parametrize("text", ["", "\n\n", "hello\n", "[gateway]\n", b"\0\1\2"])
def test_a_text_without_a_readout(tmp_path, text):
    with pytest.raises(InputError, match="has no readout"):
        read_typed([text_file(tmp_path, text)], VEHICLE)


def test_captures_are_no_texts(tmp_path):
    assert is_typed(text_file(tmp_path, "gateway;2210;4C011F028000\n"))
    for log in sorted((ROOT / "sample_logs").glob("*.log*")):
        assert not is_typed(log), log
    for line in (
        "(1600000000.000000) can0 6A0#03222210",
        "  can0  6A0   [4]  03 22 22 10",
        "1.0 1 6A0 Rx d 1 03",
    ):
        assert not is_typed(text_file(tmp_path, line + "\n")), line
    assert not is_typed(tmp_path / "gone")


@settings(max_examples=200)
@given(st.text(max_size=200) | st.binary(max_size=200))
def test_any_text_is_read_or_refused_in_one_line(tmp_path_factory, text):
    data = text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass")
    path = text_file(tmp_path_factory.mktemp("typed"), data)
    is_typed(path)
    try:
        read_typed([path], VEHICLE)
    except InputError as error:
        assert "\n" not in str(error)  # noqa: PT017 - the line is what is tested
