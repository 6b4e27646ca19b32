"""Whether a capture says which frames were sent and which received. netcheck keeps no such marks."""

from __future__ import annotations

import re
from itertools import islice
from pathlib import Path
from typing import Final

from netcheck.capture._chunks import ByteSource
from netcheck.capture._suffixes import CSV_SUFFIXES, PYTHON_CAN_FORMATS

_LOOKED_AT: Final = 1000  # frames of a binary format
# ``candump -l -x`` ends each line with R or T, ``candump -x`` prints RX or TX before the id.
_CANDUMP: Final = re.compile(
    rb"^\(?.*#[0-9A-Fa-fR_]* [RTrt]\r?$|^.* [RT]X +[B-] +[E-] +[0-9A-Fa-f]+ ", re.MULTILINE
)
_OTHERS: Final = re.compile(rb"^.*[ ,;]Tx[ ,;]", re.MULTILINE)


def has_directions(path: Path) -> bool:
    """Whether marks of sent and received frames would be lost: any in candump text, "sent" in other formats.

    The first 64 kB are looked at, of a binary format the first 1000 frames: a recorder marks all or none.
    False for what is no regular file, since it can be read only once, and for one that cannot be read.
    """
    if not path.is_file():
        return False
    suffixes = [suffix.lower() for suffix in path.suffixes]
    known = PYTHON_CAN_FORMATS
    form = next((known[suffix] for suffix in suffixes[-2:] if suffix in known), None)
    if form is not None and not form.text:
        return suffixes[-1] == ".blf" and _sent_in_blf(path)
    source = ByteSource(path)
    try:
        is_other = form is not None or not CSV_SUFFIXES.isdisjoint(suffixes[-2:])
        return bool((_OTHERS if is_other else _CANDUMP).search(source.head))
    finally:
        source.close()


def _sent_in_blf(path: Path) -> bool:
    from netcheck.capture._blf import BoundedBlf

    try:
        with BoundedBlf(path) as reader:
            return any(not message.is_rx for message in islice(reader, _LOOKED_AT))
    except Exception:  # reading it later says what is wrong with it
        return False
