"""The captures and marks files in ``sample_logs/``: six vans of an island council's library service."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from netcheck.bench import Frame, candump_lines, merge
from netcheck.find import rhythm
from tests.demo import diagnostics
from tests.demo.diagnostics import FULMAR, GANNET, PUFFIN, RAZORBILL
from tests.demo.strangers import undocumented
from tests.demo.van import Van, marks_file
from tests.simulated import write

SAMPLE_LOGS = Path(__file__).parents[2] / "sample_logs"
DAY_US = 86_400_000_000


@dataclass(frozen=True)
class Scene:
    """One recording: its log, and the marks that were noted."""

    log: str
    marks: str


def _scene(van: Van, frames: Iterable[Frame], start_us: int, *told: str) -> Scene:
    told = ("Invented data: a simulated Skerry 240, no real vehicle.", *told)
    return Scene("".join(candump_lines(frames, told, start_us)), marks_file(van.marks, told))


PUFFIN_CODING = (
    ("gateway", 0x2210, "4C011F028000"),
    ("column", 0x2230, "21000104"),
    ("cluster", 0x2240, "013C400000085600"),
    ("body", 0x2215, "0A0013FF"),
    ("engine", 0x2281, "91002D7003"),
)


def puffin_2020() -> Scene:
    """Comfort and drive at once, in the depot yard; at the end the ignition goes off and on again."""
    van = Van(2020)
    van.number(PUFFIN)
    for number, (module, did, data) in enumerate(PUFFIN_CODING):
        van.read_out(module, did, data, 0.8 + 0.45 * number)
    van.scenarios["comfort"].extra += undocumented(0x4F7, 1.0, 0.0, 69.0)
    van.scenarios["drive"].extra += undocumented(0x5D3, 0.2, 0.0, 61.0)
    van.hold("brake-pedal", 3.5, 22.5)
    for begin in (5.0, 12.0, 19.0):
        van.hold("reverse-engaged", begin, begin + 3.0)
    van.hold("trailer-coupled", 25.0, 30.0)
    van.hold("illumination", 31.0, 34.0)
    van.hold("clutch-pedal", 35.5, 38.5)
    van.run_engine(37.0, 58.0)
    van.creep(41.0, 57.0, 7.4)
    van.mark_between("vehicle-speed", 45.5, 52.0, 5.0, 10.0)
    van.mark("park-brake", 0.0, 40.5)
    van.mark("park-brake", 57.0, 69.0)
    van.set("steering-angle", 45.0, 160.0, 2.0)
    van.set("steering-angle", 48.5, -40.0, 2.0)
    van.set("steering-angle", 51.0, 0.0, 1.0)
    van.ignition_off(60.0, 65.0)
    van.asleep("drive", 61.3, 65.1)
    frames = merge(van.frames("comfort", 69.0, 2020), van.frames("drive", 69.0, 2021, "can1"))
    return _scene(van, frames, 1_615_275_720_000_000, "Library van Puffin, comfort on can0, drive on can1.")


def guillemot_2021() -> Scene:
    """The conversion network, in the coachbuilder's hall."""
    van = Van(2021)
    van.hold("brake-pedal", 3.5, 20.5, mark=False)
    for begin in (5.0, 11.0, 17.0):
        van.hold("reverse-engaged", begin, begin + 3.0)
    van.hold("illumination", 21.5, 24.5, mark=False)
    van.set("steering-angle", 25.0, 420.0, 2.0)
    van.set("steering-angle", 30.0, -420.0, 3.0)
    van.set("steering-angle", 36.0, 0.0, 2.0)
    van.mark_between("steering-angle", 27.5, 29.5, 300.0, 500.0)
    van.mark_between("steering-angle", 33.5, 35.5, -500.0, -300.0)
    van.run_engine(39.0, 57.5, mark=False)
    van.creep(41.0, 57.0, 6.2)
    van.mark_between("vehicle-speed", 45.5, 53.0, 5.0, 8.0)
    van.hold("trailer-coupled", 58.0, 62.0)
    frames = van.frames("conversion", 64.0, 2022)
    return _scene(
        van, frames, 1_615_275_720_000_000 + 6 * DAY_US, "Library van Guillemot, conversion network."
    )


