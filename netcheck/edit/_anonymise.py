"""Vehicle identification numbers (VINs) in captures become X's; every frame stays as long as it was."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import field, replace
from pathlib import Path
from typing import Final

import numpy as np

from netcheck.capture import EXTENDED, Capture, open_capture
from netcheck.diagnostics import Address, Lapse
from netcheck.edit._remarks import EditRemark, EditRemarkKind
from netcheck.edit._vin_answers import AnswerSearch
from netcheck.edit._vin_finds import VinFound, cover
from netcheck.edit._vin_groups import GroupSearch
from netcheck.edit._vin_pieces import Pieces
from netcheck.edit._vin_streams import StreamSearch
from netcheck.errors import UsageError
from netcheck.records import dataclass
from netcheck.words import id_text, spaced

_CROSS: Final = ord("X")
# Spare bits of ``Capture.flags``, from ``masks`` to ``settled``: what was done to the frame.
_HIDDEN: Final = 64
_BLANKED: Final = 128
TOUCHED: Final = _HIDDEN | _BLANKED


@dataclass
class VinFinds:
    """What is known of VINs in some captures, and in how many frames of the result they were hidden.

    hidden, blanked: id → frames with a number covered, frames covered whole
    """

    found: Sequence[VinFound] = ()
    pieces: Pieces = field(default_factory=lambda: Pieces(()))
    given: Sequence[bytes] = ()
    is_asked: bool = False
    hidden: Counter[Address] = field(default_factory=Counter)
    blanked: Counter[Address] = field(default_factory=Counter)

    def masks(self, number: int) -> Callable[[Capture], Capture]:
        """What hides the numbers in the chunks of one capture, called in file order."""
        if not self.is_asked:
            return lambda chunk: chunk
        before = 0
        found = self.found[number]
        places = np.array(sorted(found.spots.keys() | found.blanks.keys()), np.int64)

        def hide(chunk: Capture) -> Capture:
            nonlocal before
            spots, blanks = self.pieces.spots(chunk), {}
            first, last = np.searchsorted(places, [before, before + len(chunk)])
            for position in places[first:last].tolist():
                if position in found.blanks:
                    blanks[position - before] = found.blanks[position]
                if position in found.spots:
                    spots[position - before] = spots.get(position - before, 0) | found.spots[position]
            before += len(chunk)
            return _covered(chunk, spots, blanks)

        return hide

    def settled(self, chunk: Capture) -> Capture:
        """Counts what was done to frames of the result."""
        if not self.is_asked:
            return chunk
        for flag, counts in ((_HIDDEN, self.hidden), (_BLANKED, self.blanked)):
            for i in np.flatnonzero(chunk.flags & flag).tolist():
                counts[int(chunk.can_id[i]), bool(chunk.flags[i] & EXTENDED)] += 1
        return replace(chunk, flags=chunk.flags & np.uint8(~TOUCHED & 0xFF))

    def remarks(self) -> Iterator[EditRemark]:
        """What a person should know, without any number."""
        if not self.is_asked:
            return
        has_number = bool(self.given) or any(found.vins for found in self.found)
        if self.hidden:
            names = tuple(sorted(id_text(*address) for address in self.hidden))
            yield EditRemark(EditRemarkKind.VIN_HIDDEN, count=self.hidden.total(), names=names)
        yield from self._not_understood()
        if not has_number:
            touched = any(found.spots or found.blanks for found in self.found)
            yield EditRemark(EditRemarkKind.VIN_UNKNOWN if touched else EditRemarkKind.NO_VIN)
        known = set().union(*(found.vins for found in self.found))
        unseen = set(self.given) - self.pieces.seen - known
        if unseen:
            yield EditRemark(EditRemarkKind.VIN_UNSEEN, count=len(unseen))
        alike: dict[Address, dict[bytes, None]] = {}
        for found in self.found:
            for address, begin in found.look_alikes():
                alike.setdefault(address, {})[begin] = None
        for address, begins in alike.items():
            names = tuple(spaced(begin.hex().upper()) for begin in begins)
            yield EditRemark(EditRemarkKind.VIN_LOOK_ALIKE, name=id_text(*address), names=names)
        yield EditRemark(EditRemarkKind.VIN_ONLY)

    def _not_understood(self) -> Iterator[EditRemark]:
        for address, count in sorted(self.blanked.items()):
            name = id_text(*address)
            lapses: dict[Lapse, None] = {}
            for found in self.found:
                lapses |= found.lapses.get(address, {})
            if lapses:
                text = ", ".join(lapses)
                yield EditRemark(EditRemarkKind.VIN_INCOMPLETE, name=name, text=text, count=count)
            if any(address in found.unread for found in self.found):
                yield EditRemark(EditRemarkKind.VIN_UNREAD, name=name, count=count)


def _covered(chunk: Capture, spots: dict[int, int], blanks: dict[int, int]) -> Capture:
    """The chunk with these bytes as X's. A frame counts once, as blanked where both was done to it."""
    if not spots and not blanks:
        return chunk
    data, flags = chunk.data.copy(), chunk.flags.copy()
    for kind, places in ((_HIDDEN, spots), (_BLANKED, blanks)):
        for index, covered in places.items():
            begin = chunk.start[index]
            inside = [at for at in range(int(chunk.length[index])) if covered >> at & 1]
            if inside:
                data[begin + np.array(inside)] = _CROSS
                flags[index] = (flags[index] & ~np.uint8(TOUCHED)) | kind
    return replace(chunk, data=data, flags=flags)


def find_vins(paths: Sequence[Path], given: Sequence[str], csv: str = "") -> VinFinds:
    """Goes through the captures for ids that carry messages, for numbers, and for frames with their pieces.

    csv: as for ``open_capture``

    Raises UsageError for a given number that is none, and for a capture that cannot be read twice.
    """
    for path in paths:
        if path.exists() and not path.is_file():
            raise UsageError(f"{path} can be read only once", remedy="save it as a file first")
    known = [_number(text) for text in given]
    found = [_search(path, csv) for path in paths]
    vins = {*known, *(vin for each in found for vin in each.vins | each.guesses)}
    pieces = Pieces(vins)
    if vins:
        for path, each in zip(paths, found, strict=True):
            for _, frames, message in each.others:
                for span in pieces.runs(message):
                    cover(each.spots, span, frames)
            for chunk in open_capture(path, csv=csv):
                pieces.learn(chunk, each.addresses)
    return VinFinds(found, pieces, known, is_asked=True)


def _search(path: Path, csv: str) -> VinFound:
    streams = StreamSearch()
    for chunk in open_capture(path, csv=csv):
        streams.take(chunk)
    answers, groups = AnswerSearch(streams.streams(), streams.signed), GroupSearch()
    for chunk in open_capture(path, csv=csv):
        answers.take(chunk)
        groups.take(chunk)
    found = answers.finish()
    found.add(groups.finish())
    return found


def _number(text: str) -> bytes:
    number = text.strip().upper()
    if not re.fullmatch(r"[A-HJ-NPR-Z0-9]{17}", number):
        raise UsageError(
            f"'{text}' is not a vehicle identification number",
            remedy="17 letters and digits, none of them I, O or Q",
        )
    return number.encode("ascii")
