"""Conversations to what each module said: by hand, one case a promise and one a fault."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.diagnostics import FaultLamp, Lapse, ReadoutFindingKind, Refusal, SeenService, read_diagnostics
from netcheck.diagnostics._answers import listed_faults, obd_faults, split_read
from netcheck.diagnostics._fault_codes import fault_code
from netcheck.diagnostics._services import identification_text
from netcheck.files import FaultCode, Vehicle
from tests.diagnostics.talk import CODING, COLUMN, GATEWAY, VEHICLE, VIN, Talk

Kind = ReadoutFindingKind
OBD = (0x7E0, 0x7E8)
VIN_HEX = VIN.encode().hex()


def kinds(module) -> list[tuple]:
    return [(finding.kind, finding.count) for finding in module.findings]


def test_blocks_and_identification_of_a_named_module(tmp_path):
    talk = Talk().ask(GATEWAY, "222210", "622210" + CODING)
    talk.ask(GATEWAY, "22F190", "62F190" + VIN_HEX).ask(GATEWAY, "22F187", "62F187" + b"SK24-GAT-B\0\0".hex())
    talk.ask(GATEWAY, "22F18B", "62F18B20190411").ask(GATEWAY, "22F1A5", "62F1A50142")
    module = talk.module(tmp_path)
    assert (module.name, module.request, module.response) == ("gateway", (0x6A0, False), (0x6B0, False))
    assert [(block.did, block.before, block.after) for block in module.blocks] == [
        (0x2210, bytes.fromhex(CODING), None)
    ]
    assert {text.did: text.last for text in module.identification} == {
        0xF187: "SK24-GAT-B",
        0xF18B: "20190411",
        0xF190: VIN,
        0xF1A5: "0142",
    }
    assert (module.asked, module.answered, module.findings) == (5, 5, ())


@pytest.mark.parametrize(
    ("did", "data", "text"),
    [
        (0xF187, b"SK24 A\xff\xff", "SK24 A"),
        (0xF187, b"  ", "2020"),
        (0xF18B, b" $&(", "20242628"),
        (0xF18B, b"2019-04-11", "2019-04-11"),
        (0xF189, b"02", "02"),
        (0xF186, b"\x33", "33"),
        (0xF187, b"A\x07B", "410742"),
    ],
)
def test_text_is_text_and_the_rest_is_hex(did, data, text):
    assert identification_text(did, data) == text


@pytest.mark.parametrize(
    ("data", "code"),
    [
        ("0123", "P0123"),
        ("4A0B", "C0A0B"),
        ("9ABC", "B1ABC"),
        ("C12187", "U012187"),
        ("F3FF00", "U33FF00"),
        ("000000", "P000000"),
    ],
)
def test_fault_codes_have_the_form_of_j2012(data, code):
    assert fault_code(bytes.fromhex(data)) == code


def test_worked_fault_reports():
    """From published worked examples of the service: codes, status and the availability mask."""
    found = listed_faults(bytes.fromhex("590A7F12345624234505 00ABCD012F"))
    assert found is not None
    assert [(fault.fault.code, fault.fault.status) for fault in found] == [
        ("P123456", 0x24),
        ("P234505", 0x00),
        ("B2BCD01", 0x2F),
    ]
    (one,) = listed_faults(bytes.fromhex("5902FB12345620")) or ()
    assert (one.fault, one.fault.is_stored) == (FaultCode("P123456", 0x20), False)
    assert listed_faults(bytes.fromhex("5902FB")) == ()
    assert listed_faults(bytes.fromhex("5902FB123456")) is None
    assert listed_faults(bytes.fromhex("5902")) is None


def test_faults_of_on_board_diagnostics():
    assert [
        (fault.fault.code, fault.kind) for fault in obd_faults(3, bytes.fromhex("430201330420")) or ()
    ] == [
        ("P0133", "stored"),
        ("P0420", "stored"),
    ]
    assert obd_faults(7, bytes.fromhex("4700")) == ()
    assert obd_faults(7, bytes.fromhex("4700000000")) == ()
    assert obd_faults(3, bytes.fromhex("43020133")) is None
    assert obd_faults(3, bytes.fromhex("430101330420")) is None


def test_modes_03_07_0a_and_09(tmp_path):
    talk = Talk().ask(OBD, "03", "43010133").ask(OBD, "07", "4700").ask(OBD, "0A", "4A01C121")
    talk.ask(OBD, "0902", "490201" + VIN_HEX).ask(OBD, "0904", "490401" + b"CAL-17\0\0\0\0\0\0\0\0\0\0".hex())
    talk.ask(OBD, "0101", "410181000000").ask(OBD, "010C", "410C0B30")
    module = talk.module(tmp_path, None)
    assert module.name is None
    assert module.lamp == FaultLamp(is_on=True, stored=1)
    assert [(fault.fault.code, fault.kind) for fault in module.faults.last or ()] == [
        ("P0133", "stored"),
        ("U0121", "permanent"),
    ]
    assert {text.did: text.last for text in module.identification} == {0xF802: VIN, 0xF804: "CAL-17"}
    assert module.findings == ()


def test_a_request_to_all_modules_is_answered_by_each(tmp_path):
    talk = Talk().message(0x7DF, 0x7E8, "03").message(0x7E8, 0x7E0, "4300").message(0x7E9, 0x7E1, "43010133")
    modules = talk.readout(tmp_path, None).modules
    assert [(module.response, len(module.faults.last or ())) for module in modules] == [
        ((0x7E8, False), 0),
        ((0x7E9, False), 1),
    ]
    assert [module.findings for module in modules] == [(), ()]


def test_pending_answers_are_no_refusal(tmp_path):
    talk = Talk().ask(GATEWAY, "222210", "7F2278", "7F2278", "622210" + CODING)
    module = talk.module(tmp_path)
    assert (module.refusals, module.findings, len(module.blocks)) == ((), (), 1)


def test_refusals_have_their_code(tmp_path):
    talk = (
        Talk()
        .ask(GATEWAY, "222299", "7F2231")
        .ask(GATEWAY, "222299", "7F2231")
        .ask(GATEWAY, "2701", "7F277F")
    )
    module = talk.module(tmp_path)
    assert module.refusals == (Refusal(0x22, 0x31, 0x2299, 2), Refusal(0x27, 0x7F))


def test_security_access_is_seen_and_its_bytes_are_not_kept(tmp_path):
    talk = Talk().ask(GATEWAY, "2701", "6701DEADBEEF").ask(GATEWAY, "2702CAFEBABE", "6702")
    talk.ask(GATEWAY, "2903112233445566", "6903778899AABB")
    readout = talk.readout(tmp_path)
    (module,) = readout.modules
    assert module.services == (
        SeenService(0x27, 0x01, 1, 0, 0),
        SeenService(0x27, 0x02, 1, 0, 0),
        SeenService(0x29, None, 1, 0, 0),
    )
    told = repr(readout).lower()
    for secret in ("deadbeef", "cafebabe", "\\xde\\xad", "\\xca\\xfe", "112233", "778899", '\\x11"3'):
        assert secret not in told


def test_reads_on_either_side_of_an_accepted_write(tmp_path):
    later = "4C011F228000"
    talk = Talk().ask(COLUMN, "222230", "62223021000104").ask(GATEWAY, "222210", "622210" + CODING)
    talk.ask(GATEWAY, "1902FF", "5902FFC121872F").ask(GATEWAY, "1003", "5003003201F4")
    talk.ask(GATEWAY, "2E2210" + later, "6E2210").ask(GATEWAY, "222210", "622210" + later)
    talk.ask(GATEWAY, "1902FF", "5902FF").ask(COLUMN, "222230", "62223021000104")
    readout = talk.readout(tmp_path)
    gateway, column = readout.modules
    (block,) = gateway.blocks
    assert (block.before, block.after) == (bytes.fromhex(CODING), bytes.fromhex(later))
    (write,) = gateway.writes
    assert (write.did, write.data.hex().upper(), write.accepted, write.session) == (0x2210, later, True, 3)
    assert write.time == pytest.approx(0.010)
    assert [fault.fault.code for fault in gateway.faults.before or ()] == ["U012187"]
    assert gateway.faults.after == ()
    assert (column.blocks[0].before, column.blocks[0].after) == (bytes.fromhex("21000104"),) * 2
    assert readout.has_writes


def test_what_was_only_written_is_no_block(tmp_path):
    talk = Talk().ask(GATEWAY, "2E22113F00", "6E2211").ask(GATEWAY, "2E22113F01", "7F2E33")
    talk.message(*GATEWAY, "2E22113F02")
    module = talk.module(tmp_path)
    assert module.blocks == ()
    assert [(write.data.hex(), write.accepted, write.code) for write in module.writes] == [
        ("3f00", True, None),
        ("3f01", False, 0x33),
        ("3f02", None, None),
    ]


def test_a_refused_write_leaves_one_side(tmp_path):
    talk = Talk().ask(GATEWAY, "222211", "6222113F00").ask(GATEWAY, "2E22113F01", "7F2E33")
    talk.ask(GATEWAY, "222211", "6222113F00")
    assert [(b.before, b.after) for b in talk.module(tmp_path).blocks] == [(b"\x3f\x00", None)]


def test_the_last_of_several_reads_counts(tmp_path):
    talk = Talk().ask(GATEWAY, "222211", "6222113F00").ask(GATEWAY, "222211", "6222113F01")
    assert talk.module(tmp_path).blocks[0].last == b"\x3f\x01"


def test_captures_from_after_the_fitting(tmp_path):
    module = Talk().ask(GATEWAY, "222211", "6222113F00").module(tmp_path, when="after")
    assert (module.blocks[0].before, module.blocks[0].after) == (None, b"\x3f\x00")


def test_several_captures_go_on_where_the_last_one_ended(tmp_path):
    first = Talk().ask(GATEWAY, "222211", "6222113F00").ask(GATEWAY, "2E22113F01", "6E2211")
    second = Talk().ask(GATEWAY, "222211", "6222113F01")
    (module,) = read_diagnostics(
        [first.log(tmp_path, "1.log"), second.log(tmp_path, "2.log")], VEHICLE
    ).modules
    assert (module.blocks[0].before, module.blocks[0].after) == (b"\x3f\x00", b"\x3f\x01")


# ------------------------------------------------------------------ several identifiers in one answer


@pytest.mark.parametrize(
    ("request_", "answer", "expected"),
    [
        ("2222102211", "622210AA2211BBCC", {0x2210: "AA", 0x2211: "BBCC"}),
        ("2222102211", "622211BBCC", {0x2211: "BBCC"}),
        ("2222102211", "622210AA22112211CC", None),
        ("2222102210", "622210AA2210BB", None),
        ("2222102211", "622210", {}),
    ],
)
def test_answers_with_several_identifiers(request_, answer, expected):
    found = split_read(bytes.fromhex(request_), bytes.fromhex(answer), {})
    rows = None if found is None else {did: data.hex().upper() for did, data in found}
    assert rows == ({0x2210: ""} if expected == {} else expected)


def test_known_lengths_tell_the_border():
    request, answer = bytes.fromhex("2222102211"), bytes.fromhex("622210AA22112211CC")
    assert split_read(request, answer, {0x2211: 1}) == [(0x2210, b"\xaa\x22\x11"), (0x2211, b"\xcc")]
    assert split_read(request, answer, {0x2211: 3}) == [(0x2210, b"\xaa"), (0x2211, b"\x22\x11\xcc")]


def test_many_identifiers_in_one_answer():
    dids = range(0x2200, 0x2220)
    request = b"\x22" + b"".join(did.to_bytes(2, "big") for did in dids)
    answer = b"\x62" + b"".join(did.to_bytes(2, "big") + b"\x01\xff" for did in dids)
    assert split_read(request, answer, {}) == [(did, b"\x01\xff") for did in dids]


def test_a_hostile_answer_does_not_take_for_ever():
    request = b"\x22" + b"".join(did.to_bytes(2, "big") for did in range(0x2200, 0x2240))
    answer = b"\x62" + b"\x22\x00\x22\x01\x22\x02" * 600
    assert split_read(request, answer, {}) is None


# ------------------------------------------------------------------ addressing, interleaving


def test_extended_addressing_tells_modules_apart(tmp_path):
    talk = Talk()
    talk.message(0x6F1, 0x640, "222210", target="40").message(0x6F1, 0x612, "22F190", target="12")
    talk.message(0x612, 0x6F1, "62F190" + VIN_HEX, target="F1").message(
        0x640, 0x6F1, "622210" + CODING, target="F1"
    )
    one, other = talk.readout(tmp_path, None).modules
    assert (one.response, one.identification[0].last) == ((0x612, False), VIN)
    assert (other.response, other.blocks[0].last) == ((0x640, False), bytes.fromhex(CODING))
    assert (one.findings, other.findings) == ((), ())


def test_29_bit_ids(tmp_path):
    talk = Talk().ask((0x18DA40F1, 0x18DAF140), "222210", "622210" + CODING)
    module = talk.module(tmp_path, None)
    assert (module.request, module.response) == ((0x18DA40F1, True), (0x18DAF140, True))
    assert module.blocks[0].last == bytes.fromhex(CODING)


def test_conversations_that_interleave(tmp_path):
    one = Talk().ask(GATEWAY, "22F190", "62F190" + VIN_HEX)
    other = Talk().ask(COLUMN, "22F187", "62F187" + b"SK24-COL-A".hex())
    mixed = Talk()
    rows = [row for pair in zip(one.rows, other.rows, strict=False) for row in pair]
    rest = one.rows[len(other.rows) :] + other.rows[len(one.rows) :]
    for _, _, name, data in rows + rest:
        mixed.frame(int(name, 16), data)
    gateway, column = mixed.readout(tmp_path).modules
    assert gateway.identification[0].last == VIN
    assert column.identification[0].last == "SK24-COL-A"
    assert (gateway.findings, column.findings) == ((), ())


def test_no_room_of_one_receiver_is_not_that_of_another(tmp_path):
    """Flow control is for the partner's message, even where another one moved last."""
    talk = Talk().message(*GATEWAY, "22F190").message(*COLUMN, "22F187")
    talk.frame(0x6B0, "1014 62F190314D38").frame(0x6B3, "100D 62F187534B32").frame(0x6A0, "320000")
    talk.frame(0x6A3, "300000").frame(0x6B3, "21 342D434F4C2D41")
    gateway, column = talk.readout(tmp_path).modules
    assert [finding.lapse for finding in gateway.findings] == [Lapse.REFUSED]
    assert column.identification[0].last == "SK24-COL-A"