def fulmar_2022() -> Scene:
    """The comfort network over a whole stop: door, key, ignition, a short drive, key out, asleep, door."""
    van = Van(2022)
    van.number(FULMAR)
    van.turn("terminal-15", 0.0, on=False)
    van.turn("s-contact", 0.0, on=False)
    van.hold("door.driver-open", 1.0, 4.0)
    van.scenarios["comfort"].extra += undocumented(0x4F7, 1.0, 0.0, 73.0)
    van.scenarios["comfort"].extra += undocumented(0x4F7, 1.0, 84.1, 92.0)
    van.hold("s-contact", 5.0, 66.0)
    van.hold("terminal-15", 8.0, 64.0)
    van.hold("trip.up", 11.0, 12.0)
    van.hold("trip.down", 13.0, 14.0)
    van.hold("trip.reset", 15.0, 16.0)
    van.hold("illumination", 18.0, 25.0)
    van.set("illumination-level", 20.0, 35.0, 1.5)
    van.set("illumination-level", 23.0, 100.0, 1.5)
    for begin in (27.0, 33.0):
        van.hold("reverse-engaged", begin, begin + 3.0)
    van.run_engine(38.5, 62.0)
    van.creep(41.0, 60.0, 11.8)
    van.mark_between("vehicle-speed", 46.0, 55.0, 10.0, 14.0)
    van.mark("park-brake", 0.0, 40.5)
    van.mark("park-brake", 60.0, 74.0)
    van.mark("park-brake", 84.0, 92.0)  # the network slept meanwhile
    van.put("comfort", "RadioState", "RadioVolume", 30.5, 17, 0.6)
    van.put("comfort", "RadioState", "RadioVolume", 37.0, 11, 0.6)
    van.hold("door.driver-open", 68.0, 71.0)
    van.asleep("comfort", 74.0, 84.0)
    van.hold("door.driver-open", 84.2, 88.0)
    frames = van.frames("comfort", 92.0, 2023)
    told = "Library van Fulmar, comfort network, asleep for ten seconds from second 74."
    return _scene(van, frames, 1_615_275_720_000_000 + 8 * DAY_US, told)


def gannet_2019() -> Scene:
    """The comfort network while nobody touches anything, but for one press of the brake."""
    van = Van(2019)
    van.number(GANNET)
    van.scenarios["comfort"].extra += undocumented(0x4F7, 1.0, 0.0, 45.0)
    van.read_out("cluster", 0x2240, "013C400000085600", 31.0)
    van.hold("brake-pedal", 20.0, 23.0)
    frames = van.frames("comfort", 45.0, 2024)
    told = "Library van Gannet, comfort network, ignition on, standing."
    return _scene(van, frames, 1_615_275_720_000_000 + 13 * DAY_US, told)


def petrel_2017() -> Scene:
    """The drive network of an early van: pedals, then a slow round of the yard."""
    van = Van(2017)
    for begin in (4.0, 9.0):
        van.hold("brake-pedal", begin, begin + 3.0)
    van.run_engine(14.0, 38.0)
    van.creep(17.0, 37.0, 12.5)
    van.mark_between("vehicle-speed", 22.0, 32.0, 10.0, 15.0)
    frames = van.frames("drive", 41.0, 2025)
    return _scene(van, frames, 1_615_275_720_000_000 + 15 * DAY_US, "Library van Petrel, drive network.")


