"""A drawing of the vehicle's networks: control units above each network, the parts of the job below.

The place of each shape is counted out from top to bottom, so a drawing is the same every time. What has no
room is counted. Shapes and line styles tell kinds apart, and everything is drawn in the colour of the text:
a print in grey or a dark screen loses nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import field
from typing import Final

from markupsafe import Markup

from netcheck.page._document import fragment
from netcheck.records import dataclass
from netcheck.report.viewing import (
    APART,
    GIVING,
    MAP_KEYS,
    UNTAPPED,
    balance_state,
    broken,
    givers_text,
    map_text,
    module_fate,
    module_title,
    more_text,
    network_title,
    part_lines,
    takers_text,
)
from netcheck.work import MappedModule, MappedNetwork, MappedPart, NetworkMap

WIDTH: Final = 960  # of the drawing, in its own units; a letter of its text is 12 of them high
MOST_NETWORKS: Final = 12
MOST_MODULES: Final = 12  # of a network
MOST_PARTS: Final = 9  # of a network
MOST_RESOURCES: Final = 12
MOST_LINES: Final = 3  # of a text in a part's box
_WIDE: Final = frozenset("MWmw@%—…")
_CELL: Final = 7.4  # the widest that a usual letter is
_LINE: Final = 16
_PAD: Final = 8
_EDGE: Final = 16
_GAP: Final = 18
_JOINING: Final = 150  # width of a module that joins networks


@dataclass(frozen=True)
class DrawnBox:
    """A rectangle. kind: module, part, gone, or more for what there is no room for"""

    x: float
    y: float
    width: float
    height: float
    kind: str


@dataclass(frozen=True)
class DrawnLine:
    """A line. kind: network, stub, enough, unknown or missing"""

    points: tuple[tuple[float, float], ...]
    kind: str

    @property
    def path(self) -> str:
        """As SVG has it."""
        return "M" + " L".join(f"{x:g} {y:g}" for x, y in self.points)


@dataclass(frozen=True)
class DrawnText:
    """A line of text by its left end and foot, or by its middle. kind: title, label or plain

    room: how wide it may be
    """

    x: float
    y: float
    text: str
    room: float
    kind: str = "plain"
    is_centred: bool = False

    @property
    def squeezed(self) -> float | None:
        """How wide it is to be drawn; None where its letters have room as they are, by a guess."""
        wide = sum(11.5 if sign in _WIDE else 9.0 if sign.isupper() else 6.8 for sign in self.text)
        wide *= 1.04 if self.kind != "plain" else 1.0
        return self.room if wide > self.room else None


@dataclass
class _Sheet:
    """Shapes so far, and how far down the next one begins. left: where networks begin"""

    left: float
    y: float = _EDGE
    boxes: list[DrawnBox] = field(default_factory=list)
    lines: list[DrawnLine] = field(default_factory=list)
    texts: list[DrawnText] = field(default_factory=list)
    dots: list[tuple[float, float]] = field(default_factory=list)

    @property
    def width(self) -> float:
        """From where networks begin to the right edge."""
        return WIDTH - _EDGE - self.left

    def heading(self, text: str) -> None:
        """A title of its own, below what is there."""
        for line in broken(text, int(self.width / _CELL)):
            self.y += _LINE
            self.texts.append(DrawnText(self.left, self.y, line, self.width, "title"))
        self.y += 6

    def box(
        self, x: float, y: float, width: float, height: float, kind: str, texts: Sequence[tuple[str, str]]
    ) -> None:
        """A box with lines of text, each with its kind."""
        self.boxes.append(DrawnBox(x, y, width, height, kind))
        for number, (text, text_kind) in enumerate(texts):
            foot = y + _PAD + 12 + number * _LINE
            self.texts.append(DrawnText(x + _PAD, foot, text, width - 2 * _PAD, text_kind))


def network_drawing(networks: NetworkMap) -> Markup:
    """The drawing as an element of HTML; "" where there is no network."""
    if not networks.networks:
        return Markup("")
    joining = networks.joining[:1]
    sheet = _Sheet(_EDGE + (_JOINING + 3 * _GAP if joining else _GAP / 2))
    shown = networks.networks[:MOST_NETWORKS]
    feet = {network.name: _draw_network(sheet, network, networks.joining[1:]) for network in shown}
    for module in joining:
        _draw_joining(sheet, module, [feet[name] for name in module.networks if name in feet])
    if len(networks.networks) > len(shown):
        sheet.heading(more_text(len(networks.networks) - len(shown), "network"))
    if networks.apart:
        sheet.heading(APART)
        _draw_modules(sheet, networks.apart)
        sheet.y += _GAP
    if networks.untapped:
        sheet.heading(UNTAPPED)
        _draw_parts(sheet, networks.untapped, None)
    _draw_resources(sheet, networks)
    _draw_keys(sheet)
    return fragment(
        "drawing.svg.j2",
        {
            "width": WIDTH,
            "height": round(sheet.y + _EDGE),
            "told": map_text(networks),
            "boxes": sheet.boxes,
            "lines": sheet.lines,
            "texts": sheet.texts,
            "dots": sheet.dots,
        },
    )


def _draw_network(sheet: _Sheet, network: MappedNetwork, joining: Sequence[MappedModule]) -> float:
    """A network with its modules above and its parts below; gives the height of its line."""
    sheet.heading(network_title(network))
    modules = [*(module for module in joining if network.name in module.networks), *network.modules]
    ends = _draw_modules(sheet, modules)
    sheet.y += _GAP
    foot = sheet.y
    for x, y, is_side in ends:
        side = ((x, y), (x - _GAP / 2, y), (x - _GAP / 2, foot))
        sheet.lines.append(DrawnLine(side if is_side else ((x, y), (x, foot)), "stub"))
    sheet.lines.append(DrawnLine(((sheet.left - _GAP / 2, foot), (WIDTH - _EDGE, foot)), "network"))
    sheet.y += _GAP
    _draw_parts(sheet, network.parts, foot)
    sheet.y += _GAP / 2
    return foot


def _draw_modules(sheet: _Sheet, modules: Sequence[MappedModule]) -> list[tuple[float, float, bool]]:
    """Boxes in rows; gives where the line of each goes out: below, or on its left above the last row."""
    shown = modules if len(modules) <= MOST_MODULES else modules[: MOST_MODULES - 1]
    most = 5 if sheet.width > 800 else 4
    count = min(len(modules), MOST_MODULES)
    columns = max(-(-count // -(-count // most)), 3) if count else 1
    width = (sheet.width - (columns - 1) * _GAP) / columns
    boxes = [_module_lines(module, width) for module in shown]
    if len(shown) < len(modules):
        boxes.append(("more", _cut(more_text(len(modules) - len(shown), "control unit"), width, 3)))
    ends = []
    rows = [boxes[start : start + columns] for start in range(0, len(boxes), columns)]
    for number, row in enumerate(rows):
        height = 2 * _PAD + _LINE * max(len(lines) for _, lines in row) - 2
        for column, (kind, lines) in enumerate(row):
            x = sheet.left + column * (width + _GAP)
            texts = [(line, "label" if kind == "module" else "plain") for line in lines]
            sheet.box(x, sheet.y, width, height, kind, texts)
            is_last = number == len(rows) - 1
            ends.append(
                (x + width / 2, sheet.y + height, False) if is_last else (x, sheet.y + height / 2, True)
            )
        sheet.y += height + (0 if number == len(rows) - 1 else _GAP / 2)
    return ends


def _module_lines(module: MappedModule, width: float) -> tuple[str, list[str]]:
    lines = _cut(module_title(module), width, 2)
    if module.replaced_by:
        return "gone", [*lines, *_cut(module_fate(module), width, 3)]
    return "module", lines


def _draw_parts(sheet: _Sheet, parts: Sequence[MappedPart], foot: float | None) -> None:
    """Boxes in rows below a network's line, each with its tap; foot: where that line is."""
    columns = min(max(len(parts), 2), 3)
    width = (sheet.width - (columns - 1) * _GAP) / columns
    shown = parts if len(parts) <= MOST_PARTS else parts[: MOST_PARTS - 1]
    boxes = [("part", list(_part_texts(part, width))) for part in shown]
    if len(shown) < len(parts):
        boxes.append(("more", [(more_text(len(parts) - len(shown), "part"), "plain")]))
    for number, start in enumerate(range(0, len(boxes), columns)):
        row = boxes[start : start + columns]
        height = 2 * _PAD + _LINE * max(len(texts) for _, texts in row) - 2
        for column, (kind, texts) in enumerate(row):
            x = sheet.left + column * (width + _GAP)
            sheet.box(x, sheet.y, width, height, kind, texts)
            if foot is not None and kind == "part":
                _draw_tap(sheet, x if number else x + width / 2, foot, is_side=number > 0)
        sheet.y += height + _GAP


