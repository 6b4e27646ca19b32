"""The words of each thing to know about captures that were cut."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from netcheck.edit import EditRemark, EditRemarkKind, FrameKind
from netcheck.words import counted, listing, path_text

FRAME_WORDS: Final[Mapping[FrameKind, str]] = {
    FrameKind.CAN_FD: "CAN FD frame",
    FrameKind.REMOTE: "remote frame",
    FrameKind.ERROR: "error frame",
}


def _left_out(it: EditRemark) -> str:
    frames = counted(it.count, FRAME_WORDS[it.frames] if it.frames is not None else "frame")
    return f"{frames} left out: {it.form} has no place for them"


REMARK_WORDS: Final[Mapping[EditRemarkKind, Callable[[EditRemark], str]]] = {
    EditRemarkKind.SOURCE: lambda it: f"{path_text(it.file)}: {it.text}",
    EditRemarkKind.DIRECTIONS_LOST: lambda it: (
        f"{path_text(it.file)} marks frames as sent or received: the result does not keep these marks"
    ),
    EditRemarkKind.NO_VIN: lambda _: (
        "no vehicle number (VIN) was found in diagnostic messages, so none could be hidden: if other frames "
        "may carry it, give it with --vin"
    ),
    EditRemarkKind.VIN_HIDDEN: lambda it: (
        f"vehicle numbers (VIN) became X's in {counted(it.count, 'frame')} ({', '.join(it.names)}); "
        "checksums in these frames are no longer valid"
    ),
    EditRemarkKind.VIN_UNSEEN: lambda it: (
        "the given vehicle number was not seen"
        if it.count == 1
        else f"{it.count} of the given vehicle numbers were not seen"
    ),
    EditRemarkKind.VIN_INCOMPLETE: lambda it: (
        f"messages on {it.name} could not be put together ({it.text}) and may hold a vehicle number: "
        f"{counted(it.count, 'frame')} became X's"
    ),
    EditRemarkKind.VIN_UNREAD: lambda it: (
        f"a message on {it.name} is about the vehicle number, but holds none of 17 letters and digits: "
        "it became X's"
    ),
    EditRemarkKind.VIN_UNKNOWN: lambda _: (
        "no vehicle number could be read for certain, so other frames were not searched for it: give it with "
        "--vin"
    ),
    EditRemarkKind.VIN_LOOK_ALIKE: lambda it: (
        f"messages on {it.name} that begin with {listing(it.names)} hold 17 or more letters and digits in a "
        "row and were left as they are: if that is a vehicle number, give it with --vin"
    ),
    EditRemarkKind.VIN_ONLY: lambda _: (
        "serial numbers, positions and dates are not looked for: check the result before you pass it on"
    ),
    EditRemarkKind.ID_UNUSED: lambda it: f"no frame has the id {it.name}",
    EditRemarkKind.BLANK_UNUSED: lambda it: f"no frame to blank has the id {', '.join(it.names)}",
    EditRemarkKind.CHANNEL_SHARED: lambda it: (
        f"channel {it.name} is in {listing(it.names)}: if these are different buses, rename it in one of "
        "them first (netcheck trim --rename)"
    ),
    EditRemarkKind.CHANNELS_JOINED: lambda it: (
        f"{listing(it.names)} become one channel, {it.name}: give different buses different names"
    ),
    EditRemarkKind.CLOCKS_DIFFER: lambda _: (
        "some captures have times of day, others count from their start: their times do not match"
    ),
    EditRemarkKind.FRAMES_LEFT_OUT: _left_out,
    EditRemarkKind.CHANNEL_RENAMED: lambda it: f"channel {it.name!r} is called {it.names[0]} in the log",
    EditRemarkKind.CHANNEL_NUMBERED: lambda it: (
        f"{it.form} knows channels by number: {it.name} becomes number {it.count}"
    ),
    EditRemarkKind.CHANNELS_LOST: lambda it: f"{it.form} has no channels: all frames are on one",
    EditRemarkKind.TIME_OF_DAY_LOST: lambda it: (
        f"{it.form} is read back with times from its first frame; the time of day is in its head only"
    ),
    EditRemarkKind.TIME_DIGITS_LOST: lambda it: (
        f"the digits below 1 µs are lost in the times of {counted(it.count, 'frame')}: {it.form} does not "
        "keep them"
    ),
    EditRemarkKind.ERROR_KINDS_LOST: lambda it: (
        f"the kind of {counted(it.count, 'error frame')} is lost: {it.form} has no place for it"
    ),
}


def remark_text(remark: EditRemark) -> str:
    """One thing to know, in words."""
    return REMARK_WORDS[remark.kind](remark)
