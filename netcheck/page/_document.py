"""A page as one file: templates with every value escaped, scripts and styles inside, named by their digests.

The content security policy lets run what is named in it and nothing else, and no page loads anything: what a
hostile name could smuggle in stays text. W3C, Content Security Policy Level 3, hash-source.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any, Final

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from netcheck.words import clean

_FOLDER: Final = Path(__file__).parent
REPORT_SCHEMA: Final = "netcheck.report/1"
UPLOT: Final = "uplot-1.6.32"  # draws the charts; MIT licence, its text stands beside it and in each page
_IN_SCRIPTS: Final = {"<": "\\u003c", ">": "\\u003e", "&": "\\u0026"}  # nothing that ends a script element


def render(template: str, data: Mapping[str, Any], values: Mapping[str, Any], scripts: Sequence[str]) -> str:
    """A page from its template.

    data:    what the scripts of the page read, as JSON
    values:  what the template reads; texts are cleaned and escaped, but for ``Markup``
    scripts: names of the scripts of our own that it runs; "charts" brings its library along
    """
    has_charts = "charts" in scripts
    styles = [*([_asset(f"{UPLOT}.min.css")] if has_charts else []), _asset("page.css")]
    sources = [
        *([_asset(f"{UPLOT}.iife.min.js")] if has_charts else []),
        *(_asset(f"{name}.js") for name in scripts),
    ]
    # The styles and scripts are our own files, and the JSON has no sign that HTML reads.
    return (
        _environment()
        .get_template(template)
        .render(
            **values,
            has_charts=has_charts,
            policy=policy(sources, styles),
            styles=[Markup(style) for style in styles],
            scripts=[Markup(source) for source in sources],
            data=Markup(island(data)),
        )
    )


def fragment(template: str, values: Mapping[str, Any]) -> Markup:
    """A piece of a page from its template; texts are cleaned and escaped."""
    return Markup(_environment().get_template(template).render(**values))


def policy(scripts: Sequence[str], styles: Sequence[str]) -> str:
    """The content security policy of a page: these scripts and styles inside it, nothing from outside."""
    return "; ".join(
        [
            "default-src 'none'",
            f"script-src {' '.join(map(_digest, scripts))}",
            f"style-src {' '.join(map(_digest, styles))}",
            "base-uri 'none'",
            "form-action 'none'",
        ]
    )


def island(data: Mapping[str, Any]) -> str:
    """Data as JSON that may stand in an element of HTML: no sign in it opens or ends one."""
    text = json.dumps(data, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    for sign, code in _IN_SCRIPTS.items():
        text = text.replace(sign, code)
    return text


def _digest(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def _asset(name: str) -> str:
    return (_FOLDER / "assets" / name).read_text(encoding="utf-8").strip()


@cache
def _environment() -> Environment:
    return Environment(
        loader=FileSystemLoader(_FOLDER / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        finalize=_shown,
    )


def _shown(value: Any) -> Any:
    """Names and texts of others: signs that act upon a screen or turn the direction of writing show."""
    return clean(value) if isinstance(value, str) and not isinstance(value, Markup) else value
