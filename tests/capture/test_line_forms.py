"""Every form of candump line, with the frame it is. The forms are those that can-utils writes."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.capture import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, read_capture

EIGHT = "1122334455667788"
SIXTEEN = EIGHT * 2
SPACED = "11 22 33 44 55 66 77 88"

# line, channel, id, flags, length, payload
FORMS = [
    ("(1436509052.249713) can0 123#1122", "can0", 0x123, 0, 2, "1122"),
    ("(1436509052.249713) can0 123#1122 T", "can0", 0x123, 0, 2, "1122"),
    ("(1436509052.249713) can0 123#1122 R", "can0", 0x123, 0, 2, "1122"),
    ("(1436509052.249713) can0 123#1122 r", "can0", 0x123, 0, 2, "1122"),
    ("(1436509052.249713) can0 123#1122 t", "can0", 0x123, 0, 2, "1122"),
    ("(1436509052.249713)  vcan10  123#1122\t", "vcan10", 0x123, 0, 2, "1122"),
    ("  (1436509052.249713) can0 7ff#aBcD", "can0", 0x7FF, 0, 2, "abcd"),
    ("(1436509052.249713) can0 000#", "can0", 0, 0, 0, ""),
    ("(   1436509052.249713) can0 123#1122", "can0", 0x123, 0, 2, "1122"),
    ("( 1436509052.249713 )  can0  123   [2]  11 22", "can0", 0x123, 0, 2, "1122"),
    ("(1436509052.249713) can0 123#1122 # door opened", "can0", 0x123, 0, 2, "1122"),
    ("(1436509052.249713) can0 123#1122 R // door, 2nd try", "can0", 0x123, 0, 2, "1122"),
    ("(1436509052.249713) can0 123#R4\t; asked for", "can0", 0x123, REMOTE, 4, ""),
    (f"(1436509052.249713) can0 123##1{SIXTEEN} #", "can0", 0x123, FD | BRS, 16, SIXTEEN),
    ("  can0  123   [2]  11 22   # 33 44", "can0", 0x123, 0, 2, "1122"),
    ("  can0  123   [2]  11 22   '#;'   ; both characters", "can0", 0x123, 0, 2, "1122"),
    ("  can0  123   [0]  // nothing in it", "can0", 0x123, 0, 0, ""),
    ("  can0  123   [4]  remote request  # why", "can0", 0x123, REMOTE, 4, ""),
    ("(1436509052.249713) can0 00000123#11", "can0", 0x123, EXTENDED, 1, "11"),
    (f"(1436509052.249713) slcan0 1FFFFFFF#{EIGHT}", "slcan0", 0x1FFFFFFF, EXTENDED, 8, EIGHT),
    (f"(1436509052.249713) can0 123#{EIGHT}_B", "can0", 0x123, 0, 8, EIGHT),
    (f"(1436509052.249713) can0 123#{EIGHT}_f R", "can0", 0x123, 0, 8, EIGHT),
    ("(1436509052.249713) can0 123#11.22.33", "can0", 0x123, 0, 3, "112233"),
    ("(1436509052.249713) can0 123#R", "can0", 0x123, REMOTE, 0, ""),
    ("(1436509052.249713) can0 123#r4", "can0", 0x123, REMOTE, 4, ""),
    ("(1436509052.249713) can0 12345678#R8_9 T", "can0", 0x12345678, EXTENDED | REMOTE, 8, ""),
    ("(1436509052.249713) can0 123##0", "can0", 0x123, FD, 0, ""),
    (f"(1436509052.249713) can0 123##1{SIXTEEN}", "can0", 0x123, FD | BRS, 16, SIXTEEN),
    ("(1436509052.249713) can0 12345678##2aa", "can0", 0x12345678, EXTENDED | FD | ESI, 1, "aa"),
    (f"(1436509052.249713) can0 123##7{SIXTEEN * 4} R", "can0", 0x123, FD | BRS | ESI, 64, SIXTEEN * 4),
    ("(1436509052.249713) can0 123##5.11.22", "can0", None, None, None, None),
    (f"(1436509052.249713) can0 20000004#{EIGHT}", "can0", 4, ERROR, 8, EIGHT),
    (f"(1436509052.249713) can0 20000080#{EIGHT} R", "can0", 0x80, ERROR, 8, EIGHT),
    (f"  can0  123   [8]  {SPACED}", "can0", 0x123, 0, 8, EIGHT),
    ("  can0  123   [0] ", "can0", 0x123, 0, 0, ""),
    (f"  can0  123   [8]  {SPACED}   '.\"3DUfw.'", "can0", 0x123, 0, 8, EIGHT),
    ("  can0  123   [3]  20 27 41                  ' 'A'", "can0", 0x123, 0, 3, "202741"),
    ("  any  12345678   [1]  ff", "any", 0x12345678, EXTENDED, 1, "ff"),
    ("  can0  RX - -  123   [2]  11 22", "can0", 0x123, 0, 2, "1122"),
    ("  can0  TX - -  123   [2]  11 22", "can0", 0x123, 0, 2, "1122"),
    ("  can0  RX B E  123  [02]  11 22", "can0", 0x123, FD | BRS | ESI, 2, "1122"),
    ("  can0  TX B -  123  [08]  " + SPACED, "can0", 0x123, FD | BRS, 8, EIGHT),
    ("  can0  123  [12]  " + SPACED + " 99 AA BB CC", "can0", 0x123, FD, 12, EIGHT + "99aabbcc"),
    ("  can0  123  [64]  " + " ".join([SPACED] * 8), "can0", 0x123, FD, 64, SIXTEEN * 4),
    (f"  can0  123   {{B}}  {SPACED}", "can0", 0x123, 0, 8, EIGHT),
    (f"  can0  123   {{8}}  {SPACED}", "can0", 0x123, 0, 8, EIGHT),
    ("  can0  123   [0]  remote request", "can0", 0x123, REMOTE, 0, ""),
    ("  can0  123   [4]  remote request", "can0", 0x123, REMOTE, 4, ""),
    (f"  can0  20000004   [8]  {SPACED}   ERRORFRAME", "can0", 4, ERROR, 8, EIGHT),
    (f" (1436509052.249713)  can0  123   [8]  {SPACED}", "can0", 0x123, 0, 8, EIGHT),
    ("(1436509052.249713) can1 TX - -  123   [1]  05   '.'", "can1", 0x123, 0, 1, "05"),
]


@pytest.mark.parametrize("padding", ["", "# " + "x" * 200 + "\n"], ids=["short", "padded"])
@pytest.mark.parametrize("end", ["\n", "\r\n"], ids=["lf", "crlf"])
@pytest.mark.parametrize(
    ("line", "channel", "can_id", "flags", "length", "payload"), FORMS, ids=[f[0] for f in FORMS]
)
def test_line_is_the_frame(tmp_path: Path, line, channel, can_id, flags, length, payload, end, padding):
    path = tmp_path / "x.log"
    # A second, good line makes the file one with frames; the padding lets the short way see the line.
    path.write_bytes((line + end + "(1436509053.000000) can9 700#" + end + padding).encode())
    capture = read_capture(path)
    if can_id is None:
        assert (len(capture), capture.skipped) == (1, 1)
        return
    assert (len(capture), capture.skipped) == (2, 0)
    assert capture.channels == (channel, "can9")
    assert (capture.can_id[0], capture.flags[0], capture.length[0]) == (can_id, flags, length)
    assert capture.payload(0).hex() == payload.lower()
    if "(" in line:
        assert capture.time_ns[0] == 1436509052_249713000
