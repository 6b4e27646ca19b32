"""What cantools refuses and is put right in memory: what comes of it, and where it is told."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.database import DbcRepair, MuxPage, RepairKind, load_database
from netcheck.database._repair import repair
from netcheck.database._text import dbc_text
from netcheck.errors import InputError
from netcheck.report import database_warnings, repair_text
from netcheck.report._database_words import REPAIRS
from tests.database.test_load import HEAD, write

SIGNAL = ' SG_ {} : 0|8@1+ (1,0) [0|0] "" GATE\n'


def test_a_29_bit_id_without_its_flag_is_one_wherever_it_stands(tmp_path: Path):
    path = write(
        tmp_path,
        f"BO_ 2047 Last: 8 GATE\n\nBO_ 274923520 Door: 8 GATE\n{SIGNAL.format('Open')}"
        ' SG_ Page M : 8|8@1+ (1,0) [0|0] "" GATE\n SG_ Leaf m1 : 16|32@1- (1,0) [0|0] "" GATE\n\n'
        "BO_ 2048 First: 8 GATE\n\nBO_TX_BU_ 274923520 : COLUMN,GATE;\n"
        'CM_ SG_ 274923520 Open "BO_ 274923520 Door: 8";\nCM_ BO_ 2048 "VAL_ 274923520 Open 0";\n'
        'BA_DEF_ BO_ "GenMsgCycleTime" INT 0 300000000;\nBA_DEF_DEF_ "GenMsgCycleTime" 0;\n'
        'BA_ "GenMsgCycleTime" BO_ 274923520 2048;\n'
        'VAL_ 274923520 Open 0 "closed" 274923520 "open" ;\n'
        "SIG_VALTYPE_ 274923520 Leaf : 1;\nSG_MUL_VAL_ 274923520 Leaf Page 1-1, 5-6;\n",
    )
    database = load_database(path)
    last, door, first = database.messages
    assert [(m.can_id, m.is_extended) for m in (last, door, first)] == [
        (0x7FF, False),
        (0x10630000, True),
        (0x800, True),
    ]
    assert (door.senders, door.cycle_time_ms) == (("GATE", "COLUMN"), 2048.0)
    opened, _, leaf = door.signals
    assert opened.labels == {0: "closed", 274923520: "open"}
    assert leaf.is_float
    assert leaf.pages == (MuxPage("Page", (1, 5, 6)),)
    assert database.warnings == ()
    assert database.repairs == (
        DbcRepair(RepairKind.NO_EXTENDED_FLAG, str(path), 11, "Door", can_id=0x10630000),
        DbcRepair(RepairKind.NO_EXTENDED_FLAG, str(path), 16, "First", can_id=0x800),
    )
    assert database_warnings(database)[0] == (
        f"{path}: line 11: message Door has the id 0x10630000 without the flag of a 29-bit id: "
        "it is read as one"
    )


@pytest.mark.parametrize("number", [0x2000_0000, 0x4014_0639, 0x7FFF_FFFF])
def test_an_id_of_more_than_29_bits_is_refused(tmp_path: Path, number: int):
    path = write(tmp_path, f"BO_ {number} Big: 8 GATE\n")
    with pytest.raises(InputError, match="line 9: cantools rejects it even in lenient mode: Standard frame"):
        load_database(path)


def test_both_ways_to_write_an_id_in_one_file_are_two_messages(tmp_path: Path):
    path = write(tmp_path, "BO_ 4096 One: 8 GATE\n\nBO_ 2147487744 Two: 8 GATE\n")
    database = load_database(path)
    assert [message.name for message in database.messages] == ["One", "Two"]
    assert "One and Two share the id 0x1000" in database.warnings[0]


@pytest.mark.parametrize(
    ("entry", "keyword", "can_id", "name"),
    [
        ('VAL_ 1 Gone 0 "a; \\"b\\"" 1 "c\nd" ;', "VAL_", 1, "Gone"),
        ('VAL_ 7 Kept 0 "a" ;', "VAL_", 7, "Kept"),
        ('VAL_ 2147483649 Kept 0 "a" ;', "VAL_", 1, "Kept"),
        ('VAL_ 3221225472 Lost 0 "a" ;', "VAL_", 0x40000000, "Lost"),
        ("SIG_VALTYPE_ 1 Gone : 1;", "SIG_VALTYPE_", 1, "Gone"),
        ("SIG_VALTYPE_\n7 Kept : 2 ;", "SIG_VALTYPE_", 7, "Kept"),
    ],
)
def test_an_entry_on_no_signal_is_left_out(tmp_path: Path, entry: str, keyword: str, can_id: int, name: str):
    path = write(
        tmp_path,
        f"BO_ 1 One: 8 GATE\n{SIGNAL.format('Kept')}\n"
        f"BO_ 3221225472 VECTOR__INDEPENDENT_SIG_MSG: 0 Vector__XXX\n{SIGNAL.format('Lost')}\n"
        f'{entry}\nVAL_ 1 Kept 1 "on" ;\nBO_ 2 Two: {"x"} GATE\n'.replace("x GATE", "8 GATE"),
    )
    database = load_database(path)
    assert database.repairs == (DbcRepair(RepairKind.STRAY_ENTRY, str(path), 15, name, keyword, can_id),)
    assert repair_text(database.repairs[0]) == (
        f"{path}: line 15: the {keyword} entry is left out: no message with the id 0x{can_id:X} "
        f"has a signal {name}"
    )
    one = database.message("One")
    assert one is not None
    assert one.signals[0].labels == {1: "on"}
    assert database.message("Two") is not None


def test_lines_stay_where_they_are(tmp_path: Path):
    path = write(tmp_path, 'VAL_ 1 Gone 0 "a\n\nb" ;\nBO_ 1 One: 8 GATE\n oops\n')
    with pytest.raises(InputError, match=r"line 13: .*invalid syntax at column 2"):
        load_database(path)


def test_names_that_begin_with_a_digit_stay_as_they_are(tmp_path: Path):
    path = write(
        tmp_path,
        f"BO_ 1 2017_5: 2 4x4\n{SIGNAL.format('0_COUNTER')}{SIGNAL.format('_0_COUNTER')}\n"
        "BO_ 2 Pages: 8 GATE\n"
        ' SG_ 1st M : 0|8@1+ (1E-05,1e5) [0|1.5e3] "5th" 4x4,GATE\n'
        ' SG_ 2nd m2 : 8|8@1+ (1,0) [0|0] "" 4x4\n\n'
        "BO_TX_BU_ 2 : GATE,4x4;\n"
        'CM_ BU_ 4x4 "2017_5 and 1st";\nCM_ SG_ 1 0_COUNTER "counts";\n// 7up\n'
        'VAL_ 1 0_COUNTER 1 "1st" ;\nSG_MUL_VAL_ 2 2nd 1st 2-3;\n',
    )
    database = load_database(path)
    first, pages = database.messages
    assert (first.name, first.senders, pages.senders) == ("2017_5", ("4x4",), ("GATE", "4x4"))
    assert [signal.name for signal in first.signals] == ["0_COUNTER", "_0_COUNTER"]
    assert first.signals[0].labels == {1: "1st"}
    outer, inner = pages.signals
    assert (outer.name, outer.scale, outer.offset, outer.maximum, outer.unit) == (
        "1st",
        1e-5,
        1e5,
        1500.0,
        "5th",
    )
    assert (inner.name, inner.pages) == ("2nd", (MuxPage("1st", (2, 3)),))
    assert database.warnings == (
        f"{path}: The signals _0_COUNTER and 0_COUNTER are overlapping in message 2017_5",
    )
    assert [(found.line, found.name, found.can_id) for found in database.repairs] == [
        (9, "2017_5", None),
        (9, "4x4", None),
        (10, "0_COUNTER", None),
        (14, "1st", None),
        (15, "2nd", None),
    ]
    assert {found.kind for found in database.repairs} == {RepairKind.DIGIT_NAME}
    assert repair_text(database.repairs[0]) == (
        f"{path}: line 9: the name 2017_5 begins with a digit, which the format does not allow: "
        "it is read as it is"
    )


def test_a_node_that_begins_with_a_digit_has_its_address(tmp_path: Path):
    path = tmp_path / "j.dbc"
    path.write_text(
        'VERSION ""\nNS_ :\nBS_:\nBU_: 5th\nBO_ 2566844926 Far: 4 5th\n'
        'BA_DEF_ "ProtocolType" STRING ;\nBA_DEF_ BU_ "NmStationAddress" INT 0 255;\n'
        'BA_DEF_DEF_ "ProtocolType" "";\nBA_DEF_DEF_ "NmStationAddress" 254;\n'
        'BA_ "ProtocolType" "J1939";\nBA_ "NmStationAddress" BU_ 5th 39;\n'
    )
    (message,) = load_database(path).messages
    assert (message.is_j1939, message.senders, message.source_address) == (True, ("5th",), 39)


def test_repairs_of_several_files_name_each(tmp_path: Path):
    paths = [write(tmp_path, f"BO_ {number} M{number}: 8 GATE\n", f"{number}.dbc") for number in (4096, 4097)]
    database = load_database(*paths)
    assert [(found.file, found.name) for found in database.repairs] == [
        (str(path), f"M{number}") for path, number in zip(paths, (4096, 4097), strict=True)
    ]


def test_each_kind_has_its_words():
    assert set(REPAIRS) == set(RepairKind)


def test_a_text_without_fault_stays_as_it_is():
    for path in sorted((Path(__file__).parent.parent.parent / "dbc").glob("*.dbc")):
        text = path.read_text()
        found = repair(dbc_text(text), "x.dbc")
        assert (found.text, found.repairs, found.names) == (text, (), {})


def test_what_is_blanked_is_as_long():
    text = 'a "b; // \\" c\nd" // "e\nf "g'
    bare = dbc_text(text).bare
    assert bare == 'a "          \n " ' + "     \n" + 'f "g'
    assert len(bare) == len(text)
    assert HEAD.count("\n") == 8
