"""The files that are measured on."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Final

import opendbc

from tests.benchmarks.traffic import Sender, senders, write_log, write_random

ROOT: Final = Path(__file__).parents[2]
DEMO: Final = ROOT / "sample_logs" / "puffin_2020_park_and_cruise.job.toml"
DEMO_LOG: Final = ROOT / "sample_logs" / "puffin_2020_comfort_drive.log.gz"
DEMO_CHANNEL: Final = "can1"  # the busier of its two
VEHICLE: Final = ROOT / "dbc" / "skerry_240.vehicle.toml"
MANY_SIGNALS: Final = Path(opendbc.__file__).parent / "dbc" / "cadillac_ct6_object.dbc"  # 2,720 signals
BYTES_A_FRAME: Final = 43  # of the van's log, about

_JOB: Final = """\
kind = "job"
format = 1
vehicle = {vehicle}
model_year = 2020

[[item]]
retrofit = "park-distance"
network = "comfort"

[[item]]
retrofit = "cruise-stalk"
network = "drive"

[[capture]]
file = {log}

[[capture.mark]]
role = "reverse-engaged"
state = "active"
from = 0.2
to = 0.9
"""


_AFTER: Final = """
[[capture]]
file = {log}
when = "after"

[[capture.mark]]
role = "reverse-engaged"
state = "active"
from = 0.2
to = 0.9
"""


def van() -> list[Sender]:
    """Two networks of the demo's van, on two channels."""
    comfort, drive = ROOT / "dbc" / "skerry_comfort.dbc", ROOT / "dbc" / "skerry_drive.dbc"
    return senders(comfort, 0, seed=1) + senders(drive, 1, seed=2)


def van_log(folder: Path, frames: int, name: str = "van", seed: int = 3) -> Path:
    """A recording of the van with that many frames."""
    path = folder / f"{name}_{frames}.log"
    write_log(path, frames, seed, van(), ("can0", "can1"))
    return path


def random_log(folder: Path, frames: int) -> Path:
    """A recording of two channels, of 60 ids with eight random bytes each."""
    path = folder / "random.log"
    write_random(path, frames, 6)
    return path


def seldom_log(folder: Path, frames: int, ids: int) -> Path:
    """So many ids; one of them comes after each pause of over a second, behind three frames of a fast one."""
    path = folder / "seldom.log"
    time_us = 1_600_000_000_000_000
    with path.open("w", encoding="ascii") as file:
        for number in range(frames // 4):
            time_us += 1_100_000 + 7919 * number % 50_000
            for can_id in ("123", "123", "123", f"{0x10000 + number % ids:08X}"):
                stamp = f"({time_us // 1_000_000}.{time_us % 1_000_000:06d})"
                file.write(f"{stamp} can0 {can_id}#0011223344556677\n")
                time_us += 10_000
    return path


def many_signals_log(folder: Path, frames: int) -> Path:
    """A recording with the messages of the DBC of many signals."""
    path = folder / "many_signals.log"
    write_log(path, frames, 4, senders(MANY_SIGNALS, 0, seed=5), ("can0",))
    return path


def talk_log(folder: Path, log: Path, conversations: int, every: int) -> Path:
    """The log with so many conversations at the same time: a frame of one of them behind so many frames.

    Each asks its module for the vehicle number again and again: a request, and an answer in four frames.
    """
    path = folder / "talk.log"
    number = b"\x62\xf1\x90ZZZSK240ZL0123456"
    steps = [
        (0x700, b"\x03\x22\xf1\x90UUUU"),
        (0x740, b"\x10\x14" + number[:6]),
        (0x700, b"\x30\x00\x00UUUUU"),
        (0x740, b"\x21" + number[6:13]),
        (0x740, b"\x22" + number[13:20]),
    ]
    with log.open("rb") as source, path.open("wb") as target:
        for count, line in enumerate(source, 1):
            target.write(line)
            if count % every == 0:
                turn, who = divmod(count // every, conversations)
                base, data = steps[turn % len(steps)]
                stamp = line.split(b" ", 1)[0]
                target.write(b"%s can0 %03X#%s\n" % (stamp, base + who, data.hex().upper().encode()))
    return path


def job(log: Path) -> Path:
    """A job that needs roles of both networks in the log."""
    path = log.with_suffix(".job.toml")
    text = _JOB.format(vehicle=_quoted(VEHICLE), log=_quoted(log))
    path.write_text(text, encoding="utf-8")
    return path


def fitted_job(before: Path, after: Path) -> Path:
    """The same with a recording from after the fitting."""
    path = job(before)
    path.write_text(path.read_text(encoding="utf-8") + _AFTER.format(log=_quoted(after)), encoding="utf-8")
    return path


def _quoted(path: Path) -> str:
    return "'" + path.as_posix() + "'"


def has_room(folder: Path, frames: int) -> bool:
    """Whether the disk takes a log of that many frames, and as much again."""
    return shutil.disk_usage(folder).free > 2 * frames * BYTES_A_FRAME
