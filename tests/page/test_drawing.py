"""The drawing of a vehicle's networks: nothing lies on anything else, nothing is left out without a word."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from itertools import combinations, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import netcheck
from netcheck.page import network_drawing
from netcheck.plan import make_plan
from netcheck.verdict import ResourceBalance, ResourceShare, Status
from netcheck.work import MappedModule, MappedNetwork, MappedPart, NetworkMap, TakenSignals
from tests.page.hostile import ATTACKS
from tests.test_demo import SAMPLE_LOGS

SVG = "{http://www.w3.org/2000/svg}"


def drawn(networks: NetworkMap) -> ET.Element:
    return ET.fromstring(str(network_drawing(networks)))


def texts(svg: ET.Element) -> list[str]:
    return [node.text or "" for node in svg.iter(f"{SVG}text")]


def boxes(svg: ET.Element) -> list[tuple[float, float, float, float]]:
    sides = [
        [float(node.attrib[key]) for key in ("x", "y", "width", "height")] for node in svg.iter(f"{SVG}rect")
    ]
    return [(x, y, x + width, y + height) for x, y, width, height in sides]


def module(name: str, *networks: str, replaced_by: tuple[str, ...] = ()) -> MappedModule:
    return MappedModule(name, "", networks, replaced_by)


def part(name: str, network: str | None, roles: tuple[str, ...] = ("terminal-15",)) -> MappedPart:
    return MappedPart(name, name, network, "", (TakenSignals(roles, network, Status.SHOWN),), (), (), ())


def network(name: str, modules: int = 0, parts: int = 0, text: str = "unit") -> MappedNetwork:
    return MappedNetwork(
        name,
        500_000,
        None,
        tuple(module(f"{text} {number}", name) for number in range(modules)),
        tuple(part(f"part {number}", name) for number in range(parts)),
    )


NAMES = st.sampled_from(["body", "drive", "W" * 60, "a long name of a control unit for the seats", *ATTACKS])


@st.composite
def maps(draw: st.DrawFn) -> NetworkMap:
    names = draw(st.lists(NAMES, min_size=1, max_size=4, unique=True))
    networks = tuple(
        network(name, draw(st.integers(0, 14)), draw(st.integers(0, 11)), draw(NAMES)) for name in names
    )
    joining = (module("gateway", *names),) if len(names) > 1 and draw(st.booleans()) else ()
    shares = (ResourceShare(draw(NAMES), 1),)
    balances = tuple(
        ResourceBalance(draw(NAMES), draw(st.sampled_from([None, 0, 2])), (), (), shares)
        for _ in range(draw(st.integers(0, 3)))
    )
    return NetworkMap(networks, joining, resources=balances, untapped=(part("loose", None),))


@settings(max_examples=12, deadline=None)
@given(networks=maps())
def test_no_box_lies_on_another_and_all_of_them_on_the_sheet(networks: NetworkMap) -> None:
    svg = drawn(networks)
    _, _, width, height = map(float, svg.attrib["viewBox"].split())
    found = boxes(svg)
    for left, top, right, bottom in found:
        assert 0 <= left < right <= width
        assert 0 <= top < bottom <= height
    for one, other in combinations(found, 2):
        assert one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]


@settings(max_examples=12, deadline=None)
@given(networks=maps())
def test_no_line_of_text_lies_on_another(networks: NetworkMap) -> None:
    svg = drawn(networks)
    columns: dict[str, list[float]] = {}
    for node in svg.iter(f"{SVG}text"):
        columns.setdefault(node.attrib["x"], []).append(float(node.attrib["y"]))
    for heights in columns.values():
        assert all(low - high >= 13 for high, low in pairwise(sorted(heights)))


@pytest.mark.parametrize("name", sorted(SAMPLE_LOGS.glob("*.job.toml")), ids=lambda path: path.name)
def test_each_network_module_and_part_of_a_job_is_drawn_and_told(name) -> None:
    plan = make_plan(netcheck.load_job(name))
    svg = drawn(plan.networks)
    shown, told = " ".join(texts(svg)), (svg.find(f"{SVG}desc").text or "")  # type: ignore[union-attr]
    for one in plan.networks.networks:
        assert f"{one.name}, " in shown
        for unit in one.modules:
            assert (unit.title or unit.name) in shown
            assert (unit.title or unit.name) in told
    for item in plan.items:
        assert item.title in shown
        assert item.title in told
        for need in item.needs:
            assert need.role in told


def test_what_there_is_no_room_for_is_counted() -> None:
    many = NetworkMap((network("body", modules=30, parts=20),))
    shown = " ".join(texts(drawn(many)))
    assert "and 19 more control units" in shown
    assert "and 12 more parts" in shown
    crowd = NetworkMap(tuple(network(f"n{number}") for number in range(15)))
    assert "and 3 more networks" in " ".join(texts(drawn(crowd)))
    roles = tuple(f"role-{number}.of-a-long-name" for number in range(40))
    one = NetworkMap((MappedNetwork("body", 500_000, None, (), (part("camera", "body", roles),)),))
    said = " ".join(texts(drawn(one)))
    named = sum(role in said.replace(",", " ").split() for role in roles)
    assert 0 < named < 40
    assert f"and {40 - named} more" in said


def test_a_drawing_is_as_large_as_what_it_shows_however_large_the_vehicle() -> None:
    vehicle = NetworkMap(tuple(network(f"n{number}", 400, 100) for number in range(50)))
    assert len(boxes(drawn(vehicle))) < 12 * (12 + 9) + 10


def test_colour_tells_nothing_and_no_style_is_needed() -> None:
    replaced = module("radio", "body", replaced_by=("head-unit",))
    networks = NetworkMap((MappedNetwork("body", 500_000, None, (replaced,), (part("head-unit", "body"),)),))
    text = str(network_drawing(networks))
    painted = set(re.findall(r' (?:fill|stroke)="([^"]*)"', text))
    assert painted == {"none", "currentColor"}
    assert " style=" not in text
    gone, fitted = (svg_box for svg_box in list(drawn(networks).iter(f"{SVG}rect"))[:2])
    assert gone.attrib["stroke-dasharray"]
    assert "stroke-dasharray" not in fitted.attrib
    assert "goes away: head-unit replaces it" in " ".join(texts(drawn(networks)))


def test_hostile_names_stay_text() -> None:
    networks = NetworkMap(
        tuple(
            MappedNetwork(attack, 500_000, None, (module(attack, attack),), (part(attack, attack),))
            for attack in ATTACKS
        )
    )
    tags = {node.tag.removeprefix(SVG) for node in drawn(networks).iter()}
    assert tags <= {"svg", "title", "desc", "defs", "marker", "path", "g", "rect", "circle", "text"}
    assert "onload" not in {key for node in drawn(networks).iter() for key in node.attrib}


def test_it_is_the_same_every_time_and_nothing_without_a_network() -> None:
    networks = NetworkMap((network("body", 7, 4), network("drive", 3, 1)))
    assert network_drawing(networks) == network_drawing(networks)
    assert network_drawing(NetworkMap()) == ""
