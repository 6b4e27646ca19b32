"""DBC files into a database: what is kept, what is overlooked with a word, what is refused."""

from pathlib import Path

import pytest

from netcheck.database import MuxPage, load_database
from netcheck.errors import InputError, UsageError

HEAD = 'VERSION ""\n\nNS_ :\n\nBS_:\n\nBU_: COLUMN GATE\n\n'


def write(tmp_path: Path, body: str, name: str = "small.dbc", encoding: str = "utf-8") -> Path:
    path = tmp_path / name
    path.write_bytes((HEAD + body).encode(encoding))
    return path


def test_everything_the_model_keeps(tmp_path: Path):
    path = write(
        tmp_path,
        """BO_ 291 Lever: 8 COLUMN
 SG_ Position : 3|12@0- (0.5,-40) [-1064|983.5] "deg" GATE
 SG_ Pressed : 20|1@1+ (1,0) [0|0] "" GATE

BO_ 2566844926 Far: 4 Vector__XXX
 SG_ Real : 0|32@1- (1,0) [0|0] "" GATE

BO_TX_BU_ 291 : COLUMN,GATE;
BA_DEF_ BO_ "GenMsgCycleTime" INT 0 65535;
BA_DEF_DEF_ "GenMsgCycleTime" 0;
BA_ "GenMsgCycleTime" BO_ 291 20;
VAL_ 291 Pressed 0 "released" 1 "pressed" ;
SIG_VALTYPE_ 2566844926 Real : 1;
""",
    )
    database = load_database(path)
    assert database.files == (str(path),)
    assert database.warnings == ()
    lever, far = database.messages
    assert (lever.name, lever.can_id, lever.is_extended, lever.length) == ("Lever", 291, False, 8)
    assert (lever.senders, lever.cycle_time_ms, lever.file) == (("COLUMN", "GATE"), 20.0, str(path))
    assert (far.can_id, far.is_extended, far.senders, far.cycle_time_ms) == (0x18FEF1FE, True, (), None)
    position, pressed = lever.signals
    assert (position.start, position.width, position.is_big_endian, position.is_signed) == (3, 12, True, True)
    assert (position.scale, position.offset, position.minimum, position.maximum) == (
        0.5,
        -40.0,
        -1064.0,
        983.5,
    )
    assert (position.unit, position.labels, position.pages) == ("deg", {}, ())
    assert (pressed.start, pressed.minimum, pressed.maximum) == (20, None, None)
    assert pressed.labels == {0: "released", 1: "pressed"}
    assert far.signals[0].is_float
    assert database.message("Nobody") is None


def test_extended_multiplexing_gives_the_whole_chain(tmp_path: Path):
    path = write(
        tmp_path,
        """BO_ 100 Paged: 8 GATE
 SG_ Outer M : 0|4@1+ (1,0) [0|0] "" GATE
 SG_ Inner m1M : 4|4@1+ (1,0) [0|0] "" GATE
 SG_ Leaf m2 : 8|8@1+ (1,0) [0|0] "" GATE
 SG_ Plain : 16|8@1+ (1,0) [0|0] "" GATE

SG_MUL_VAL_ 100 Inner Outer 1-1, 5-6;
SG_MUL_VAL_ 100 Leaf Inner 2-3;
""",
    )
    message = load_database(path).messages[0]
    pages = {signal.name: signal.pages for signal in message.signals}
    assert pages == {
        "Outer": (),
        "Inner": (MuxPage("Outer", (1, 5, 6)),),
        "Leaf": (MuxPage("Outer", (1, 5, 6)), MuxPage("Inner", (2, 3))),
        "Plain": (),
    }


@pytest.mark.parametrize(
    ("tail", "expected"), [("", True), ('BA_ "VFrameFormat" BO_ 2566844926 1;\n', False)]
)
def test_j1939_by_the_file_unless_the_message_says_otherwise(tmp_path: Path, tail: str, expected: bool):
    path = write(
        tmp_path,
        'BO_ 2566844926 Far: 8 GATE\n SG_ A : 0|8@1+ (1,0) [0|0] "" GATE\n\n'
        'BA_DEF_ "ProtocolType" STRING ;\n'
        'BA_DEF_ BO_ "VFrameFormat" ENUM "StandardCAN","ExtendedCAN","reserved","J1939PG";\n'
        'BA_DEF_DEF_ "ProtocolType" "";\nBA_DEF_DEF_ "VFrameFormat" "StandardCAN";\n'
        'BA_ "ProtocolType" "J1939";\n' + tail,
    )
    assert load_database(path).messages[0].is_j1939 is expected


