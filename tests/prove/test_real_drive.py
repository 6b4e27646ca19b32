"""A minute of a real drive cut in two halves: no message has changed (open data set, licence beside it)."""

from __future__ import annotations

from pathlib import Path

from opendbc.dbc.generator.generator import generate_all

from netcheck.prove import prove
from tests.prove.halves import halved_job

LOG = Path(__file__).parents[1] / "data" / "rav4_2016_wheels.log.xz"
DBC = "toyota_nodsu_pt_generated"


def test_the_halves_of_a_drive_have_the_same_messages(tmp_path: Path) -> None:
    proof = prove(halved_job(tmp_path, LOG, {"drive": generate_all()[DBC]}))
    assert (proof.compared, proof.unchanged, proof.changes) == (3, 3, ())
