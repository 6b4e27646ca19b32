"""A vehicle on the bench: simulated traffic, and captures played onto a bus."""

from netcheck.bench._checksum import Checksum, ChecksumKind
from netcheck.bench._encode import encode, nearest_raw, physical, raw_range
from netcheck.bench._faults import USUAL_PERIOD_MS
from netcheck.bench._frame import START_US, BitRates, Frame, candump_lines, merge
from netcheck.bench._module import ModuleSetting, ModuleStation, SimulatedModule
from netcheck.bench._play import BusStopped, Clock, Lateness, Played, SendStop, StopReason, play
from netcheck.bench._remarks import BenchRemark, BenchRemarkKind
from netcheck.bench._replay import Replay, ReplayChoice, Route, look_through
from netcheck.bench._scenario import ALWAYS, Cycle, InjectedFault, Key, Point, Scenario, Span
from netcheck.bench._send import Sending, bench_ids, bench_messages, send
from netcheck.bench._settings import seen_from
from netcheck.bench._setup import Bench, BenchNetwork, BenchOverload, load_bench, set_up
from netcheck.bench._simulate import simulate
from netcheck.bench._target import Target, WireId, id_list

__all__ = [
    "ALWAYS",
    "START_US",
    "USUAL_PERIOD_MS",
    "Bench",
    "BenchNetwork",
    "BenchOverload",
    "BenchRemark",
    "BenchRemarkKind",
    "BitRates",
    "BusStopped",
    "Checksum",
    "ChecksumKind",
    "Clock",
    "Cycle",
    "Frame",
    "InjectedFault",
    "Key",
    "Lateness",
    "ModuleSetting",
    "ModuleStation",
    "Played",
    "Point",
    "Replay",
    "ReplayChoice",
    "Route",
    "Scenario",
    "SendStop",
    "Sending",
    "SimulatedModule",
    "Span",
    "StopReason",
    "Target",
    "WireId",
    "bench_ids",
    "bench_messages",
    "candump_lines",
    "encode",
    "id_list",
    "load_bench",
    "look_through",
    "merge",
    "nearest_raw",
    "physical",
    "play",
    "raw_range",
    "seen_from",
    "send",
    "set_up",
    "simulate",
]
