"""New vehicle, retrofit and job files, with a question wherever a person has to decide."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, Final

from netcheck.catalogue import modules
from netcheck.files import AskedFact, AskedResource
from netcheck.report._new_model import JobStart, NetworkStart, RetrofitStart, VehicleStart
from netcheck.report._role_entries import comment, role_entries, source_lines, toml_key, toml_text
from netcheck.words import listing

MOST_PARTS: Final = 3  # that ask for one thing, named in one question


def new_vehicle_text(start: VehicleStart) -> str:
    """A vehicle file that loads as it is."""
    return _text(_vehicle(start))


def _text(lines: Iterator[str]) -> str:
    return "\n".join(lines) + "\n"


def _vehicle(start: VehicleStart) -> Iterator[str]:
    yield from comment("Each line that begins with '# decide' is a question. Answer it, then take it out.")
    yield from ("", 'kind = "vehicle"', "format = 1", f"name = {toml_text(start.name)}")
    yield f"model_years = [{start.model_years[0]}, {start.model_years[1]}]"
    yield from _heading("networks")
    for network in start.networks:
        yield from _network(network)
    for capture, channel in start.strangers:
        yield from comment(
            f"decide: channel {channel} of {capture} fits none of these DBC files. Which network is it?"
        )
    yield from _heading("modules")
    yield from comment("Add the diagnostic addresses (request_id, response_id) and the coding that you know.")
    for module in start.modules:
        known = modules().get(module.name)
        yield ""
        if known is not None:
            yield from comment(
                f"decide: is the node {module.node} the {known.title.lower()}? The name is a guess."
            )
        yield f"[module.{toml_key(module.name)}]"
        yield f"title = {toml_text(known.title if known is not None else module.node)}"
        yield f"network = {_one_or_list(module.networks)}"
        yield f"node = {toml_text(module.node)}"
    yield from _heading("roles")
    yield from comment(
        "Proposed from the names in the DBC files. Confirm each with a capture and marks. Entries that are "
        "not sure are comments: take the '#' away to use one."
    )
    for network in start.networks:
        yield from _found(network)
        entries = role_entries(network.roles, network.name)
        if entries:
            yield from ("", entries.rstrip("\n"))
    yield from _facts(start)


def _found(network: NetworkStart) -> Iterator[str]:
    """Entries of drafts."""
    for found in network.found:
        yield ""
        yield from comment(f"found by marks, not by its name: {found.file} says where and how well")
        yield from source_lines(found.role, found.source, network.name)


def _heading(title: str) -> Iterator[str]:
    yield ""
    yield f"# {'-' * 75} {title}"
    yield ""


def _network(network: NetworkStart) -> Iterator[str]:
    for seen in network.seen:
        sure = "is" if seen.identity == "identified" else "may be"
        yield from comment(
            f"{seen.capture}, channel {seen.channel}, {sure} this network: {seen.explained} of {seen.ids} "
            "ids are in its DBC."
        )
    if not network.seen:
        yield from comment("decide: no capture was seen to be this network. Does the DBC fit the vehicle?")
    if network.bitrate is None:
        yield from comment("decide: the bit rate was not given; 500 kbit/s is only usual.")
    yield f"[network.{toml_key(network.name)}]"
    yield f"bitrate = {network.bitrate or 500_000:_}"
    yield f"dbc = {_one_or_list(network.dbc)}"
    yield from comment("decide: where can a technician reach it?")
    yield '# tap = "connector, pins (high) and (low)"'
    yield ""


def _one_or_list(names: Sequence[str]) -> str:
    if len(names) == 1:
        return toml_text(names[0])
    return f"[{', '.join(toml_text(name) for name in names)}]"


def _facts(start: VehicleStart) -> Iterator[str]:
    yield from _heading("facts")
    yield from comment("What shipped retrofits ask for. Take the '#' away and write what this vehicle has.")
    yield "[facts]"
    yield from _fact_questions([asked for asked in start.facts if asked.is_match])
    yield from _resource_questions(start.resources)
    yield ""
    yield from comment(
        "What differs from van to van, or is of the part that is ordered, belongs in the facts of the job."
    )
    yield from _fact_questions([asked for asked in start.facts if not asked.is_match])


def _fact_questions(facts: Iterable[AskedFact]) -> Iterator[str]:
    """Each fact as a comment with one of its values, below its question."""
    for asked in facts:
        values = [json.dumps(value) for value in asked.values]
        parts = listing(asked.parts, most=MOST_PARTS)
        needs = "needs" if len(asked.parts) == 1 else "need"
        why = f", because {asked.why}" if asked.why else ""
        question = f"what does the vehicle have? {parts} {needs} {listing(values, last='or')}{why}"
        if not asked.is_match:
            question = f"which is it? Entries of {parts} apply with {listing(values, last='or')}"
        yield ""
        yield from comment(f"decide: {question}")
        yield f"# {toml_text(asked.fact)} = {values[0]}"


def _resource_questions(resources: Iterable[AskedResource]) -> Iterator[str]:
    """Each resource as a comment that states none of it, below its question."""
    for asked in resources:
        takers = [f"{name} takes {count}" for name, count in asked.takers]
        told = listing(takers, most=MOST_PARTS) + (", optionally" if asked.is_optional else "")
        yield ""
        yield from comment(f"decide: how many of it does the vehicle have itself? {told}: {asked.why}")
        yield f"# {toml_text(asked.fact)} = 0"


def new_file_json(kind: str, file: str | None, text: str) -> dict[str, Any]:
    """A new file for scripts: its questions, each with its line, and its text."""
    lines = text.splitlines()
    questions = []
    for number, line in enumerate(lines):
        if not line.startswith(_DECIDE):
            continue
        told = [line.removeprefix(_DECIDE)]
        for more in lines[number + 1 :]:
            if not more.startswith("# ") or more.startswith(_DECIDE) or "=" in more or "[" in more:
                break
            told.append(more.removeprefix("# "))
        questions.append({"line": number + 1, "text": " ".join(told)})
    return {"schema": "netcheck.new/1", "kind": kind, "file": file, "questions": questions, "text": text}


_DECIDE: Final = "# decide: "


def new_retrofit_text(start: RetrofitStart) -> str:
    """A retrofit file that loads as it is."""
    return _text(_retrofit(start))


def _retrofit(start: RetrofitStart) -> Iterator[str]:
    yield from comment("Each line that begins with '# decide' is a question. Answer it, then take it out.")
    yield from ("", 'kind = "retrofit"', "format = 1", f"name = {toml_text(start.name)}")
    yield f"title = {toml_text(start.title)}"
    yield from comment("decide: what can hurt someone? One sentence for each danger.")
    yield "cautions = []"
    for role in start.needs:
        yield ""
        yield from comment(
            "decide: how sure must it be (moves or answers), how late may it come, how long may it stay away?"
        )
        yield from ("[[need]]", f"role = {toml_text(role)}", 'evidence = "answers"')
        yield from ("# max_delay_ms = 300", "# max_gap_ms = 2000", 'why = ""')
    for role in start.supplies:
        yield ""
        yield from comment("decide: which id does the part send it with, how often, how many bytes?")
        yield from ("[[supply]]", f"roles = [{toml_text(role)}]")
        yield from ("# message_id = 0x4A1", "# period_ms = 100", "# length = 8")
    for role in start.needs:
        yield ""
        yield from comment(
            "decide: how does a technician show it, and what does that take (standing, engine, yard, road)?"
        )
        yield from ("[[exercise]]", f"role = {toml_text(role)}")
        yield from (f"do = {toml_text(f'Show {role} for 3 seconds, then stop')}", 'state = "active"')
    yield ""
    yield from comment("decide: what goes away, what must match, what is coded? See netcheck guide files.")
    for phase, text in _STEPS:
        yield ""
        yield from ("[[step]]", f"phase = {toml_text(phase)}", f"text = {toml_text(text)}")


_STEPS = (
    ("before", "Read the part's own instructions and compare its part number with the order"),
    ("fit", "Fit and connect the part as its instructions say"),
    ("prove", "Show that the part does what it should, once for each function"),
    ("handover", "Show the customer how it works and hand over the instructions"),
)


def new_job_text(start: JobStart) -> str:
    """A job file that loads as it is."""
    return _text(_job(start))


def _job(start: JobStart) -> Iterator[str]:
    yield from comment("Each line that begins with '# decide' is a question. Answer it, then take it out.")
    yield from ("", 'kind = "job"', "format = 1", f"vehicle = {toml_text(start.vehicle)}")
    if not start.is_year_given:
        yield from comment("decide: which model year is it? This is the last one of the vehicle file.")
    yield f"model_year = {start.model_year}"
    yield from ("", "[identity]")
    yield from comment("decide: which vehicle is it? Take the '#' away from what you know.")
    yield from ('# vin = "…"', '# registration = "…"', "# odometer_km = 0", '# reference = "…"')
    if start.facts or start.resources:
        yield from ("", "[facts]")
        yield from comment("What the vehicle file does not state and the parts ask for. Take the '#' away.")
        yield from _fact_questions(start.facts)
        yield from _resource_questions(start.resources)
    for retrofit, network in start.items:
        yield from ("", "[[item]]", f"retrofit = {toml_text(retrofit)}")
        if network:
            yield f"network = {toml_text(network)}"
        else:
            yield from comment("decide: on which network is its tap?")
    for path, channels in start.captures:
        yield from ("", "[[capture]]", f"file = {toml_text(path)}", 'when = "before"')
        if channels:
            pairs = ", ".join(f"{toml_key(channel)} = {toml_text(network)}" for channel, network in channels)
            yield f"channels = {{ {pairs} }}"
    yield ""
    yield from comment(
        "decide: which coding was read? A [[readout]] for each block, or netcheck guide coding."
    )
