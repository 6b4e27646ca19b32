"""What holds for every page, whatever is in it. Without a browser."""

from __future__ import annotations

import base64
import hashlib
import re
from itertools import pairwise

from tests.page.tree import Element, tree


def read(html: str) -> Element:
    """The page, with its elements below it."""
    return tree(html).one("html")


def check_page(html: str) -> Element:
    """What holds for every page; gives its elements."""
    page = read(html)
    everything = page.all()
    ids = [element.attributes["id"] for element in everything if "id" in element.attributes]
    assert len(ids) == len(set(ids))
    for element in everything:
        for name in element.attributes:
            assert not name.startswith("on"), name
            assert name not in {"style", "src", "srcset", "action", "background", "data"}, name
        for name in ("aria-controls", "aria-labelledby", "for"):
            for wanted in (element.attributes.get(name) or "").split():
                assert wanted in ids, (name, wanted)
        for name in ("href", "xlink:href"):
            target = element.attributes.get(name)
            assert target is None or (target.startswith("#") and target[1:] in ids), target
    labelled = {element for one in page.all("label") for element in map(id, one.all("input"))}
    for field in page.all("input"):
        named = "aria-label" in field.attributes or "aria-labelledby" in field.attributes
        assert named or id(field) in labelled
    headings = [element.tag for element in everything if re.fullmatch("h[1-6]", element.tag)]
    assert headings.count("h1") == 1
    for before, after in pairwise(headings):
        assert int(after[1]) <= int(before[1]) + 1, (before, after)
    check_policy(page)
    return page


def check_policy(page: Element) -> None:
    (policy,) = [
        element.attributes["content"]
        for element in page.all("meta")
        if element.attributes.get("http-equiv") == "Content-Security-Policy"
    ]
    rules = dict(rule.strip().split(" ", 1) for rule in (policy or "").split(";"))
    assert rules["default-src"] == rules["base-uri"] == rules["form-action"] == "'none'"
    assert "unsafe" not in (policy or "")
    assert "http" not in (policy or "")
    for key, found in {
        "script-src": [one for one in page.all("script") if one.attributes.get("type") != "application/json"],
        "style-src": page.all("style"),
    }.items():
        assert rules[key].split() == [digest(one.text) for one in found]


def digest(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