def guillemot_2021_after() -> Scene:
    """The conversion network again, with the camera fitted: the same exercises, marked by a watch."""
    van = Van(2021)
    van.hold("brake-pedal", 2.5, 21.5, mark=False)
    for begin in (4.0, 9.0, 16.5):
        van.hold("reverse-engaged", begin, begin + 3.0)
    van.set("steering-angle", 23.0, -400.0, 2.0)
    van.set("steering-angle", 28.0, 400.0, 3.0)
    van.set("steering-angle", 34.0, 0.0, 2.0)
    van.mark_between("steering-angle", 25.5, 27.5, -500.0, -300.0)
    van.mark_between("steering-angle", 31.5, 33.5, 300.0, 500.0)
    van.run_engine(37.0, 55.5, mark=False)
    van.creep(39.0, 55.0, 6.0)
    van.mark_between("vehicle-speed", 43.5, 51.0, 5.0, 8.0)
    frames = van.frames("conversion", 60.0, 2026)
    return _scene(
        van, frames, 1_615_275_720_000_000 + 9 * DAY_US, "Library van Guillemot, conversion, camera fitted."
    )


def fulmar_2022_after() -> Scene:
    """The comfort network after a camera was fitted: all works, and the network does not fall asleep."""
    van = Van(2022)
    van.number(FULMAR)
    van.turn("terminal-15", 0.0, on=False)
    van.turn("s-contact", 0.0, on=False)
    van.hold("door.driver-open", 1.0, 3.5, mark=False)
    van.scenarios["comfort"].extra += undocumented(0x4F7, 1.0, 0.0, 95.0)
    van.hold("s-contact", 4.0, 63.0, mark=False)
    van.hold("terminal-15", 6.0, 61.0, mark=False)
    for begin in (12.0, 18.0, 24.0):
        van.hold("reverse-engaged", begin, begin + 3.0)
    van.hold("illumination", 30.0, 36.0, mark=False)
    van.run_engine(38.0, 60.0, mark=False)
    van.creep(40.5, 58.0, 11.0)
    van.mark_between("vehicle-speed", 45.5, 53.0, 9.0, 13.0)
    van.hold("door.driver-open", 65.0, 68.0, mark=False)
    frames = van.frames("comfort", 95.0, 2027)
    told = "Library van Fulmar, comfort network, camera fitted; nobody touches anything from second 68."
    return _scene(van, frames, 1_615_275_720_000_000 + 15 * DAY_US, told)


def gannet_2019_after() -> Scene:
    """What was taken for Gannet with its dash camera: another van of the fleet, told by its number alone."""
    van = Van(2019)
    van.number(f"{GANNET[:-3]}523")
    van.scenarios["comfort"].extra += undocumented(0x4F7, 1.0, 0.0, 30.0)
    van.hold("brake-pedal", 11.0, 13.5, mark=False)
    frames = van.frames("comfort", 30.0, 2028)
    told = "Named after library van Gannet, comfort network, ignition on, standing."
    return _scene(van, frames, 1_615_275_720_000_000 + 20 * DAY_US, told)


def razorbill_2021() -> Scene:
    """Comfort and drive at once, for eight parts: all that they need, in one stop in the depot yard."""
    van = Van(2021)
    van.number(RAZORBILL)
    van.hold("brake-pedal", 2.5, 15.5)
    for begin in (4.0, 9.0):
        van.hold("reverse-engaged", begin, begin + 3.0)
    van.hold("trailer-coupled", 16.5, 20.5)
    van.hold("illumination", 21.5, 24.5)
    van.hold("clutch-pedal", 25.5, 29.0)
    van.run_engine(27.0, 42.5)
    van.creep(29.5, 42.0, 7.1)
    van.mark_between("vehicle-speed", 33.5, 38.0, 5.0, 10.0)
    van.mark("park-brake", 0.0, 29.0)
    van.mark("park-brake", 42.0, 51.0)
    van.ignition_off(44.0, 47.5)
    van.mark("terminal-15", 0.0, 44.0)
    van.mark("terminal-15", 47.5, 51.0)
    van.asleep("drive", 45.3, 47.6)
    frames = merge(van.frames("comfort", 51.0, 2029), van.frames("drive", 51.0, 2030, "can1"))
    told = "Library van Razorbill, comfort on can0, drive on can1."
    return _scene(van, frames, 1_615_275_720_000_000 + 27 * DAY_US, told)