def test_j1939_and_fd_by_the_frame_format(tmp_path: Path):
    path = write(
        tmp_path,
        "BO_ 2566844926 Far: 8 GATE\n\nBO_ 5 Wide: 12 GATE\n\n"
        "BO_ 6 Short: 8 GATE\n\nBO_ 7 Classic: 8 GATE\n\n"
        'BA_DEF_ BO_ "VFrameFormat" ENUM "StandardCAN","ExtendedCAN","reserved","J1939PG","StandardCAN_FD";\n'
        'BA_DEF_DEF_ "VFrameFormat" "StandardCAN";\n'
        'BA_ "VFrameFormat" BO_ 2566844926 3;\nBA_ "VFrameFormat" BO_ 6 4;\n',
    )
    messages = {message.name: message for message in load_database(path).messages}
    assert {name: message.is_j1939 for name, message in messages.items()} == {
        "Far": True,
        "Wide": False,
        "Short": False,
        "Classic": False,
    }
    assert [messages[name].is_fd for name in ("Wide", "Short", "Classic")] == [True, True, False]


def test_pseudo_message_is_left_out(tmp_path: Path):
    path = write(
        tmp_path,
        "BO_ 3221225472 VECTOR__INDEPENDENT_SIG_MSG: 0 Vector__XXX\n"
        ' SG_ Lost : 0|8@1+ (1,0) [0|0] "" GATE\n\n'
        "BO_ 5 Kept: 8 GATE\n",
    )
    assert [message.name for message in load_database(path).messages] == ["Kept"]


def test_what_can_be_overlooked_is_said(tmp_path: Path):
    path = write(
        tmp_path,
        """BO_ 1 Overlap: 2 GATE
 SG_ A : 0|8@1+ (1,0) [0|0] "" GATE
 SG_ B : 4|8@1+ (1,0) [0|0] "" GATE

BO_ 2 Beyond: 1 GATE
 SG_ C : 4|8@1+ (1,0) [0|0] "" GATE

BO_ 3 Wide: 64 GATE
 SG_ Blob : 0|128@1+ (1,0) [0|0] "" GATE
 SG_ D : 128|8@1+ (1,0) [10|0] "" GATE

BO_ 5 Odd: 8 GATE
 SG_ G : 0|24@1+ (1,0) [0|0] "" GATE

BO_ 4 Loose: 8 GATE
 SG_ E M : 0|4@1+ (1,0) [0|0] "" GATE
 SG_ F m0M : 4|4@1+ (1,0) [0|0] "" GATE

SIG_VALTYPE_ 5 G : 1;
""",
    )
    database = load_database(path)
    assert database.warnings == (
        f"{path}: The signals B and A are overlapping in message Overlap",
        f"{path}: The signal C does not fit in message Beyond",
        f"{path}: signal Blob of message Wide is left out: it has 128 bits, more than 64",
        f"{path}: signal D of message Wide: limits 10 to 0 are reversed",
        f"{path}: signal G of message Odd is left out: a floating-point number cannot have 24 bits",
        f"{path}: message Loose has 2 multiplexers, and no SG_MUL_VAL_ says "
        "which signal belongs to which: its signals are read from every frame",
    )
    assert [[signal.name for signal in message.signals] for message in database.messages] == [
        ["A", "B"],
        ["C"],
        ["D"],
        [],
        ["E", "F"],
    ]


HUGE = "1" + "0" * 400


