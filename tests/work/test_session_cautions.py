"""What a recording warns of: the dangers of the parts that are there before the fitting or on the move."""

from __future__ import annotations

from pathlib import Path

from netcheck.catalogue import load_job
from netcheck.plan import make_plan
from netcheck.work import recording_sessions

JOB = Path(__file__).parents[2] / "sample_logs" / "petrel_2017_cruise.job.toml"


def test_dangers_on_the_move_are_told_before_a_recording() -> None:
    job = load_job(JOB)
    plan = make_plan(job)
    sessions, _ = recording_sessions(job, plan.items, plan.captures)
    entries = [entry for item in job.applied().items for entry in item.retrofit.caution]
    moving = {entry.text for entry in entries if entry.danger == "motion"}
    others = {entry.text for entry in entries if entry.phase == "fit" and entry.danger == "tools"}
    assert moving
    for session in sessions.values():
        assert moving <= set(session.cautions)
        assert not others & set(session.cautions)
