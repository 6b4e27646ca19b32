"""``netcheck guide [TOPIC]``."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated

import typer

from netcheck.cli._options import Format, FormatOption, OutputOption
from netcheck.cli._output import json_text, look, open_output


def guide_command(
    topic: Annotated[
        str | None, typer.Argument(metavar="TOPIC", help="The page to print. Without it: all topics.")
    ] = None,
    format: FormatOption = Format.TEXT,  # noqa: A002 – the option is called --format
    output: OutputOption = None,
) -> int:
    """Print a page of the guide, or the list of its topics."""
    from netcheck.guide import guide_page, guide_pages
    from netcheck.report.guide import guide_page_text, topics_text

    page = guide_page(topic) if topic is not None else None
    form = look(output)
    with open_output(output) as out:
        if format is Format.JSON:
            pages = [asdict(each) for each in ([page] if page else guide_pages())]
            out.write(json_text({"schema": "netcheck.guide/1", "pages": pages}))
        elif page:
            out.write(guide_page_text(page.text, width=form.width, colour=form.colour))
        else:
            topics = [(each.topic, each.title) for each in guide_pages()]
            out.write(topics_text(topics, width=form.width, colour=form.colour))
    return 0