@pytest.mark.parametrize("number", ["1e400", "-1e400", HUGE])
def test_numbers_that_are_too_large_are_left_out_and_told(tmp_path: Path, number: str):
    path = write(
        tmp_path,
        f"""BO_ 1 One: 8 GATE
 SG_ A : 0|8@1+ ({number},0) [0|0] "" GATE
 SG_ B : 8|8@1+ (1,{number}) [0|0] "" GATE
 SG_ C : 16|8@1+ (1,0) [0|{number}] "" GATE
 SG_ D : 24|8@1+ (1,0) [0|9] "" GATE

BA_DEF_ BO_ "GenMsgCycleTime" FLOAT 0 1;
BA_DEF_ SG_ "GenSigStartValue" FLOAT 0 1;
BA_DEF_DEF_ "GenMsgCycleTime" 0;
BA_DEF_DEF_ "GenSigStartValue" 0;
BA_ "GenMsgCycleTime" BO_ 1 {number};
BA_ "GenSigStartValue" SG_ 1 D {number};
""",
    )
    database = load_database(path)
    (message,) = database.messages
    assert [(signal.name, signal.maximum, signal.start_raw) for signal in message.signals] == [
        ("C", None, None),
        ("D", 9.0, None),
    ]
    assert message.cycle_time_ms is None
    said = [text.removeprefix(f"{path}: ") for text in database.warnings]
    assert said[:3] == [
        "signal A of message One is left out: its scale or its offset is too large for a number",
        "signal B of message One is left out: its scale or its offset is too large for a number",
        "signal C of message One: limits are too large for numbers",
    ]
    assert said[3].startswith("message One: a cycle time of ")
    assert len(said) == 4


@pytest.mark.parametrize("stated", ["-5", '"fast"'])
def test_a_cycle_time_that_is_none_is_left_out_and_told(tmp_path: Path, stated: str):
    kind = "STRING" if stated.startswith('"') else "INT 0 1"
    path = write(
        tmp_path,
        f'BO_ 1 One: 8 GATE\nBA_DEF_ BO_ "GenMsgCycleTime" {kind};\n'
        f'BA_DEF_DEF_ "GenMsgCycleTime" {stated};\nBA_ "GenMsgCycleTime" BO_ 1 {stated};\n',
    )
    database = load_database(path)
    assert database.messages[0].cycle_time_ms is None
    said = stated.strip('"')
    assert database.warnings == (f"{path}: message One: a cycle time of {said} ms is left out",)


def test_several_files_are_one_and_the_first_wins(tmp_path: Path):
    first = write(tmp_path, "BO_ 1 One: 8 GATE\n\nBO_ 2 Two: 8 GATE\n", "first.dbc")
    second = write(tmp_path, "BO_ 3 One: 8 GATE\n\nBO_ 2 Deux: 8 GATE\n\nBO_ 4 Four: 8 GATE\n", "second.dbc")
    database = load_database(first, second, first)
    assert database.files == (str(first), str(second))
    assert [(message.name, message.can_id) for message in database.messages] == [
        ("One", 1),
        ("Two", 2),
        ("Four", 4),
    ]
    assert database.warnings == (
        f"{second}: a second message One is left out: the one of {first} counts",
        f"{second}: message Deux is left out, its id 0x2 is Two of {first}",
    )


def test_two_messages_of_one_id_in_one_file_are_both_kept(tmp_path: Path, capfd: pytest.CaptureFixture[str]):
    path = write(tmp_path, "BO_ 1 One: 8 GATE\n\nBO_ 1 Uno: 8 GATE\n\nBO_ 2 One: 8 GATE\n")
    database = load_database(path)
    assert [message.name for message in database.messages] == ["One", "Uno"]
    assert database.warnings == (
        f"{path}: messages One and Uno share the id 0x1: its frames are decoded as both",
        f"{path}: a second message One is left out: the first one counts",
    )
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252"])
def test_encodings(tmp_path: Path, encoding: str):
    path = write(
        tmp_path, 'BO_ 1 One: 8 GATE\n SG_ T : 0|8@1+ (1,-40) [0|0] "°C" GATE\n\n', encoding=encoding
    )
    assert load_database(path).messages[0].signals[0].unit == "°C"


def test_same_file_same_database(tmp_path: Path):
    path = write(
        tmp_path,
        'BO_ 1 One: 8 GATE\n SG_ T m3 : 0|8@1+ (1,-40) [0|0] "" GATE\n SG_ M M : 8|8@1+ (1,0) [0|0] "" A\n',
    )
    assert load_database(path) == load_database(path)


BAD = {
    "missing": (None, "does not exist – check the path"),
    "empty": (b"", "is empty – give a DBC file: text with BO_ and SG_ lines"),
    "blank": (b"\r\n \n", "is empty – give a DBC file"),
    "jpeg": (b"\xff\xd8\xff\xe0\x00\x10JFIF\x00", "is binary data, not a DBC file – give a DBC file"),
    "jpeg-without-zero": (b"\xff\xd8\xff\xe0\x10JFIF \x81\x8d", "is neither UTF-8 nor cp1252 text"),
    "prose": (b"Dear all,\nthis is no DBC.\n", "is not a DBC file – give a DBC file"),
    "log": (b"(1.0) can0 123#00\n", "is not a DBC file"),
    "long-line": (b"x" * 3_000_000, "is not a DBC file"),
}