FOUND_ROLES = (
    "reverse-engaged",
    "wheel.volume-up",
    "wheel.volume-down",
    "wheel.next",
    "wheel.previous",
    "wheel.mute",
    "wheel.voice",
    "wheel.phone",
    "wheel.confirm",
)


def kittiwake_2022() -> Scene:
    """The comfort network of a van with a multi-function wheel, as a guided search has it worked.

    Three presses of each role in a rhythm of the guide; the hand follows 0.12 and 0.22 s late.
    """
    van = Van(2022, ("wheel-buttons",))
    van.scenarios["comfort"].extra += undocumented(0x4F7, 1.0, 0.0, 200.0)
    draw, time = random.Random(2022), 5.0
    for role in FOUND_ROLES:
        for pause, hold in rhythm(draw, 3, 0.7):
            time = round(time + pause, 1)
            van.hold(role, time, time := round(time + hold, 1))
    frames = van.frames("comfort", time + 3.0, 2029)
    told = "Library van Kittiwake, comfort network, reverse and eight wheel buttons one after another."
    return _scene(van, frames, 1_615_275_720_000_000 + 21 * DAY_US, told)


SCENES: Mapping[str, Callable[[], Scene]] = {
    "kittiwake_2022_comfort.log.gz": kittiwake_2022,
    "fulmar_2022_comfort.log.gz": fulmar_2022,
    "fulmar_2022_comfort_after.log.gz": fulmar_2022_after,
    "gannet_2019_comfort.log.gz": gannet_2019,
    "gannet_2019_comfort_after.log.gz": gannet_2019_after,
    "guillemot_2021_conversion.log": guillemot_2021,
    "guillemot_2021_conversion_after.log.gz": guillemot_2021_after,
    "petrel_2017_drive.log.gz": petrel_2017,
    "puffin_2020_comfort_drive.log.gz": puffin_2020,
    "razorbill_2021_comfort_drive.log.gz": razorbill_2021,
}
CONVERSATIONS: Mapping[str, Callable[[int], str]] = {
    "puffin_2020_diagnostics_before.log": diagnostics.before,
    "puffin_2020_diagnostics_after.log": diagnostics.after,
    "fulmar_2022_diagnostics.log": diagnostics.fulmar,
    "gannet_2019_cluster.log": diagnostics.gannet,
    "gannet_2019_gateway.log": diagnostics.gannet_gateway,
    "petrel_2017_diagnostics.log": diagnostics.petrel,
    "razorbill_2021_diagnostics.log": diagnostics.razorbill,
}
MARKS_IN_THE_JOB = {"guillemot_2021_conversion.log", "gannet_2019_comfort.log.gz"}
WITHOUT_MARKS = {"gannet_2019_comfort_after.log.gz"}


def marks_name(log: str) -> str:
    """The side file of a capture."""
    return log.removesuffix(".gz").removesuffix(".log") + ".marks.toml"


def write_all(folder: Path = SAMPLE_LOGS) -> None:
    """Write every capture, and the marks of those whose job does not hold them."""
    folder.mkdir(exist_ok=True)
    for name, scene in SCENES.items():
        made = scene()
        write(folder / name, made.log)
        if name not in MARKS_IN_THE_JOB | WITHOUT_MARKS:
            (folder / marks_name(name)).write_text(made.marks, "utf-8")
    for day, (name, conversation) in enumerate(CONVERSATIONS.items()):
        write(folder / name, conversation(1_615_275_720_000_000 + (day + 1) * 3_600_000_000))