def test_ordinary_messages_are_no_conversation(tmp_path):
    talk = Talk()
    for number in range(50):
        talk.frame(0x123, f"02 10 {number % 4:02X} 00 00 00 00 00").frame(0x124, "03 41 0C 00 00 00 00 00")
    assert talk.readout(tmp_path, None).modules == ()


# ------------------------------------------------------------------ bad input


def test_half_a_conversation_is_a_finding_and_no_value(tmp_path):
    talk = Talk().message(0x6B0, 0x6A0, "622210" + CODING).message(*GATEWAY, "222211")
    module = talk.module(tmp_path)
    assert (module.blocks, kinds(module)) == ((), [(Kind.ANSWER_ALONE, 1), (Kind.NO_ANSWER, 1)])
    assert [(finding.time, finding.frame) for finding in module.findings] == [(0.0, 1), (0.003, 4)]


@pytest.mark.parametrize("spoil", ["lose", "double"])
def test_a_lost_or_repeated_frame_is_told_with_its_place(tmp_path, spoil):
    talk = Talk().ask(GATEWAY, "22F190", "62F190" + VIN_HEX)
    rows = talk.rows[:3] + (talk.rows[4:] if spoil == "lose" else [talk.rows[3], *talk.rows[3:]])
    module = Talk(rows).module(tmp_path)
    assert module.identification == ()
    (finding,) = module.findings
    assert (finding.kind, finding.lapse) == (Kind.SEGMENT_LOST, Lapse.WRONG_SEQUENCE)
    assert (finding.frame, finding.service, finding.due) == (2, 0x22, 20)