@pytest.mark.parametrize("kind", BAD)
def test_no_dbc_is_one_line(tmp_path: Path, kind: str):
    content, expected = BAD[kind]
    path = tmp_path / f"{kind}.dbc"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        load_database(path)
    text = str(caught.value)
    assert text.startswith(f"{path}: ")
    assert expected in text
    assert "\n" not in text
    assert len(text) < len(str(path)) + 250


def test_a_directory_and_nothing_at_all(tmp_path: Path):
    with pytest.raises(InputError, match="is a directory – name the DBC file in it"):
        load_database(tmp_path)
    with pytest.raises(InputError, match="cannot be a path"):
        load_database("a\0b")
    with pytest.raises(UsageError, match="no DBC file given"):
        load_database()


@pytest.mark.parametrize(
    ("body", "where", "said"),
    [
        (
            'BO_ 1 One: 8 GATE\n SG_ 25 : 0|8@1+ (1,0) [0|0] "" GATE\n',
            "line 10",
            "invalid syntax at column 6",
        ),
        ("BO_ 1 One: 8 GATE\n\nBO_ 536870912 Big: 8 GATE\n", "line 11", "more than 11 bits in message Big"),
        ('BO_ 1 One: 8 GATE\n SG_ A : 0|0@1+ (1,0) [0|0] "" GATE\n', "line 9", "length 0"),
    ],
)
def test_what_cantools_refuses_names_the_line(tmp_path: Path, body: str, where: str, said: str):
    path = write(tmp_path, body)
    with pytest.raises(InputError) as caught:
        load_database(path)
    assert caught.value.where == where
    assert "cantools rejects it even in lenient mode" in caught.value.what
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


def test_no_message_is_worth_a_word(tmp_path: Path):
    path = write(tmp_path, "")
    assert load_database(path).warnings == (f"{path}: has no messages",)


@pytest.mark.parametrize("pages", ["0-4294967295", "3-3, 1 - 99999999999999999999"])
def test_endless_page_range_is_refused_before_it_fills_the_memory(tmp_path: Path, pages: str):
    path = write(
        tmp_path,
        'BO_ 1 One: 8 GATE\n SG_ P M : 0|8@1+ (1,0) [0|0] "" GATE\n SG_ Q m0 : 8|8@1+ (1,0) [0|0] "" GATE\n\n'
        f"SG_MUL_VAL_ 1 Q P {pages};\n",
    )
    with pytest.raises(InputError, match=r"line 13: page range \d+-\d+ is longer than 65,536 pages"):
        load_database(path)


def test_start_values_and_j1939_addresses(tmp_path: Path):
    """GenSigStartValue is a raw value; NmStationAddress is the address of a node in J1939 databases."""
    path = write(
        tmp_path,
        """BO_ 291 Lever: 8 COLUMN
 SG_ Position : 3|12@0- (0.5,-40) [-1064|983.5] "deg" GATE
 SG_ Pressed : 20|1@1+ (1,0) [0|0] "" GATE

BO_ 2566844926 Far: 4 GATE
 SG_ Real : 0|8@1- (1,0) [0|0] "" COLUMN

BA_DEF_ BO_ "VFrameFormat" ENUM "StandardCAN","ExtendedCAN","reserved","J1939PG";
BA_DEF_ BU_ "NmStationAddress" INT 0 255;
BA_DEF_ SG_ "GenSigStartValue" INT -100000 100000;
BA_DEF_DEF_ "NmStationAddress" 254;
BA_DEF_DEF_ "VFrameFormat" "StandardCAN";
BA_ "NmStationAddress" BU_ GATE 39;
BA_ "NmStationAddress" BU_ COLUMN 40;
BA_ "VFrameFormat" BO_ 2566844926 3;
BA_ "GenSigStartValue" SG_ 291 Position -12;
""",
    )
    lever, far = load_database(path, cache=False).messages
    assert [signal.start_raw for signal in lever.signals] == [-12, None]
    assert (lever.source_address, far.source_address) == (None, 39)
    assert load_database(path, path, cache=False).messages == (lever, far)
