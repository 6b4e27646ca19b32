"""Vehicle identification numbers (VINs) in captures become X's; every frame stays as long as it was."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

import numpy as np

from netcheck.capture import Capture, open_capture
from netcheck.edit._remarks import EditRemark, EditRemarkKind
from netcheck.edit._vin_answers import Answers, AnswerSearch
from netcheck.edit._vin_pieces import Pieces
from netcheck.errors import UsageError

_CROSS: Final = ord("X")


@dataclass
class VinFinds:
    """What is known of VINs in some captures, and how often it was hidden."""

    answers: Sequence[Answers] = ()
    pieces: Pieces = field(default_factory=lambda: Pieces(()))
    given: Sequence[bytes] = ()
    is_asked: bool = False
    hidden: dict[str, int] = field(default_factory=dict)  # id, as it is written → frames

    def masks(self, number: int) -> Callable[[Capture], Capture]:
        """What hides the numbers in the chunks of one capture, called in file order."""
        if not self.is_asked:
            return lambda chunk: chunk
        before = 0
        answers = self.answers[number].spots
        places = np.array(sorted(answers), np.int64)

        def hide(chunk: Capture) -> Capture:
            nonlocal before
            spots = self.pieces.spots(chunk)
            first, last = np.searchsorted(places, [before, before + len(chunk)])
            for position in places[first:last].tolist():
                spots.setdefault(position - before, set()).update(answers[position])
            before += len(chunk)
            return self._hidden(chunk, spots)

        return hide

    def _hidden(self, chunk: Capture, spots: dict[int, set[int]]) -> Capture:
        if not spots:
            return chunk
        data = chunk.data.copy()
        for index, places in spots.items():
            for at in places:
                data[chunk.start[index] + at] = _CROSS
            name = f"0x{chunk.can_id[index]:03X}"
            self.hidden[name] = self.hidden.get(name, 0) + 1
        return replace(chunk, data=data)

    def remarks(self) -> Iterator[EditRemark]:
        """What a person should know, without any number."""
        if not self.is_asked:
            return
        found = set().union(*(answers.vins for answers in self.answers))
        if not found and not self.given and not any(answers.spots for answers in self.answers):
            yield EditRemark(EditRemarkKind.NO_VIN)
        if self.hidden:
            frames, ids = sum(self.hidden.values()), tuple(sorted(self.hidden))
            yield EditRemark(EditRemarkKind.VIN_HIDDEN, count=frames, names=ids)
        elif self.given:
            yield EditRemark(EditRemarkKind.VIN_UNSEEN)
        for name, lapse in dict.fromkeys(broken for answers in self.answers for broken in answers.broken):
            yield EditRemark(EditRemarkKind.VIN_INCOMPLETE, name=name, text=lapse)
        yield EditRemark(EditRemarkKind.VIN_ONLY)


def find_vins(paths: Sequence[Path], given: Sequence[str], csv: str = "") -> VinFinds:
    """Goes twice through the captures: for the numbers, then for frames that carry pieces of them.

    csv: as for ``open_capture``

    Raises UsageError for a given number that is none, and for a capture that cannot be read twice.
    """
    for path in paths:
        if path.exists() and not path.is_file():
            raise UsageError(f"{path} can be read only once", remedy="save it as a file first")
    known = [_number(text) for text in given]
    answers = [_search(path, csv) for path in paths]
    pieces = Pieces({*known, *(vin for found in answers for vin in found.vins)})
    if known or any(found.vins for found in answers):
        for path, found in zip(paths, answers, strict=True):
            for chunk in open_capture(path, csv=csv):
                pieces.learn(chunk, found.addresses)
    return VinFinds(answers, pieces, known, is_asked=True)


def _search(path: Path, csv: str) -> Answers:
    search = AnswerSearch()
    for chunk in open_capture(path, csv=csv):
        search.take(chunk)
    return search.finish()


def _number(text: str) -> bytes:
    number = text.strip().upper()
    if not re.fullmatch(r"[A-HJ-NPR-Z0-9]{17}", number):
        raise UsageError(
            f"'{text}' is not a vehicle identification number",
            remedy="17 letters and digits, none of them I, O or Q",
        )
    return number.encode("ascii")
