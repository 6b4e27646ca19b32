"""Roles proposed from names, labels and units, in several languages."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.catalogue import roles
from netcheck.database import load_database
from netcheck.files import load_vehicle
from netcheck.find import ClueKind, RoleProposals, propose_roles, signal_comments, with_behaviour
from netcheck.find._names import name_words
from netcheck.find._names_rules import rules
from tests.captures import Frame, hand_made

DEMO = Path(__file__).parents[2] / "dbc"


def proposed(tmp_path: Path, role: str, *signals: str, tail: str = "", message: str = "M1") -> RoleProposals:
    path = tmp_path / "x.dbc"
    path.write_text(
        'VERSION ""\nBU_: X\n'
        + f"BO_ 291 {message}: 8 X\n"
        + "".join(f" SG_ {signal} X\n" for signal in signals)
        + tail
    )
    database = load_database(path, cache=False)
    return propose_roles(database, [role], signal_comments(database, [path]))[0]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("VehSpdAvg_15", ("veh", "spd", "avg", "15")),
        ("KL_15", ("kl15",)),
        ("HandBrakeOn", ("handbrake", "on")),
        ("VEHICLESPEED", ("vehicle", "speed")),
        ("Rückwärtsgang", ("rueckwaertsgang",)),
        ("BREMSE_betätigt", ("bremse", "betaetigt")),
        ("CcButtnOnPress2", ("cc", "buttn", "on", "press", "2")),
    ],
)
def test_words_of_a_name(name: str, words: tuple[str, ...]) -> None:
    assert name_words(name) == words


KMH = '7|16@0+ (0.01,0) [0|250] "km/h"'
BIT = '0|1@1+ (1,0) [0|1] ""'


@pytest.mark.parametrize(
    ("role", "signal"),
    [
        ("vehicle-speed", f"VehSpdAvg : {KMH}"),
        ("vehicle-speed", f"Fahrzeuggeschwindigkeit : {KMH}"),
        ("vehicle-speed", f"VITESSE_VEHICULE : {KMH}"),
        ("vehicle-speed", f"VelocidadVehiculo : {KMH}"),
        ("park-brake", f"Handbremse_aktiv : {BIT}"),
        ("brake-pedal", f"Bremspedal_betaetigt : {BIT}"),
        ("brake-pedal", f"BRAKE_PRESSED : {BIT}"),
        ("clutch-pedal", f"Kupplung_getreten : {BIT}"),
        ("terminal-15", f"Klemme_15 : {BIT}"),
        ("door.driver-open", f"Fahrertuer_offen : {BIT}"),
        ("door.driver-open", f"PORTE_CONDUCTEUR_OUVERTE : {BIT}"),
        ("wheel.volume-up", f"Lenkrad_Lautstaerke_plus : {BIT}"),
        ("steering-angle", 'Lenkradwinkel : 7|16@0- (0.1,0) [-800|800] "deg"'),
        ("engine-speed", 'Motordrehzahl : 7|16@0+ (0.25,0) [0|16000] "1/min"'),
    ],
)
def test_a_name_in_another_language(role: str, signal: str, tmp_path: Path) -> None:
    found = proposed(tmp_path, role, signal)
    assert [it.signal for it in found.proposals] == [signal.split(maxsplit=1)[0]]
    assert found.is_sure == (found.proposals[0].score >= 0.8)
    assert found.proposals[0].clues[0].kind is ClueKind.NAME


@pytest.mark.parametrize(
    ("role", "signal"),
    [
        ("vehicle-speed", f"VehicleSpeedTarget : {KMH}"),
        ("vehicle-speed", f"WheelSpeedFrontLeft : {KMH}"),
        ("vehicle-speed", 'VehicleSpeed : 7|16@0+ (1,0) [0|250] "Nm"'),
        ("brake-pedal", f"BrakePedalFault : {BIT}"),
        ("brake-pedal", 'BrakePedalPosition : 7|16@0+ (1,0) [0|250] "%"'),
        ("park-brake", f"ParkBrakeWarning : {BIT}"),
        ("clutch-pedal", f"AirCondClutch : {BIT}"),
    ],
)
def test_the_nearest_miss_is_not_sure(role: str, signal: str, tmp_path: Path) -> None:
    found = proposed(tmp_path, role, signal)
    assert not found.is_sure
    assert all(it.score < 0.6 for it in found.proposals)


def test_a_label_tells_reverse(tmp_path: Path) -> None:
    labels = 'VAL_ 291 GearLever 0 "GEAR_P" 1 "GEAR_R" 2 "GEAR_N" 15 "SNA" ;\n'
    found = proposed(tmp_path, "reverse-engaged", 'GearLever : 0|4@1+ (1,0) [0|15] ""', tail=labels)
    first = found.proposals[0]
    assert (first.active, first.labels, first.not_available) == ((1,), ("GEAR_R",), (15,))
    assert found.is_sure


def test_a_comment_tells_what_the_name_does_not(tmp_path: Path) -> None:
    comment = 'CM_ SG_ 291 Pressed7 "driver presses the brake pedal";\n'
    assert not proposed(tmp_path, "brake-pedal", f"Pressed7 : {BIT}").proposals
    found = proposed(tmp_path, "brake-pedal", f"Pressed7 : {BIT}", tail=comment)
    assert [clue.kind for clue in found.proposals[0].clues][:2] == [ClueKind.NAME, ClueKind.COMMENT]
    assert not found.is_sure


def test_two_equal_ones_are_not_sure(tmp_path: Path) -> None:
    found = proposed(
        tmp_path, "brake-pedal", f"BrakePressed : {BIT}", 'BrakePedalSwitch : 8|1@1+ (1,0) [0|1] ""'
    )
    assert len(found.proposals) == 2
    assert not found.is_sure


def test_a_role_without_a_rule_is_told(tmp_path: Path) -> None:
    assert proposed(tmp_path, "winch.rope-out", f"Winch : {BIT}") == RoleProposals(
        "winch.rope-out", (), is_known=False
    )


def test_every_role_of_the_vocabulary_has_a_rule() -> None:
    assert set(rules()) == set(roles())


def test_what_a_capture_shows_changes_the_rank(tmp_path: Path) -> None:
    path = tmp_path / "x.dbc"
    path.write_text(
        'VERSION ""\nBU_: X\nBO_ 291 M1: 2 X\n SG_ VehicleSpeed : 0|16@1+ (1,0) [0|250] "km/h" X\n'
        'BO_ 292 M2: 2 X\n SG_ Speed : 0|16@1+ (1,0) [0|250] "km/h" X\n'
        'BO_ 293 M3: 2 X\n SG_ EngineSpeed : 0|16@1+ (1,0) [0|9000] "rpm" X\n'
    )
    database = load_database(path, cache=False)
    frames = [Frame(291, bytes([255, 255])) for _ in range(20)]
    frames += [Frame(292, bytes([n, 0])) for n in range(20)]
    capture = hand_made(frames)
    names = propose_roles(database, ["vehicle-speed", "engine-speed"])
    assert [it.signal for it in names[0].proposals] == ["VehicleSpeed", "Speed"]
    assert names[0].is_sure
    shown = with_behaviour(names, database, [capture])
    assert [(it.signal, it.clues[-1].kind) for it in shown[0].proposals] == [
        ("Speed", ClueKind.MOVES),
        ("VehicleSpeed", ClueKind.OUT_OF_RANGE),
    ]
    assert shown[1].proposals[0].clues[-1].kind is ClueKind.NOT_SEEN


def test_the_demo_van_is_known_by_its_names() -> None:
    """Its file was written without these rules: 61 of 75 first right, none wrong and sure."""
    vehicle = load_vehicle(DEMO / "skerry_240.vehicle.toml")
    right = wrong = there = 0
    for network in vehicle.model.network:
        database = load_database(*vehicle.dbc_paths(network), cache=False)
        for found in propose_roles(database, roles()):
            wanted = {
                (source.message, source.signal)
                for source in vehicle.model.role.get(found.role, ())
                if source.network == network
            }
            first = (found.proposals[0].message, found.proposals[0].signal) if found.proposals else None
            there += bool(wanted)
            right += first in wanted
            wrong += bool(wanted) and found.is_sure and first not in wanted
    assert wrong == 0
    assert right >= 0.8 * there, (right, there)
