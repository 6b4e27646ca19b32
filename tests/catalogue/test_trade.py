"""What the trade asks of each retrofit, point by point: what goes missing turns this red.

Each row is a point, the retrofit, the kind of entry, and a pattern that some entry of that kind matches.
"""

from __future__ import annotations

import re

import pytest

from netcheck.catalogue import load_retrofit
from netcheck.files import Retrofit

# point, retrofit, kind of entry (its phase or its table), pattern
POINTS = [
    ("lamp lights on reverse and goes out on press", "park-distance", "prove",
     "lamp lights when reverse is selected, and goes out when the switch is pressed"),
    ("trailer with reverse: the rear is silent", "park-distance", "prove",
     "reverse selected. The rear stays silent, the front still warns"),
    ("tow bar: the trailer signal is needed", "park-distance", "need", "trailer-coupled .*tow-bar.*yes"),
    ("sensor height, angle, spacing", "park-distance", "before", "height .* angle .* spacing"),
    ("up mark", "park-distance", "fit", "up mark upwards"),
    ("paint thickness in all", "park-distance", "before", "paint thickness .* all coats together"),
    ("behind the skin", "park-distance", "before",
     "radar .* crash foam, the hose of the pedestrian protection, headlamp washers"),
    ("a sensor unplugged", "park-distance", "prove", "Unplug one sensor .* fault tone"),
    ("distances move within 200 ms", "park-distance", "prove", "at least every 200 ms"),
    ("distances move within 200 ms, at the display", "head-unit", "need", "park.rear-left-inner .*moves 200"),
    ("a gloss panel", "park-distance", "fit", "Sensors cut into a gloss panel"),
    ("display of distances", "park-distance", "code", "cluster.park_display"),
    ("the switch is a part of its own", "parking-switch", "use", "parking-switch-way"),
    ("the switch is a part of its own", "park-distance", "use", "parking-switch optional"),
    ("the switch is read by its panel", "parking-switch", "code", "body.park_switch"),
    ("the stalk takes the trip stalk's place", "cruise-stalk", "replace", "trip.up"),
    ("the stalk takes the trip stalk's place", "cruise-stalk", "replace", "trip.reset"),
    ("the engine module needs the brake", "cruise-stalk", "need", "brake-pedal .*engine"),
    ("the engine module needs the speed", "cruise-stalk", "need", "vehicle-speed .*engine"),
    ("the engine module needs the clutch", "cruise-stalk", "need", "clutch-pedal .*engine .*manual"),
    ("stability control is a release", "cruise-stalk", "need", "stability-intervening .*engine"),
    ("never relax a release", "cruise-stalk", "caution motion", "Never bridge, delay or simulate"),
    ("brake at least three times", "cruise-stalk", "prove", "at least three times"),
    ("brake marks: at least three", "cruise-stalk", "exercise",
     "brake-pedal .*three times, each marked by itself"),
    ("brake at least three times", "cruise-stalk", "prove", "light touch .* three times"),
    ("existing limiter", "cruise-stalk", "before", "Speed limiter: read its present setting"),
    ("existing limiter", "cruise-stalk", "prove", "limiter still holds the speed"),
    ("brake contact open-circuit", "cruise-stalk", "prove", "open-circuit one brake contact"),
    ("what the cluster shows, photographed", "cruise-stalk", "prove", "Photograph the cluster"),
    ("airbag kept", "wheel-buttons", "before", "Airbag unit kept: .* fixing and plugs"),
    ("airbag exchanged", "wheel-buttons", "before", "Airbag unit exchanged: .* fixing and plugs"),
    ("button layout", "wheel-buttons", "before", "button layout"),
    ("spline", "wheel-buttons", "before", "Spline"),
    ("centre bolt new", "wheel-buttons", "before", "new centre bolt"),
    ("centre bolt torqued", "wheel-buttons", "fit", "new centre bolt, .*torque wrench"),
    ("steering-angle zero and stability lamp", "wheel-buttons", "prove", "zero .* stability lamp is out"),
    ("heated rim", "wheel-buttons", "before", "Heated rim"),
    ("heated rim", "wheel-buttons", "use", "slip-ring-way .*wheel.heated-rim"),
    ("number of slip-ring ways", "wheel-buttons", "use", "slip-ring-way 8"),
    ("the trip rocker that the wheel takes over", "wheel-buttons", "code", "column.trip_rocker"),
    ("distance display protocol", "head-unit", "before", "Distances: .* protocol"),
    ("display of distances given", "head-unit", "provide", "distance-display"),
    ("camera input format", "head-unit", "before", "Camera inputs: note the format"),
    ("reverse and park brake by wire", "head-unit", "before", r"by wire, reverse and park brake first"),
    ("reverse and park brake by wire", "head-unit", "fit", "Reverse and park brake by wire"),
    ("microphone", "head-unit", "fit", "Microphone: "),
    ("digital-radio aerial", "head-unit", "before", "Digital radio needs an aerial"),
    ("digital-radio aerial", "head-unit", "use", "digital-aerial"),
    ("clock and temperature", "head-unit", "before", "clock and outside temperature"),
    ("door behaviour", "head-unit", "prove", "Door and key"),
    ("cranking behaviour", "head-unit", "prove", "Cranking"),
    ("radio type", "head-unit", "code", "gateway.radio_type"),
    ("hitch view chosen before coupling", "reversing-camera", "prove", "chooses it before coupling"),
    ("guide lines on measured marks", "reversing-camera", "prove", "mark the ground at a measured"),
    ("HD analogue formats", "reversing-camera", "use", "video-in-hd-analogue"),
    ("matched to the job's head unit", "reversing-camera", "before", "what this job's display takes"),
    ("camera entry", "reversing-camera", "code", "gateway.reversing_camera_module"),
    ("tailgate lead", "dash-camera", "fit", "through the tailgate in its own grommet"),
    ("front and rear", "dash-camera", "prove", "front and rear"),
    ("link to the head unit", "dash-camera", "use", "video-in-cvbs"),
    ("parked mode and its drain", "dash-camera", "before", "Parked mode: drain in mA"),
    ("fuse tap loads", "dash-camera", "fit", "fuse tap .* load at most 80 %"),
    ("law on recording", "dash-camera", "caution law", "Local law governs the recording"),
    ("lighter socket removed, feed insulated", "media-socket", "fit", "Insulate its live feed"),
    ("other users of the fuse", "media-socket", "before", "what else hangs on it"),
    ("HDMI and projection exclude each other", "media-socket", "exclude", "hdmi-in projection"),
    ("interlock asks for parked", "media-socket", "prove", "selector in P, and standing"),
    ("interlock asks for parked", "media-socket", "need", "park-brake .*manual"),
    ("interlock asks for parked", "media-socket", "need", "selector-park .*automatic"),
    ("interlock comes from a part", "media-socket", "use", "parked-interlock"),
    ("fuse at the battery", "amplifier", "fit", "within 30 cm of the battery, rated for the cable"),
    ("fuse at the battery", "amplifier", "caution fire", "without a fuse at the battery"),
    ("ground and battery sensor", "amplifier", "fit", "Where a battery sensor sits"),
    ("start-stop voltage", "amplifier", "before", "Start-stop"),
    ("wire size by load and length", "amplifier", "before", "0.02 × current × length ÷ drop"),
    ("airbag plugs under seats", "amplifier", "fit", "Under a seat: airbag plugs"),
    ("amplifier entry", "amplifier", "code", "gateway.amplifier_module"),
    ("front", "speakers", "fit", "Front: "),
    ("rear", "speakers", "fit", "Rear: "),
    ("crossover", "speakers", "before", "Crossover"),
    ("polarity", "speakers", "fit", "Polarity: plus to plus"),
    ("impedance", "speakers", "before", "impedance"),
    ("subwoofer under a seat", "speakers", "fit", "Airbag plugs under the seat stay untouched"),
    ("amplifier set-up", "speakers", "prove", "Crossovers and amplifier: set high-pass"),
    ("door pressure sensors", "sound-deadening", "before", "pressure sensors in the door"),
    ("drain holes", "sound-deadening", "fit", "never the drain holes"),
    ("membrane", "sound-deadening", "fit", "Membrane: seal it all round"),
    ("projection", "projection-usb", "use", "projection"),
    ("data port", "projection-usb", "use", "usb-port"),
    ("jacking and stands", "park-distance", "caution jack", "on stands at the maker's points"),
    ("seats with airbags", "speakers", "caution airbag", "Seats with side airbags"),
    ("drilling", "park-distance", "caution tools", "Before you drill or cut"),
    ("hot work", "sound-deadening", "caution heat", "hot work"),
    ("solvents and glue cure", "sound-deadening", "caution solvents", "cure time"),
    ("sharp edges", "sound-deadening", "caution tools", "edges .* are sharp"),
    ("high-current fuse", "amplifier", "fit", "Only insert it at power-up"),
]  # fmt: skip


