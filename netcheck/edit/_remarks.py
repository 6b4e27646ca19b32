"""What a person should know of captures that were cut, as facts."""

from __future__ import annotations

from enum import StrEnum

from netcheck.records import dataclass


class EditRemarkKind(StrEnum):
    """What is pointed out; the names in brackets are the fields of ``EditRemark`` that it has."""

    # of the captures and the cut
    SOURCE = "source"  # what the reader says of a capture (file, text)
    DIRECTIONS_LOST = "directions-lost"  # the capture marks frames as sent or received (file)
    NO_VIN = "no-vin"  # no vehicle number was found, none given
    VIN_HIDDEN = "vin-hidden"  # numbers covered (count: frames of the result; names: ids)
    VIN_UNSEEN = "vin-unseen"  # (count: given numbers of which nothing was seen)
    VIN_INCOMPLETE = "vin-incomplete"  # messages not whole, covered (name: id; count: frames; text: lapses)
    VIN_UNREAD = "vin-unread"  # a message about a number that tells none, covered (name: id; count: frames)
    VIN_UNKNOWN = "vin-unknown"  # something was covered, and no number is known to look for elsewhere
    VIN_LOOK_ALIKE = (
        "vin-look-alike"  # left alone, but might be a number (name: id; names: how messages begin)
    )
    VIN_ONLY = "vin-only"  # nothing else that tells who or where is looked for
    ID_UNUSED = "id-unused"  # (name)
    BLANK_UNUSED = "blank-unused"  # (names)
    CHANNEL_SHARED = "channel-shared"  # several captures have a channel of that name (name; names: files)
    CHANNELS_JOINED = "channels-joined"  # different channels got one name (name; names: the old ones)
    CLOCKS_DIFFER = "clocks-differ"  # some captures count from their start, others have times of day
    # of a file that was written, in the format ``form``
    FRAMES_LEFT_OUT = "frames-left-out"  # (count; frames: their kind)
    CHANNEL_RENAMED = "channel-renamed"  # (name; names: the new one)
    CHANNEL_NUMBERED = "channel-numbered"  # (name; count: its number)
    CHANNELS_LOST = "channels-lost"  # all frames stand on one channel
    TIME_OF_DAY_LOST = "time-of-day-lost"
    TIME_DIGITS_LOST = "time-digits-lost"  # digits below 1 µs (count: frames)
    ERROR_KINDS_LOST = "error-kinds-lost"  # (count)


class FrameKind(StrEnum):
    """Kinds of frames that a format may have no place for."""

    CAN_FD = "can-fd"
    REMOTE = "remote"
    ERROR = "error"


@dataclass(frozen=True)
class EditRemark:
    """One thing to know; which fields are set, the kind says.

    file:  the capture that it is about
    form:  the format that was written
    text:  what another room says, as a text
    """

    kind: EditRemarkKind
    file: str = ""
    form: str = ""
    count: int = 0
    frames: FrameKind | None = None
    name: str = ""
    names: tuple[str, ...] = ()
    text: str = ""
