"""A new job file from a vehicle file, retrofits and captures."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

from netcheck.cli._new_paths import relative
from netcheck.errors import UsageError

if TYPE_CHECKING:
    from netcheck.files import LoadedVehicle, Retrofit


def job_text(
    vehicle: Path,
    year: int | None,
    items: Sequence[str],
    captures: Sequence[Path],
    folder: Path,
    *,
    csv: str,
    cache: bool,
) -> str:
    """The text of a job file that stands in ``folder``. By default the year is the vehicle file's last."""
    from netcheck.files import asked_facts, asked_resources, load_vehicle, year_problem
    from netcheck.report.authoring import JobStart, new_job_text

    loaded = load_vehicle(vehicle)
    chosen = year or loaded.model.model_years[1]
    if problem := year_problem(loaded.model, chosen, ()):
        raise UsageError(f"--year: {problem.what}", remedy=problem.remedy)
    chosen_items = tuple(_items(items, loaded, folder))
    retrofits = [retrofit for retrofit, _, _ in chosen_items]
    known = loaded.model.facts
    given = {entry.resource for retrofit in retrofits for entry in retrofit.provide}
    start = JobStart(
        vehicle=relative(vehicle, folder),
        model_year=chosen,
        is_year_given=year is not None,
        items=tuple((name, network) for _, name, network in chosen_items),
        captures=tuple(
            (relative(path, folder), tuple(_channels(path, loaded, csv, cache))) for path in captures
        ),
        facts=asked_facts(retrofits, known),
        resources=asked_resources(retrofits, known, given=given),
    )
    return new_job_text(start)


def _items(items: Sequence[str], vehicle: LoadedVehicle, folder: Path) -> Iterator[tuple[Retrofit, str, str]]:
    """Each retrofit with its name or path and its network. One that sends something needs a network."""
    from netcheck.catalogue import is_path, load_retrofit
    from netcheck.files import one_of

    networks = vehicle.model.network
    for entry in items:
        name, _, network = entry.partition("@")
        retrofit, _ = load_retrofit(name)
        if network and network not in networks:
            raise UsageError(
                f"--item {entry}: '{network}' is not a network of the vehicle",
                remedy=one_of(network, networks),
            )
        if not network and retrofit.supplies:
            raise UsageError(
                f"--item {entry}: it sends something, so its network must be known",
                remedy=f"write {name}@NETWORK: {one_of('', networks)}",
            )
        yield retrofit, relative(Path(name), folder) if is_path(name) else name, network


def _channels(path: Path, vehicle: LoadedVehicle, csv: str, cache: bool) -> Iterator[tuple[str, str]]:
    """Channels that the traffic identifies; the others are left to the plan, which works them out again."""
    from netcheck.capture import open_capture
    from netcheck.database import load_database
    from netcheck.network import IdentityLevel, SurveyPlan, survey

    networks = {name: load_database(*vehicle.dbc_paths(name), cache=cache) for name in vehicle.model.network}
    with closing(open_capture(path, csv=csv)) as stream:
        found = survey(stream, SurveyPlan(networks))
    for channel in found.channels:
        if channel.identity is IdentityLevel.IDENTIFIED and channel.network is not None:
            yield channel.channel, channel.network
