"""A page as elements, read by the standard library's parser: structure without a browser."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

VOID = {
    "meta",
    "input",
    "br",
    "hr",
    "img",
    "link",
    "col",
    "rect",
    "path",
    "line",
    "circle",
    "polyline",
    "polygon",
}


@dataclass
class Element:
    """One element with its attributes, children and text."""

    tag: str
    attributes: dict[str, str | None] = field(default_factory=dict)
    children: list[Element] = field(default_factory=list)
    text: str = ""

    def all(self, tag: str = "", **attributes: str) -> list[Element]:
        """Elements below with this tag and these attributes; ``_`` stands for a hyphen."""
        found = []
        for child in self.children:
            named = all(
                child.attributes.get(key.rstrip("_").replace("_", "-")) == value
                for key, value in attributes.items()
            )
            if named and (not tag or child.tag == tag):
                found.append(child)
            found += child.all(tag, **attributes)
        return found

    def one(self, tag: str = "", **attributes: str) -> Element:
        (found,) = self.all(tag, **attributes)
        return found

    @property
    def whole_text(self) -> str:
        return " ".join(" ".join([self.text, *(child.whole_text for child in self.children)]).split())


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open = [Element("document")]

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        names = [name for name, _ in attrs]
        assert len(names) == len(set(names)), f"an attribute twice: {self.get_starttag_text()}"
        element = Element(tag, dict(attrs))
        self.open[-1].children.append(element)
        if tag not in VOID:
            self.open.append(element)

    def handle_startendtag(self, tag: str, attrs: Any) -> None:
        self.open[-1].children.append(Element(tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open[-1].tag == tag, f"</{tag}> closes <{self.open[-1].tag}>"
        self.open.pop()

    def handle_data(self, data: str) -> None:
        self.open[-1].text += data


def tree(html: str) -> Element:
    """The document; fails where an element is closed in the wrong place or not at all."""
    reader = _Reader()
    reader.feed(html)
    reader.close()
    assert [element.tag for element in reader.open] == ["document"], "an element is not closed"
    return reader.open[0]
