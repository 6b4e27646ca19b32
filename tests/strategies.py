"""Hypothesis strategies that several rooms' tests share."""

from __future__ import annotations

from hypothesis import strategies as st

_BLANKS = st.sampled_from([" ", "  ", "\t", "   "])
_DIGITS = "0123456789ABCDEFabcdef"


def _hex(least: int, most: int) -> st.SearchStrategy[str]:
    return (
        st.binary(min_size=least, max_size=most)
        .map(bytes.hex)
        .flatmap(lambda text: st.sampled_from([text, text.upper()]))
    )


_IDS = st.one_of(
    st.integers(0, 0x7FF).map("{:03X}".format),
    st.integers(0, 0x1FFFFFFF).map("{:08x}".format),
    st.integers(0x20000000, 0x3FFFFFFF).map("{:08X}".format),
)
_CHANNELS = st.sampled_from(["can0", "can1", "vcan10", "any", "slcan0", "a-very-long-channel-name", "kan-ü"])
_SECONDS = st.one_of(
    st.integers(1_436_509_050, 1_436_509_060).map(str),
    st.integers(0, 12).map("{:03d}".format),
    st.integers(0, 70_000).map(str),
)
_FRACTIONS = st.one_of(
    st.integers(0, 999_999).map(".{:06d}".format),
    st.text("0123456789", min_size=1, max_size=12).map(".{}".format),
    st.just(""),
)
_DATES = st.datetimes().map(lambda date: date.strftime("%Y-%m-%d %H:%M:%S"))
_PADS = st.sampled_from(["", "", "", " ", "   ", "\t"])
_STAMPS = st.builds(
    "({}{}{}{}) ".format, _PADS, st.one_of(_SECONDS, _SECONDS, _SECONDS, _DATES), _FRACTIONS, _PADS
)
_COMMENTS = st.sampled_from(["", "", "", " # door", "\t; 11 22", " // 'x'", " #", " / no", "# no"])
_CLASSIC = st.one_of(_hex(0, 8), _hex(8, 8).map("{}_B".format), st.just("11.22.33"))
_FD = st.builds("#{}{}".format, st.sampled_from(_DIGITS), _hex(0, 64))
_REMOTE = st.sampled_from(["R", "r", "R4", "R8", "R8_9", "R0"])
_LETTERS = st.sampled_from(["", "", "", " R", " T", " r", "\tt"])


@st.composite
def _screen_lines(draw: st.DrawFn) -> str:
    length = draw(st.integers(0, 8))
    data = [f"{byte:02X}" for byte in draw(st.binary(min_size=length, max_size=length))]
    brackets = draw(st.sampled_from([f"[{length}]", f"[{length:02d}]", f"{{{length:X}}}"]))
    tail = draw(st.sampled_from(["", "", "   '" + "." * length + "'", "   ERRORFRAME", " remote request"]))
    columns = [draw(st.one_of(st.just(""), _STAMPS)), draw(_CHANNELS)]
    columns += draw(st.sampled_from([[], [], ["RX - -"], ["TX B E"], ["RX  B  -"]]))
    columns += [draw(_IDS), brackets, *([] if "remote" in tail else data)]
    return draw(_BLANKS).join(columns) + tail + draw(_COMMENTS)


_LOG_LINES = st.builds(
    "{}{}{}{}#{}{}{}".format,
    _STAMPS,
    _CHANNELS,
    _BLANKS,
    _IDS,
    st.one_of(_CLASSIC, _CLASSIC, _FD, _REMOTE),
    _LETTERS,
    _COMMENTS,
)
_COMMON_LINES = st.builds(
    "({}) {} {}#{}{}".format,
    st.integers(1_436_509_052_000_000, 1_436_509_053_500_000).map(
        lambda t: f"{t // 1_000_000}.{t % 1_000_000:06d}"
    ),
    st.sampled_from(["can0", "can1"]),
    _IDS,
    _hex(0, 8),
    st.sampled_from(["", " R", " T"]),
)
_OTHER_LINES = st.sampled_from(
    [
        "",
        "  ",
        "# comment",
        ";comment",
        "junk",
        "(1.0)",
        "DROPCOUNT: dropped 3",
        "can0 123#11",
        "(1.0) can0 00123#81:00:12345678#11",
    ]
)


@st.composite
def _spoilt_lines(draw: st.DrawFn) -> str:
    """A good line with one character taken out, put in or changed."""
    line = draw(st.one_of(_COMMON_LINES, _LOG_LINES, _screen_lines()))
    at = draw(st.integers(0, max(len(line) - 1, 0)))
    character = draw(st.sampled_from([*"0aFgR#_.()[]' -Xx\t\x00"]))
    return draw(
        st.sampled_from(
            [
                line[:at] + line[at + 1 :],
                line[:at] + character + line[at:],
                line[:at] + character + line[at + 1 :],
            ]
        )
    )


def candump_texts() -> st.SearchStrategy[bytes]:
    """Candump text of every form mixed, with lines that are no frames; perhaps without a last line end."""
    line = st.one_of(_COMMON_LINES, _COMMON_LINES, _LOG_LINES, _screen_lines(), _spoilt_lines(), _OTHER_LINES)
    return st.builds(
        lambda lines, end, last: (end.join(lines) + (end if last else "")).encode(),
        st.lists(line, max_size=25),
        st.sampled_from(["\n", "\n", "\r\n"]),
        st.booleans(),
    )
