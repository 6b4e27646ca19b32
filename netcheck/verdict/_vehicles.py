"""Whether captures and readouts are of the job's vehicle, by the identification numbers that they tell."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from netcheck.coding import VIN_IDS
from netcheck.files import ModuleReadout
from netcheck.verdict._model import ChannelUse
from netcheck.verdict._warnings import OtherVin


def other_vehicles(
    vin: str | None, uses: Iterable[ChannelUse], readouts: Iterable[ModuleReadout] = ()
) -> Iterator[OtherVin]:
    """One for each number that differs from the job's, or without one from the first told: captures first.

    vin:      the job's, None where it has none
    readouts: of which those from before the fitting count
    """
    expected, source = vin, ""
    for file, channel, told, is_read in _told(uses, readouts):
        if expected is None:
            expected, source = told, file
        elif told != expected:
            yield OtherVin(file, channel, told, expected, source, is_read)


def _told(
    uses: Iterable[ChannelUse], readouts: Iterable[ModuleReadout]
) -> Iterator[tuple[str, str, str, bool]]:
    """File, channel and number of each capture; place, module and number of each readout."""
    for use in uses:
        for told in use.vins:
            yield use.file, use.channel, told, False
    for readout in readouts:
        for did in VIN_IDS:
            if readout.when == "before" and did in readout.identification:
                yield readout.where, readout.module, readout.identification[did], True