def test_a_block_of_another_length_is_left_out(tmp_path):
    module = Talk().ask(GATEWAY, "222210", "6222104C011F").module(tmp_path)
    (finding,) = module.findings
    assert module.blocks == ()
    assert (finding.kind, finding.did, finding.found, finding.due) == (Kind.WRONG_LENGTH, 0x2210, 3, 6)


def test_two_modules_on_one_address(tmp_path):
    talk = Talk().ask(GATEWAY, "222211", "6222113F00", "6222114000")
    module = talk.module(tmp_path)
    assert (module.blocks[0].last, kinds(module)) == (b"\x3f\x00", [(Kind.SECOND_ANSWER, 1)])


def test_a_vehicle_file_with_two_modules_on_one_address(tmp_path):
    table = VEHICLE.model_dump(mode="python", exclude_unset=True)
    table["module"]["column"] |= {"request_id": 0x6A0, "response_id": 0x6B0}
    vehicle = Vehicle.model_validate(table)
    module = Talk().ask(GATEWAY, "222211", "6222113F00").module(tmp_path, vehicle)
    assert module.name is None
    assert [(finding.kind, finding.names) for finding in module.findings] == [
        (Kind.SHARED_ADDRESS, ("gateway", "column"))
    ]


def test_a_vin_that_changes_or_differs(tmp_path):
    other = b"1J9RP1A36A1644345"
    talk = Talk().ask(GATEWAY, "22F190", "62F190" + VIN_HEX).ask(GATEWAY, "22F190", "62F190" + other.hex())
    talk.ask(COLUMN, "22F190", "62F190" + VIN_HEX)
    readout = talk.readout(tmp_path)
    assert kinds(readout.modules[0]) == [(Kind.VIN_CHANGED, 1)]
    assert readout.modules[0].identification[0].last == other.decode()
    assert [(finding.kind, set(finding.names)) for finding in readout.findings] == [
        (Kind.VIN_DIFFERS, {VIN, other.decode()})
    ]


