"""On the bench: traffic that was simulated, replayed or cut."""

from netcheck.report._bench import (
    SimulationRun,
    replay_json,
    replay_text,
    simulation_json,
    simulation_text,
)
from netcheck.report._bench_words import (
    BENCH_CAUTION,
    replay_plan,
    simulation_head,
    simulation_notes,
    simulation_plan,
    simulation_warnings,
)
from netcheck.report._trim import trim_json, trim_text

__all__ = [
    "BENCH_CAUTION",
    "SimulationRun",
    "replay_json",
    "replay_plan",
    "replay_text",
    "simulation_head",
    "simulation_json",
    "simulation_notes",
    "simulation_plan",
    "simulation_text",
    "simulation_warnings",
    "trim_json",
    "trim_text",
]