def _draw_tap(sheet: _Sheet, x: float, foot: float, *, is_side: bool) -> None:
    """The line from a network to the box that begins at the sheet's height; on its left in a later row."""
    if not is_side:
        sheet.lines.append(DrawnLine(((x, foot), (x, sheet.y)), "stub"))
        sheet.dots.append((x, foot))
        return
    side, height = x - _GAP / 2, sheet.y + 2 * _LINE
    sheet.lines.append(DrawnLine(((side, foot), (side, height), (x, height)), "stub"))
    sheet.dots.append((side, foot))


def _part_texts(part: MappedPart, width: float) -> Iterator[tuple[str, str]]:
    for line in _cut(part.title, width, 2):
        yield line, "title"
    for label, names in part_lines(part):
        for line in _cut(label, width, 2):
            yield line, "label"
        for line in _cut_names(names, width):
            yield line, "plain"


def _draw_joining(sheet: _Sheet, module: MappedModule, feet: Sequence[float]) -> None:
    """The module that joins networks: a box on the left, as high as they reach."""
    if not feet:
        return
    kind, lines = _module_lines(module, _JOINING)
    top = min(feet) - _LINE * len(lines) - _PAD
    height = max(feet) - top + 2 * _PAD
    sheet.box(_EDGE, top, _JOINING, height, kind, [(line, "label") for line in lines])
    for foot in feet:
        sheet.lines.append(DrawnLine(((_EDGE + _JOINING, foot), (sheet.left - _GAP / 2, foot)), "network"))


