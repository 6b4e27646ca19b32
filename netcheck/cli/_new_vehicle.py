"""A new vehicle file from DBC files and captures."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from netcheck.cli._new_paths import relative
from netcheck.cli._roles import say_warnings
from netcheck.errors import UsageError
from netcheck.records import dataclass

if TYPE_CHECKING:
    from netcheck.database import Database
    from netcheck.network import Survey
    from netcheck.report.authoring import FoundRole, NetworkStart, SeenNetwork


@dataclass(frozen=True)
class VehicleOptions:
    """What was given or answered. dbc and bitrate as ``NAME=VALUE``; years as ``2017-2022``."""

    name: str
    years: str
    dbc: tuple[str, ...]
    bitrate: tuple[str, ...]
    captures: tuple[Path, ...]
    csv: str
    cache: bool

    @cached_property
    def networks(self) -> Mapping[str, tuple[Path, ...]]:
        """Network -> its DBC files; a file without a name gives the network its own."""
        found: dict[str, tuple[Path, ...]] = {}
        for entry in self.dbc:
            name, equals, file = entry.partition("=")
            path = Path(file if equals else entry)
            name = name.strip() if equals else path.stem
            if not name or not path.name:
                raise UsageError(f"--dbc {entry}", remedy="write NAME=FILE, such as comfort=x.dbc")
            found[name] = (*found.get(name, ()), path)
        return found

    def files(self) -> list[Path]:
        """All DBC files."""
        return [path for paths in self.networks.values() for path in paths]

    def span(self) -> tuple[int, int]:
        """The model years. Raises UsageError for a text that is none."""
        found = re.fullmatch(r"\s*(\d{4})(?:\s*-\s*(\d{4}))?\s*", self.years)
        if found is None:
            raise UsageError(
                f"--years {self.years}", remedy="write the first and the last, such as 2017-2022"
            )
        first, last = int(found[1]), int(found[2] or found[1])
        if first > last:
            raise UsageError(f"--years {self.years}", remedy="write the earlier year first")
        return first, last

    def rates(self) -> Mapping[str, int]:
        """Network -> bit rate. Raises UsageError for another text."""
        found = {}
        for entry in self.bitrate:
            name, equals, value = entry.partition("=")
            if not equals or name not in self.networks:
                raise UsageError(
                    f"--bitrate {entry}", remedy=f"write NET=N for one of {', '.join(self.networks)}"
                )
            try:
                found[name] = int(value, 0)
            except ValueError:
                raise UsageError(f"--bitrate {entry}", remedy="write it in bit/s, such as 500000") from None
            if not 1_000 <= found[name] <= 20_000_000:
                raise UsageError(f"--bitrate {entry}", remedy="write it in bit/s, such as 500000")
        return found


def vehicle_text(options: VehicleOptions, folder: Path) -> str:
    """The text of a vehicle file that stands in ``folder``."""
    from netcheck.catalogue import load_retrofit, shipped
    from netcheck.database import load_database
    from netcheck.files import asked_facts, asked_resources
    from netcheck.find import propose_modules
    from netcheck.report.authoring import VehicleStart, new_vehicle_text

    span, rates = options.span(), options.rates()
    databases = {name: load_database(*paths, cache=options.cache) for name, paths in options.networks.items()}
    for database in databases.values():
        say_warnings(database)
    surveys = [_survey(path, databases, options.csv) for path in options.captures]
    seen = list(_seen(surveys))
    known = {(it.capture, it.channel) for _, it in seen}
    retrofits = [load_retrofit(name)[0] for name in shipped()]
    start = VehicleStart(
        name=options.name,
        model_years=span,
        networks=tuple(_networks(options, databases, rates, seen, folder)),
        modules=propose_modules(databases),
        strangers=tuple(place for place in _places(surveys) if place not in known),
        facts=asked_facts(retrofits),
        resources=asked_resources(retrofits),
    )
    return new_vehicle_text(start)


def _places(surveys: Sequence[Survey]) -> Iterator[tuple[str, str]]:
    """Each channel of each capture, by the names of both."""
    for survey in surveys:
        for channel in survey.channels:
            yield Path(survey.file).name, channel.channel


def _survey(path: Path, databases: Mapping[str, Database], csv: str) -> Survey:
    from netcheck.capture import open_capture
    from netcheck.network import SurveyPlan, survey

    with closing(open_capture(path, csv=csv)) as stream:
        return survey(stream, SurveyPlan(dict(databases)))


def _seen(surveys: Sequence[Survey]) -> Iterator[tuple[str, SeenNetwork]]:
    """Channels that are a network, or may be: by the rule of a survey."""
    from netcheck.network import IdentityLevel
    from netcheck.report.authoring import SeenNetwork

    for survey in surveys:
        for channel in survey.channels:
            best = next(iter(channel.candidates), None)
            if best is None or channel.identity is IdentityLevel.NONE:
                continue
            name = channel.network or best.network
            fit = next(it for it in channel.candidates if it.network == name)
            file = Path(survey.file).name
            yield name, SeenNetwork(file, channel.channel, channel.identity.value, fit.explained, fit.ids)


def _networks(
    options: VehicleOptions,
    databases: Mapping[str, Database],
    rates: Mapping[str, int],
    seen: Sequence[tuple[str, SeenNetwork]],
    folder: Path,
) -> Iterator[NetworkStart]:
    from netcheck.catalogue import roles
    from netcheck.find import propose_roles, signal_comments
    from netcheck.report.authoring import NetworkStart

    for name, paths in options.networks.items():
        database = databases[name]
        found = tuple(_found(paths))
        known = {it.role for it in found}
        proposed = propose_roles(database, roles(), signal_comments(database, paths))
        yield NetworkStart(
            name=name,
            dbc=tuple(relative(path, folder) for path in paths),
            bitrate=rates.get(name),
            seen=tuple(it for network, it in seen if network == name),
            roles=tuple(it for it in proposed if it.role not in known),
            found=found,
        )


def _found(paths: Sequence[Path]) -> Iterator[FoundRole]:
    """What drafts say: marks are better evidence than names."""
    from netcheck.cli._draft import found_roles, vehicle_beside
    from netcheck.report.authoring import FoundRole

    for path in paths:
        for role, source in found_roles(path):
            yield FoundRole(role, source, vehicle_beside(path).name)
