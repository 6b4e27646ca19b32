"""A draft: a DBC and the vehicle file beside it, made or extended; both are whole at any time."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from netcheck.cli._output import check_target, open_outputs
from netcheck.errors import InputError, UsageError

if TYPE_CHECKING:
    from netcheck.files import LoadedVehicle, RoleSource
    from netcheck.find import Movements, QuantitySearch, Search
    from netcheck.report.finding import DraftFile

_ENDING: Final = ".dbc"


def vehicle_beside(dbc: Path) -> Path:
    """``comfort.dbc`` -> ``comfort.vehicle.toml``."""
    return dbc.with_name(dbc.name.removesuffix(_ENDING) + ".vehicle.toml")


def check_draft(dbc: Path | None, inputs: Iterable[Path]) -> None:
    """Refuse a draft that could not be written, before any long work starts."""
    if dbc is None:
        return
    if dbc.suffix != _ENDING:
        raise UsageError(
            f"--draft {dbc} does not end in {_ENDING}", remedy="name a DBC file, such as van.dbc"
        )
    inputs = list(inputs)
    for target in (dbc, vehicle_beside(dbc)):
        check_target(target, inputs)
    if vehicle_beside(dbc).exists() and not dbc.exists():
        raise InputError(
            vehicle_beside(dbc),
            f"is there, but not {dbc.name} which it is to stand beside",
            remedy="name another file with --draft, or bring the DBC back",
        )


def extend_draft(dbc: Path, found: Sequence[Search] | QuantitySearch, movements: Movements) -> DraftFile:
    """Write what stands clear, of states or of a quantity. Where nothing does, no file is touched.

    Raises InputError where a file of the draft cannot be read, extended or written.
    """
    from netcheck.database import extended_dbc, load_database
    from netcheck.files import load_vehicle
    from netcheck.find import QuantitySearch, draft_change, quantity_change
    from netcheck.report.finding import DraftFile, draft_entries, draft_vehicle_text, with_comments

    path = vehicle_beside(dbc)
    database = load_database(dbc, cache=False) if dbc.exists() else None
    vehicle = load_vehicle(path) if path.exists() else None
    network = _network(vehicle, dbc) if vehicle else _network_name(dbc)
    roles = _roles(vehicle, network)
    if isinstance(found, QuantitySearch):
        change = quantity_change(found, movements, database, roles)
    else:
        change = draft_change(found, movements, database, roles)
    draft = DraftFile(dbc, path, network, movements.file, change)
    entries = draft_entries(change, network, movements.file)
    if not entries:
        return draft
    text = extended_dbc(str(dbc), with_comments(change, movements.file)) if change.signals else ""
    head = _text_of(path) if vehicle else draft_vehicle_text(_title(dbc), network, dbc.name)
    _check(path, head + entries)
    with open_outputs(dbc) as group:
        if text:
            group.open(dbc).write(text)
        group.open(path).write(head + entries)
    return draft


def found_roles(dbc: Path) -> list[tuple[str, RoleSource]]:
    """The role entries of a draft, in the file's order; [] where a DBC is none.

    Raises InputError where the vehicle file beside the DBC cannot be read.
    """
    from netcheck.files import load_vehicle

    path = vehicle_beside(dbc)
    if not path.exists():
        return []
    vehicle = load_vehicle(path)
    network = _network(vehicle, dbc)
    return [(role, source) for role, sources in _roles(vehicle, network).items() for source in sources]


def _title(dbc: Path) -> str:
    return dbc.name.removesuffix(_ENDING) or "draft"


def _network_name(dbc: Path) -> str:
    return re.sub(r"[^A-Za-z0-9_-]+", "-", _title(dbc)).strip("-").lower() or "draft"


def _network(vehicle: LoadedVehicle, dbc: Path) -> str:
    """The network of a vehicle file that has the DBC."""
    for name in vehicle.model.network:
        if any(path.resolve() == dbc.resolve() for path in vehicle.dbc_paths(name)):
            return name
    raise InputError(
        vehicle.file,
        f"has no network with the DBC {dbc.name}",
        where="network",
        remedy="add the DBC to a network's dbc, or name another file with --draft",
    )


def _roles(vehicle: LoadedVehicle | None, network: str) -> dict[str, list[RoleSource]]:
    found: dict[str, list[RoleSource]] = {}
    for role, sources in (vehicle.model.role if vehicle else {}).items():
        own = [each for each in sources if each.network == network]
        if own:
            found[role] = own
    return found


def _text_of(path: Path) -> str:
    """A vehicle file as it stands; its last line ended."""
    from netcheck.files import read_text

    text = read_text(path)
    return text if text.endswith("\n") else text + "\n"


def _check(path: Path, text: str) -> None:
    """Entries that a file's way of writing roles does not allow are not written."""
    from netcheck.files import Vehicle, model_of, parse_toml

    try:
        model_of(path, parse_toml(path, text), Vehicle, text)
    except InputError as error:
        raise InputError(
            path,
            f"cannot take further role entries ({error.what})",
            where=error.where,
            remedy="write its roles as [[role.NAME]] entries, then search again",
        ) from error