def entries(retrofit: Retrofit, kind: str) -> list[str]:
    """The entries of a kind, a line of text each."""
    table, _, danger = kind.partition(" ")
    if table == "need":
        return [
            f"{need.role} {need.evidence} {need.max_delay_ms or 0:g} {need.used_by} {need.only_if}"
            for need in retrofit.need
        ]
    if table == "use":
        return [
            f"{use.resource} {'optional ' if use.optional else ''}{use.count} {use.only_if}"
            for use in retrofit.use
        ]
    if table == "code":
        return [f"{code.module}.{code.field}" for code in retrofit.code if code.optional]
    if table == "replace":
        return [entry.role or entry.module or entry.resource or "" for entry in retrofit.replace]
    if table == "provide":
        return [entry.resource for entry in retrofit.provide]
    if table == "exclude":
        return [" ".join(entry.resources) for entry in retrofit.exclude]
    if table == "exercise":
        return [f"{exercise.role} {exercise.do}" for exercise in retrofit.exercise]
    if table == "caution":
        return [entry.text for entry in retrofit.caution if entry.danger == danger]
    return [step.text for step in retrofit.step if step.phase == kind]


@pytest.mark.parametrize(("point", "name", "kind", "pattern"), POINTS)
def test_what_the_trade_asks_for_is_there(point: str, name: str, kind: str, pattern: str) -> None:
    found = entries(load_retrofit(name)[0], kind)
    assert any(re.search(pattern, text) for text in found), (point, found)