def test_a_length_of_4_gb_is_a_finding(tmp_path):
    talk = Talk().message(*GATEWAY, "222210").frame(0x6B0, "1000 FFFFFFFF 6222")
    for number in range(1, 40):
        talk.frame(0x6B0, f"2{number % 16:X} 00112233445566")
    module = talk.module(tmp_path)
    assert module.blocks == ()
    assert [(finding.lapse, finding.due) for finding in module.findings] == [(Lapse.TOO_LONG, 0xFFFFFFFF)]


@pytest.mark.parametrize(
    ("request_", "answer", "kind"),
    [
        ("1902FF", "5902FF123456", Kind.WRONG_LENGTH),
        ("1906123456FF", "590612345624", Kind.REPORT_NOT_READ),
        ("222210", "7F22", Kind.WRONG_LENGTH),
        ("2E22", "6E22", Kind.WRONG_LENGTH),
        ("03", "43020133", Kind.WRONG_LENGTH),
        ("222210", "622210", Kind.WRONG_LENGTH),
    ],
)
def test_messages_that_cannot_be(tmp_path, request_, answer, kind):
    module = Talk().ask(GATEWAY, request_, answer).module(tmp_path)
    assert (module.blocks, module.faults.last) == ((), None)
    assert [finding.kind for finding in module.findings] == [kind]


