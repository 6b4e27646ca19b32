"""The order of work of a whole job: power once, gates, exercises once, dangers at the stage they guard."""

from __future__ import annotations

from dataclasses import replace

from netcheck.files import VehicleIdentity, Wire
from netcheck.verdict import Reason, Verdict
from netcheck.work import checklist
from tests.work.jobs import item, job, need, retrofit
from tests.work.test_checklist import steps, texts, told

GIVES = '[[provide]]\nresource = "video-in"\n[[step]]\nphase = "fit"\ntext = "Fit the radio"\n'
TAKES = '[[use]]\nresource = "video-in"\n[[step]]\nphase = "fit"\ntext = "Fit the camera"\n'


def test_what_gives_a_resource_is_fitted_before_what_takes_it() -> None:
    camera, radio = (retrofit("camera", TAKES), None), (retrofit("radio", GIVES), None)
    found = steps((item(camera, Verdict.GO), item(radio, Verdict.GO)), camera, radio)
    assert texts(found, "fit")[:2] == ["Fit the radio.", "Fit the camera."]
    both = (retrofit("a", GIVES + TAKES), None), (retrofit("b", GIVES + TAKES), None)
    found = steps((item(both[0], Verdict.GO), item(both[1], Verdict.GO)), *both)
    assert texts(found, "fit")[:2] == ["Fit the radio.", "Fit the camera."]


def staged(*stated: str) -> str:
    return "".join(f"[[step]]\n{keys}\n" for keys in stated)


def test_power_goes_off_once_and_comes_back_once_for_all_parts() -> None:
    first = retrofit(
        "first",
        staged(
            'phase = "fit"\npower = "on"\ntext = "Set the clock"',
            'phase = "fit"\npower = "off"\ntext = "Join the supply"',
        ),
    )
    second = retrofit("second", staged('phase = "fit"\npower = "off"\ntext = "Join the pair"'))
    pairs = (first, None), (second, None)
    found = steps((item(pairs[0], Verdict.GO), item(pairs[1], Verdict.GO)), *pairs)
    told_in = [(step.stage, told(step).split(":")[0][:24]) for step in found if step.phase == "fit"]
    assert told_in == [
        ("power-down", "Note what has to be set "),
        ("power-down", "Every source is off, the"),
        ("fit", "Join the supply."),
        ("fit", "Join the pair."),
        ("fit", "Every plug, fuse and cov"),
        ("power-up", "Nobody in the cab"),
        ("power-up", "Set the clock."),
        ("power-up", "The supply voltage is st"),
    ]


def test_proofs_go_from_standing_to_the_road_each_behind_its_gate_and_caution() -> None:
    wheres = ("road", "yard", "engine", "standing")
    part = retrofit(
        "part",
        staged(*(f'phase = "prove"\nwhere = "{where}"\ntext = "Prove it {where}"' for where in wheres))
        + '[[caution]]\ndanger = "motion"\nphase = "prove"\ntext = "Keep clear"\n',
    )
    pair = (part, None)
    found = steps((item(pair, Verdict.GO),), pair)
    assert [step.stage for step in found if told(step).startswith("Prove it")] == [
        "standing",
        "engine",
        "yard",
        "road",
    ]
    gates = [told(step) for step in found if step.is_gate and step.phase == "prove"]
    assert [gate.rpartition("only then ")[2] for gate in gates] == [
        "start the engine.",
        "move the vehicle.",
        "drive on the road.",
        "hand over.",
    ]
    assert gates[0].startswith("Airbag lamp out, stability lamp out, no new fault")
    (clear,) = (step for step in found if told(step) == "Keep clear.")
    assert (clear.stage, clear.caution) == ("yard", True)
    moving = [
        (step.stage, step.caution)
        for step in found
        if told(step).startswith(("Moving", "On the road", "Engine"))
    ]
    assert moving == [("engine", True), ("yard", True), ("road", True)]


DRIVE = '[[exercise]]\nrole = "vehicle-speed"\ndo = "{}"\nwhere = "road"\n'


