"""A job with a spoilt file becomes a page that is whole, loads nothing and runs nothing of others."""

from __future__ import annotations

import json
import random
from pathlib import Path

from tests.fuzz.captures import TOKENS
from tests.fuzz.harness import command, target
from tests.fuzz.mutate import mutated_bytes, mutated_text
from tests.fuzz.tables import spoil
from tests.fuzz.van import COMFORT, NAMES, VAN, capture_text, put_van
from tests.page.checked import check_page
from tests.page.hostile import ATTACKS

SCRIPTS = 4  # of a job's page
OTHERS = ("comfort.dbc", "comfort_before.log")  # that are no tables


@target("page")
def pages(chance: random.Random, folder: Path) -> None:
    """Any file of the job is spoilt, often with words that would break out of a page."""
    kind = chance.choice(
        ("vehicle", "retrofit", "job", "marks", "readouts", "comfort.dbc", "comfort_before.log")
    )
    if kind in VAN:
        spoil(chance, folder, kind)
        path = folder / NAMES[kind]
    else:
        put_van(folder)
        path = folder / kind
        if kind.endswith(".dbc"):
            path.write_text(mutated_text(chance, COMFORT, ATTACKS), encoding="utf-8")
        else:
            path.write_bytes(mutated_bytes(chance, capture_text().encode(), TOKENS))
    if chance.randrange(2):
        path.write_bytes(_with_attacks(chance, path.read_bytes()))
    result = folder / "x.html"
    if command("report", folder / NAMES["job"], "-o", result) == 2:
        assert not result.exists()
        return
    page = check_page(result.read_text(encoding="utf-8"))
    scripts = page.all("script")
    assert len(scripts) == SCRIPTS
    for script in page.all("script", type="application/json"):
        json.loads(script.text)


def _with_attacks(chance: random.Random, data: bytes) -> bytes:
    """A few texts between quotation marks become attacks."""
    parts = data.split(b'"')
    for _ in range(3):
        if len(parts) > 2:
            place = chance.randrange(1, len(parts) - 1) | 1
            attack = chance.choice(ATTACKS).replace("\\", "\\\\").replace('"', "'")
            parts[min(place, len(parts) - 1)] = attack.encode()
    return b'"'.join(parts)