def test_no_check_of_lamps_while_the_battery_is_off() -> None:
    """Indicators and wipers are tried once the power is back."""
    for step in load_retrofit("cruise-stalk")[0].step:
        assert step.phase == "prove" or not re.search(r"indicators|wipers", step.text.lower())


def test_the_wire_formula_takes_copper_at_60_degrees() -> None:
    """IEC 60028: 0.017241 Ω·mm²/m at 20 °C, 0.393 % more for each degree."""
    (text,) = [step.text for step in load_retrofit("amplifier")[0].step if "Area in mm²" in step.text]
    said = float(re.search(r"mm² = ([\d.]+) ×", text)[1])  # type: ignore[index]
    assert said == pytest.approx(0.017241 * (1 + 0.00393 * 40), rel=0.01)


def test_who_gives_what_to_whom() -> None:
    """The chain of a whole job: what a part takes another shipped part gives, or the vehicle has."""
    names = (
        "amplifier", "dash-camera", "head-unit", "media-socket", "park-distance", "parking-switch",
        "projection-usb", "reversing-camera", "speakers", "wheel-buttons",
    )  # fmt: skip
    parts = [load_retrofit(name)[0] for name in names]
    given = {entry.resource for part in parts for entry in part.provide}
    taken = {entry.resource for part in parts for entry in part.use}
    assert taken - given == {"digital-aerial", "fused-supply", "slip-ring-way"}