def test_an_exercise_of_several_parts_is_done_once_and_says_for_whom() -> None:
    parts = [
        (retrofit(name, DRIVE.format(text)), None) for name, text in (("a", "Drive"), ("b", "Drive slowly"))
    ]
    needs = need("vehicle-speed", why="for its own reason")
    found = steps(tuple(item(part, Verdict.GO, needs) for part in parts), *parts)
    drives = [step for step in found if "vehicle-speed" in told(step)]
    assert [(told(step), step.items, step.stage) for step in drives] == [
        ("vehicle-speed: Drive slowly. Shows the signal for: a and b.", ("a", "b"), "road")
    ]


def test_another_state_or_place_is_another_exercise() -> None:
    other = DRIVE.format("Drive").replace("road", "yard")
    parts = [(retrofit("a", DRIVE.format("Drive")), None), (retrofit("b", other), None)]
    found = steps(tuple(item(part, Verdict.GO, need("vehicle-speed")) for part in parts), *parts)
    assert [step.stage for step in found if told(step).startswith("vehicle-speed")] == ["yard", "road"]


def test_a_danger_is_told_once_for_all_parts_at_the_stage_that_it_guards() -> None:
    airbag = '[[caution]]\ndanger = "airbag"\nphase = "fit"\ntext = "Trained people only"\n'
    off = staged('phase = "fit"\npower = "off"\ntext = "Join"')
    parts = [(retrofit(name, airbag + off), None) for name in "ab"]
    found = steps(tuple(item(part, Verdict.GO) for part in parts), *parts)
    told_as = [
        (step.stage, step.items, step.caution) for step in found if told(step) == "Trained people only."
    ]
    assert told_as == [("power-down", ("a", "b"), True)]
    # Near miss: where no power goes off, the danger is at the fitting.
    bare = (retrofit("a", airbag + staged('phase = "fit"\ntext = "Clip it in"')), None)
    (only,) = (step for step in steps((item(bare, Verdict.GO),), bare) if step.caution)
    assert only.stage == "fit"


def test_a_capture_drives_last_and_behind_the_driving_caution() -> None:
    part = (
        retrofit("part", DRIVE.format("Drive") + '[[exercise]]\nrole = "brake-pedal"\ndo = "Press"\n'),
        "drive",
    )
    needs = [need(role, Reason.NO_MARK) for role in ("vehicle-speed", "brake-pedal")]
    before = texts(steps((item(part, Verdict.UNPROVEN, *needs),), part), "before")
    at = [
        next(i for i, text in enumerate(before) if text.startswith(lead))
        for lead in ("brake", "On the road", "vehicle-speed")
    ]
    assert at == sorted(at)


def test_a_wire_is_measured_before_and_joined_with_the_power_off() -> None:
    part = (retrofit("part"), None)
    loaded = job(part)
    wire = Wire.model_validate(
        {
            "role": "reverse-engaged",
            "from": "tail-lamp plug pin 3",
            "expect": "12 V in reverse",
            "fuse": "F18, 10 A",
        }
    )
    wired = replace(loaded, items=(replace(loaded.items[0], wires=(wire,)),))
    found = checklist(wired, (item(part, Verdict.GO),), (), ())
    told_of = [(step.stage, told(step)) for step in found if "by wire" in told(step)]
    assert told_of == [
        (
            "before",
            "reverse-engaged by wire: measure at tail-lamp plug pin 3. Fuse: F18, 10 A. It should read 12 V "
            "in reverse. Measured: ____________",
        ),
        (
            "fit",
            "reverse-engaged by wire: join it at tail-lamp plug pin 3. It hangs on F18, 10 A: check the load "
            "of that fuse with the part on it.",
        ),
    ]
    assert "power-down" in {step.stage for step in found}


def test_a_known_vin_is_compared_on_the_vehicle() -> None:
    part = (retrofit("part"), None)
    known = replace(job(part), identity=VehicleIdentity(vin="ZZZ24000000000017", registration="SK 240"))
    (first, *_) = checklist(known, (item(part, Verdict.GO),), (), ())
    assert told(first) == (
        "Compare the VIN on the vehicle with the job's, sign by sign: ZZZ24000000000017; registration "
        "SK 240. If it differs, stop."
    )
