"""Slow references: the plainest way to do what the kernels do fast."""

from __future__ import annotations

import re
import struct
from collections.abc import Sequence
from datetime import UTC, datetime
from itertools import pairwise
from typing import Any, NamedTuple


def naive_positions(start: int, width: int, big_endian: bool) -> list[int]:
    """Bit numbers of a DBC field from its least significant bit, walked one by one."""
    positions = []
    position = start
    for _ in range(width):
        positions.append(position)
        if not big_endian:
            position += 1
        elif position % 8:
            position -= 1
        else:
            position += 15
    return positions[::-1] if big_endian else positions


def naive_raw(payload: bytes, signal: Any) -> int | float | None:
    """A signal's raw value read bit by bit; None where the payload is too short."""
    positions = naive_positions(signal.start, signal.width, signal.is_big_endian)
    if max(positions) // 8 >= len(payload):
        return None
    value = sum(
        (payload[position // 8] >> position % 8 & 1) << index for index, position in enumerate(positions)
    )
    if signal.is_float:
        return float(
            struct.unpack(
                {16: "<e", 32: "<f", 64: "<d"}[signal.width], value.to_bytes(signal.width // 8, "little")
            )[0]
        )
    if signal.is_signed and value >> (signal.width - 1):
        value -= 1 << signal.width
    return value


def naive_selected(payload: bytes, message: Any, signal: Any) -> bool:
    """All multiplexer pages of a signal are selected."""
    return all(naive_raw(payload, message.signal(page.multiplexer)) in page.values for page in signal.pages)


class NaiveFrame(NamedTuple):
    """A frame of a candump line; ``kind`` says how its time is written."""

    time_ns: int
    kind: str  # absolute | dated | short | none
    channel: bytes
    can_id: int
    flags: int
    length: int
    payload: bytes


_B = rb"[ \t\r]+"
_HEX = rb"[0-9A-Fa-f]"
_STAMP = (
    rb"\([ \t]*(?:(?P<date>\d{4}-\d\d-\d\d \d\d:\d\d:\d\d)|(?P<seconds>\d{1,10}))"
    rb"(?:\.(?P<fraction>\d+))?[ \t]*\)" + _B
)
_NAME = rb"(?P<name>[^\x00-\x20\x7f]{1,64})" + _B
_ID = rb"(?P<id>" + _HEX + rb"{8}|" + _HEX + rb"{3})"
_BYTE = _HEX + rb"{2}"
_COMMENT = rb"(?:" + _B + rb"(?:#|;|//).*)?"
_LOG = re.compile(
    _STAMP
    + _NAME
    + _ID
    + rb"#(?:(?P<remote>[Rr](?:(?P<asked>[0-8])|8_[9A-Fa-f])?)"
    + rb"|#(?P<fd>" + _HEX + rb")(?P<fd_data>(?:" + _BYTE + rb"(?:\.?" + _BYTE + rb"){0,63})?)"
    + rb"|(?P<data>(?:" + _BYTE + rb"(?:\.?" + _BYTE + rb"){0,7})?)(?P<raw>_[9A-Fa-f])?)"
    + rb"(?:" + _B + rb"[RTrt])?" + _COMMENT, re.DOTALL
)  # fmt: skip
_SCREEN = re.compile(
    rb"(?:" + _STAMP + rb")?" + _NAME
    + rb"(?:[RT]X" + _B + rb"(?P<brs>[-B])" + _B + rb"(?P<esi>[-E])" + _B + rb")?" + _ID + _B
    + rb"(?:\[(?P<length>\d{1,2})\]|\{(?P<code>" + _HEX + rb")\})"
    + rb"(?P<bytes>(?:" + _B + _BYTE + rb"(?![^ \t\r]))*)(?:" + _B + rb"(?P<tail>[^ \t\r].*))?",
    re.DOTALL,
)  # fmt: skip


def _naive_time(match: re.Match[bytes], *, screen: bool) -> tuple[int, str] | None:
    fraction = int((match["fraction"] or b"").ljust(9, b"0")[:9] or 0)
    if match["date"]:
        try:
            date = datetime.strptime(match["date"].decode(), "%Y-%m-%d %H:%M:%S").replace(tzinfo=UTC)
        except ValueError:
            return None
        if date.year < 1970 or date.timestamp() > 9_223_372_035:
            return None
        return int(date.timestamp()) * 10**9 + fraction, "dated"
    if match["seconds"] is None:
        return 0, "none"
    if int(match["seconds"]) > 9_223_372_035:
        return None
    kind = "short" if screen and len(match["seconds"]) < 10 else "absolute"
    return int(match["seconds"]) * 10**9 + fraction, kind


def _naive_id(digits: bytes) -> tuple[int, int] | None:
    value = int(digits, 16)
    if len(digits) == 3:
        return (value, 0) if value <= 0x7FF else None
    if value >> 29 == 1:
        return value & 0x1FFFFFFF, 8
    return (value, 1) if value < 1 << 29 else None


def _naive_log(match: re.Match[bytes], can_id: int, flags: int) -> tuple[int, int, bytes] | None:
    if match["remote"]:
        return None if flags == 8 else (flags | 4, int(match["remote"][1:2] or 0), b"")
    if match["fd"]:
        nibble = int(match["fd"], 16)
        data = bytes.fromhex(match["fd_data"].replace(b".", b"").decode())
        return None if flags == 8 else (flags | 2 | (nibble & 3) << 4, len(data), data)
    data = bytes.fromhex(match["data"].replace(b".", b"").decode())
    return None if match["raw"] and len(data) != 8 else (flags, len(data), data)


def _naive_screen(match: re.Match[bytes], can_id: int, flags: int) -> tuple[int, int, bytes] | None:
    tail, data = match["tail"] or b"", bytes.fromhex(match["bytes"].decode())
    if match["code"]:
        length = min(int(match["code"], 16), 8)
    else:
        length = int(match["length"])
        if len(match["length"]) == 2:
            if flags == 8:
                return None
            flags |= 2 | (16 if match["brs"] == b"B" else 0) | (32 if match["esi"] == b"E" else 0)
        if length > (64 if flags & 2 else 8):
            return None
    said = rb"remote" + _B + rb"request|ERRORFRAME|'.{%d}'|" % length
    found = re.fullmatch(rb"(?P<said>" + said + rb")" + _COMMENT, _apart(tail), re.DOTALL)
    if not found:
        return None
    if found["said"].startswith(b"remote"):
        return None if data or flags & 10 else (flags | 4, length, b"")
    if len(data) != length:
        return None
    return (8 if found["said"] == b"ERRORFRAME" else flags, length, data)


def _apart(tail: bytes) -> bytes:
    """A comment with the blank that stands before it."""
    return b" " + tail if tail[:1] in {b"#", b";", b"/"} else tail


def naive_line(line: bytes) -> NaiveFrame | str:
    """One line of candump text: a frame, "quiet" (blank or comment) or "skipped"."""
    if len(line) > 4096:
        start = line[:4096].lstrip(b" \t\r")
        return "quiet" if (start or line[4096:])[:1] in {b"#", b";"} else "skipped"
    line = line.strip(b" \t\r")
    if not line or line[:1] in {b"#", b";"}:
        return "quiet"
    if re.split(rb"[ \t\r]", line, maxsplit=1)[0] == b"DROPCOUNT:":
        return "skipped"
    match, screen = _LOG.fullmatch(line), False
    if not match:
        match, screen = _SCREEN.fullmatch(line), True
    if not match or (line[:1] == b"(" and match["date"] is None and match["seconds"] is None):
        return "skipped"
    time, identifier = _naive_time(match, screen=screen), _naive_id(match["id"])
    if time is None or identifier is None:
        return "skipped"
    rest = (_naive_screen if screen else _naive_log)(match, *identifier)
    if rest is None:
        return "skipped"
    return NaiveFrame(*time, match["name"], identifier[0], *rest)


class NaiveCapture(NamedTuple):
    """What a candump text is."""

    frames: list[NaiveFrame]  # with their times worked out
    lines: int
    quiet: int
    skipped: int


def naive_candump(text: bytes, deltas: int) -> NaiveCapture:
    """A candump text line by line; ``deltas`` as for the kernel."""
    lines = text.removeprefix(b"\xef\xbb\xbf").split(b"\n")
    if not lines[-1]:
        lines.pop()
    frames: list[NaiveFrame] = []
    found = [naive_line(line) for line in lines]
    for frame in found:
        if isinstance(frame, str):
            continue
        now = frames[-1].time_ns if frames else -1_000_000 if frame.kind == "none" else 0
        time = frame.time_ns
        if frame.kind == "none":
            time = now + 1_000_000
        elif (frame.kind == "short" and deltas) or (frame.kind == "absolute" and deltas == 2):
            time += now
        frames.append(frame._replace(time_ns=time))
    return NaiveCapture(frames, len(lines), found.count("quiet"), found.count("skipped"))


def naive_crc(bits: list[int], width: int, polynomial: int) -> int:
    """CRC of a bit list by long division, register starting at 0."""
    register = 0
    for bit in bits:
        top = register >> (width - 1) ^ bit
        register = register << 1 & ((1 << width) - 1)
        if top:
            register ^= polynomial
    return register


def naive_bits(value: int, width: int) -> list[int]:
    """Most significant bit first, as a wire has it."""
    return [value >> position & 1 for position in range(width - 1, -1, -1)]


def naive_stuffed(bits: list[int], *, at_end: bool) -> list[int]:
    """The bits with a complement after every five equal ones, stuff bits counting for the next five.

    at_end: also after the last bit.
    """
    sent: list[int] = []
    for number, bit in enumerate(bits):
        sent.append(bit)
        if len(sent) >= 5 and len(set(sent[-5:])) == 1 and (at_end or number < len(bits) - 1):
            sent.append(1 - bit)
    return sent


def naive_classic_wire(can_id: int, extended: bool, remote: bool, length: int, payload: bytes) -> list[int]:
    """Every bit of a classic frame with the interframe space; delimiters, EOF and space are recessive."""
    base = naive_bits(can_id >> 18 if extended else can_id, 11)
    if extended:
        header = [0, *base, 1, 1, *naive_bits(can_id & 0x3FFFF, 18), int(remote), 0, 0]
    else:
        header = [0, *base, int(remote), 0, 0]
    content = header + naive_bits(length, 4)
    for byte in b"" if remote else payload:
        content += naive_bits(byte, 8)
    content += naive_bits(naive_crc(content, 15, 0x4599), 15)
    return naive_stuffed(content, at_end=True) + [1] + [0, 1] + [1] * 7 + [1] * 3


def naive_fd_wire(can_id: int, extended: bool, brs: bool, esi: bool, payload: bytes) -> tuple[int, int]:
    """Bits of a CAN FD frame up to and with BRS plus those after the CRC delimiter, and those between.

    The CRC is left out of the walk: its fixed stuff bits make its length the same whatever it is.
    """
    sizes = [*range(9), 12, 16, 20, 24, 32, 48, 64]
    code = next(code for code, size in enumerate(sizes) if size >= len(payload))
    base = naive_bits(can_id >> 18 if extended else can_id, 11)
    if extended:
        header = [0, *base, 1, 1, *naive_bits(can_id & 0x3FFFF, 18), 0, 1, 0, int(brs)]
    else:
        header = [0, *base, 0, 0, 1, 0, int(brs)]
    content = [*header, int(esi), *naive_bits(code, 4)]
    for byte in payload.ljust(sizes[code], b"\0"):
        content += naive_bits(byte, 8)
    before = len(naive_stuffed(header, at_end=False))  # a stuff bit due after BRS is sent fast
    checked = 4 + (17 if sizes[code] <= 16 else 21)
    fixed = sum(1 for number in range(checked) if number % 4 == 0)
    inside = len(naive_stuffed(content, at_end=False)) - before + checked + fixed + 1
    return before + 2 + 7 + 3, inside


def naive_response(messages: list[tuple[int, int]], blocking: int, instances: int) -> int:
    """Longest response of the last of the messages (length, period), most urgent first, in whole units.

    The walk begins as a frame of ``blocking`` units takes the wire, just before all messages are ready at
    once, and ends after that many instances of the last one. What is ready as a frame ends takes part.
    """
    now, sent, longest = blocking, [0] * len(messages), 0
    while sent[-1] < instances:
        ready = [number for number, (_, period) in enumerate(messages) if sent[number] * period <= now]
        if not ready:
            now += 1
            continue
        now += messages[ready[0]][0]
        sent[ready[0]] += 1
        if ready[0] == len(messages) - 1:
            longest = max(longest, now - (sent[-1] - 1) * messages[-1][1])
    return longest


def naive_busiest(frames: Sequence[tuple[int, int]], window_ns: int) -> int:
    """Most bits in a window that ends with some frame; frames are (ns, bits), times not falling."""
    return max(sum(bits for time, bits in frames if end - window_ns < time <= end) for end, _ in frames)


def naive_silence(frames: Sequence[tuple[int, int]]) -> int:
    """The longest silence inside an awake period of a channel, from its (time in ns, id) in file order."""
    medians = []
    for identifier in {identifier for _, identifier in frames}:
        times = [time for time, other in frames if other == identifier]
        gaps = sorted(max(after - before, 0) for before, after in pairwise(times))
        if gaps:
            medians.append(gaps[(len(gaps) + 1) // 2 - 1])
    return max(1_000_000_000, min(medians, default=0) * 5 // 2)


def naive_placed(
    frames: list[tuple[int, int, int, bool, int, bool]], silence_ns: int = 1_000_000_000
) -> tuple[list[Any], list[Any]]:
    """Awake periods: each frame's (channel, id width, id, length, period, gap) or None, and the breaks.

    frames: (time in ns, channel, id, extended, length, whether it is nobody's); gap: since the frame before
    of its id in the period, -1 without; breaks: (channel, time of the frame before, own time)
    """
    placed: list[Any] = []
    breaks = []
    last: dict[int, tuple[int, int]] = {}  # per channel: time and period of the frame before
    own: dict[tuple[int, int, bool], tuple[int, int]] = {}  # likewise, per id
    for time, channel, can_id, extended, length, non_data in frames:
        if non_data:
            placed.append(None)
            continue
        before, period = last.get(channel, (time, 0))
        if abs(time - before) > silence_ns:
            period += 1
            breaks.append((channel, before, time))
        last[channel] = time, period
        came, then = own.get((channel, can_id, extended), (time, -1))
        own[channel, can_id, extended] = time, period
        gap = max(time - came, 0) if then == period else -1
        placed.append((channel, extended, can_id, length, period, gap))
    return placed, breaks


def naive_gaps(
    frames: list[tuple[int, int]], breaks: list[tuple[int, int]], first: int, last_ns: int
) -> list[int]:
    """Gaps between frames (ns, awake period), where the start and the end of each period count as frames.

    breaks: (end, next start) of the periods from number ``first`` on; last_ns: the point before
    """
    points = [(period, 1, time) for time, period in frames]
    for number, (end, start) in enumerate(breaks, first):
        points += [(number, 2, end), (number + 1, 0, start)]
    gaps = []
    for _, kind, time in sorted(points, key=lambda point: point[:2]):
        if kind:
            gaps.append(max(time - last_ns, 0))
        last_ns = time
    return gaps


def naive_survey_gaps(
    frames: Sequence[tuple[int, int]], silence_ns: int = 1_000_000_000
) -> tuple[list[tuple[int, int]], dict[int, list[int]], dict[int, int]]:
    """Awake periods, gaps and the longest gap of each id, from one channel's (time, id) in file order.

    A period's border counts for the longest gap as if it were a frame; for the gaps it does not.
    """
    periods: list[list[tuple[int, int]]] = []
    for time, identifier in frames:
        if not periods or abs(time - periods[-1][-1][0]) > silence_ns:
            periods.append([])
        periods[-1].append((time, identifier))
    gaps: dict[int, list[int]] = {}
    longest: dict[int, int] = {}
    for identifier in {identifier for _, identifier in frames}:
        gaps[identifier], longest[identifier] = [], 0
        for period in periods:
            times = [time for time, other in period if other == identifier]
            steps = [max(after - before, 0) for before, after in pairwise(times)]
            gaps[identifier] += steps
            borders = [period[0][0], *times, period[-1][0]]
            most = max(max(after - before, 0) for before, after in pairwise(borders))
            longest[identifier] = max(longest[identifier], most)
    spans = [(period[0][0], period[-1][0]) for period in periods]
    return spans, gaps, longest