def test_an_answer_that_comes_too_late_answers_nothing(tmp_path):
    talk = Talk().message(*GATEWAY, "222211").message(0x6B0, 0x6A0, "6222113F00", after=10_001)
    assert {finding.kind for finding in talk.module(tmp_path).findings} == {Kind.ANSWER_ALONE, Kind.NO_ANSWER}


def test_an_id_that_the_file_names_for_no_module_does_not_answer_for_one(tmp_path):
    """The file says from which id the gateway answers."""
    talk = Talk().frame(0x100, "00").frame(0x6A0, "03222210").frame(0x6A3, "0462221000")
    readout = read_diagnostics([talk.log(tmp_path)], VEHICLE)
    assert [module.name for module in readout.modules if module.blocks] == []
    findings = [(module.name, finding.kind) for module in readout.modules for finding in module.findings]
    assert findings == [("gateway", Kind.NO_ANSWER), (None, Kind.ANSWER_ALONE)]


def test_a_module_whose_answers_have_any_id_has_the_blocks_of_its_file(tmp_path):
    gateway = VEHICLE.module["gateway"].model_copy(update={"response_id": None})
    vehicle = VEHICLE.model_copy(update={"module": {**VEHICLE.module, "gateway": gateway}})
    talk = Talk().frame(0x100, "00").frame(0x6A0, "03222210").frame(0x6A3, "0462221000")
    (module,) = read_diagnostics([talk.log(tmp_path)], vehicle).modules
    assert (module.name, module.blocks) == ("gateway", ())
    assert [(finding.kind, finding.found, finding.due) for finding in module.findings] == [
        (Kind.WRONG_LENGTH, 1, 6)
    ]


