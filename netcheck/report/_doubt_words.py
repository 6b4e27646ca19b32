"""What a person makes sure of before all else: which vehicle, which pair, which network."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from netcheck.report._reason_parts import name_it
from netcheck.words import listing, path_text
from netcheck.work import Action, ClearUpVehicle, NameChannel, VerifyVehicle


def _name_channel(action: NameChannel) -> str:
    use = action.use
    return (
        f"Find out which network {use.channel} of {path_text(use.file)} is: {listing(use.rivals)} fit about "
        f"equally; {name_it(use)}."
    )


def _verify(action: VerifyVehicle) -> str:
    use = action.use
    text = f"Make sure first that {path_text(use.file)} was taken from this vehicle"
    if use.network is None:
        return f"{text}: no DBC of the vehicle file fits {use.channel}."
    return f"{text}, and {use.channel} from the pair of {use.network}: too few ids fit to be sure."


def _clear_up(action: ClearUpVehicle) -> str:
    told = action.told
    what = f"{path_text(told.file)} is of: it tells"
    if told.is_read:
        what = f"was read out ({path_text(told.file)}): module {told.channel} tells"
    return (
        f"Clear up first which vehicle {what} VIN {told.vin}, {told.other or 'the job'} {told.expected}. "
        "Trust nothing of this plan before."
    )


DOUBT_STEPS: Final[dict[type[Action], Callable[[Any], str]]] = {
    NameChannel: _name_channel,
    VerifyVehicle: _verify,
    ClearUpVehicle: _clear_up,
}
