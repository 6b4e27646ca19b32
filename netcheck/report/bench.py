"""On the bench: traffic that was simulated, replayed or cut."""

from netcheck.report._bench import (
    SimulationTold,
    replay_json,
    replay_text,
    simulation_json,
    simulation_text,
)
from netcheck.report._trim import trim_json, trim_text

__all__ = [
    "SimulationTold",
    "replay_json",
    "replay_text",
    "simulation_json",
    "simulation_text",
    "trim_json",
    "trim_text",
]
