"""Whether captures are of the job's vehicle, by the identification numbers that they tell."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from netcheck.verdict._model import ChannelUse
from netcheck.verdict._warnings import OtherVin


def other_vehicles(vin: str | None, uses: Iterable[ChannelUse]) -> Iterator[OtherVin]:
    """One for each number of a channel that differs from the job's, or without one from the first told.

    vin: the job's, None where it has none
    """
    expected, source = vin, ""
    for use in uses:
        for told in use.vins:
            if expected is None:
                expected, source = told, use.file
            elif told != expected:
                yield OtherVin(use.file, use.channel, told, expected, source)