def _draw_resources(sheet: _Sheet, networks: NetworkMap) -> None:
    """Givers on the left, takers on the right, and a line of its own for each resource between them."""
    balances, verdicts = networks.resources, networks.verdicts
    if not balances:
        return
    sheet.heading(GIVING)
    width = (sheet.width - 2 * _GAP) / 3
    for balance in balances[:MOST_RESOURCES]:
        sides = [_cut(givers_text(balance, verdicts), width, 3), _cut(takers_text(balance), width, 3)]
        height = 2 * _PAD + _LINE * max(2, *map(len, sides)) - 2
        giver = "part" if balance.given else "module" if balance.stated is not None else "more"
        for column, box_kind, lines in zip((0, 2), (giver, "part"), sides, strict=True):
            x = sheet.left + column * (width + _GAP)
            sheet.box(x, sheet.y, width, height, box_kind, [(line, "plain") for line in lines])
        _, _, state = balance_state(balance, verdicts)
        kind = "missing" if balance.gap else "enough" if balance.is_known else "unknown"
        begin, end = sheet.left + width, sheet.left + 2 * (width + _GAP)
        middle, y, room = (begin + end) / 2, sheet.y + height / 2, end - begin - 2 * _PAD
        sheet.lines.append(DrawnLine(((begin, y), (end - 2, y)), kind))
        for text, foot, text_kind in ((balance.resource, y - 6, "label"), (state, y + 16, "plain")):
            line = _cut(text, end - begin, 1)[0]
            sheet.texts.append(DrawnText(middle, foot, line, room, text_kind, is_centred=True))
        sheet.y += height + _GAP / 2
    if len(balances) > MOST_RESOURCES:
        sheet.heading(more_text(len(balances) - MOST_RESOURCES, "resource"))


def _draw_keys(sheet: _Sheet) -> None:
    """What the shapes mean, as many in a line as there is room for."""
    sheet.y += _GAP
    x, left = float(_EDGE), float(_EDGE)
    for kind, text in MAP_KEYS:
        wide = 34 + 8 + _CELL * len(text) + _GAP
        if x > left and x + wide > WIDTH - _EDGE:
            x, sheet.y = left, sheet.y + 1.6 * _LINE
        middle = sheet.y + 8
        if kind in {"network", "tap"}:
            sheet.lines.append(DrawnLine(((x, middle), (x + 34, middle)), "network"))
            if kind == "tap":
                sheet.dots.append((x + 17, middle))
        else:
            sheet.boxes.append(DrawnBox(x, sheet.y, 34, 16, kind))
        sheet.texts.append(DrawnText(x + 42, sheet.y + 12, text, wide - 42))
        x += wide
    sheet.y += _LINE


def _cut(text: str, width: float, most: int) -> list[str]:
    """The text in lines that fit a box of that width, the last one cut where there are more."""
    room = int((width - 2 * _PAD) / _CELL)
    lines = [
        line if len(line) <= 3 * room // 2 else f"{line[: 3 * room // 2]} …" for line in broken(text, room)
    ]
    if len(lines) <= most:
        return lines
    return [*lines[: most - 1], f"{lines[most - 1][: room - 2]} …"]


def _cut_names(names: Sequence[str], width: float) -> list[str]:
    """Names in a few lines that fit a box of that width, and how many have no room."""
    room = int((width - 2 * _PAD) / _CELL)
    for shown in range(len(names), 0, -1):
        more = [more_text(len(names) - shown, "")] if shown < len(names) else []
        if len(broken(", ".join([*names[:shown], *more]), room)) <= MOST_LINES or shown == 1:
            return _cut(", ".join([*names[:shown], *more]), width, MOST_LINES)
    return []