FRAMES = st.tuples(
    st.sampled_from([0x6A0, 0x6B0, 0x6A3, 0x6B3, 0x7DF, 0x7E0, 0x7E8, 0x640, 0x18DA40F1, 0x18DAF140]),
    st.one_of(
        st.binary(max_size=8),
        st.sampled_from(
            [
                bytes.fromhex(text)
                for text in (
                    "03222210", "0662221020304050", "10146222103031FF", "2130313233343536", "300000",
                    "037F2278", "021003", "0250031122", "F103222210", "F1037F2278", "1000FFFFFFFF6222",
                    "042E221101", "036E2211", "021902", "0259020A",
                )
            ]
        ),
    ),
)  # fmt: skip


@settings(max_examples=150)
@given(st.lists(FRAMES, max_size=40))
def test_whatever_comes_is_read(tmp_path_factory, frames):
    talk = Talk().frame(0x100, "00")
    for can_id, data in frames:
        talk.frame(can_id, data)
    log = talk.log(tmp_path_factory.mktemp("talk"))
    for vehicle in (VEHICLE, None):
        readout = read_diagnostics([log], vehicle)
        for module in readout.modules:
            for block in module.blocks:
                known = vehicle.module[module.name].coding if vehicle and module.name else {}
                assert block.did not in known or len(block.last) == known[block.did].length


@pytest.mark.parametrize(("head", "line"), [("", 3), ("# a comment\n", None), ("no frame\n", None)])
def test_a_finding_has_the_line_of_its_frame_where_every_line_is_one(tmp_path, head, line):
    log = Talk().frame(0x100, "00").frame(0x6A0, "03222210").frame(0x6B0, "1008622210000000").log(tmp_path)
    log.write_text(head + log.read_text(encoding="utf-8"), encoding="utf-8")
    (module,) = read_diagnostics([log], VEHICLE).modules
    (finding, *_) = module.findings
    assert (finding.kind, finding.frame, finding.line) == (Kind.SEGMENT_LOST, 3, line)
