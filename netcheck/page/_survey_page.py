"""The page of a survey: every message of every channel, to sort, with its bytes over time."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from netcheck.network import Survey
from netcheck.page._document import REPORT_SCHEMA, render
from netcheck.report.onsite import survey_json
from netcheck.traces import CaptureHeat, MessageHeat


def survey_page(survey: Survey, heat: CaptureHeat) -> str:
    """The page of one capture as HTML."""
    told = survey_json(survey)
    strips = {(one.channel, str(one.frame_id)): number for number, one in enumerate(heat.messages)}
    for channel in told["channels"]:
        for message in channel["messages"]:
            message["heat"] = strips.get((channel["channel"], message["id"]))
            message["kinds"] = _kinds(message)
    told["file"] = Path(survey.file).name  # a page is passed on: no folders of this computer
    values = {"survey": told, "left_out": heat.left_out, "column_s": heat.column_s}
    data = {"column": heat.column_s, "messages": [_picture(one) for one in heat.messages]}
    return render("survey.html.j2", data, values, ["heat", "sort"])


def survey_report_json(survey: Survey, heat: CaptureHeat) -> dict[str, Any]:
    """The same for scripts: the survey, and the pictures row by row, base64."""
    pictures = [{"channel": one.channel, **_picture(one)} for one in heat.messages]
    return {
        "schema": REPORT_SCHEMA,
        "survey": survey_json(survey),
        "bytes": {"column_s": heat.column_s, "left_out": heat.left_out, "messages": pictures},
    }


def _kinds(message: Mapping[str, Any]) -> str:
    """What each byte does, as a screen reader says it instead of the picture."""
    return ", ".join(f"byte {number} {kind}" for number, kind in enumerate(message["bytes"]))


def _picture(one: MessageHeat) -> dict[str, Any]:
    return {
        "id": str(one.frame_id),
        "bytes": len(one.value),
        "columns": len(one.seen),
        "value": _packed(one.value.tobytes()),
        "seen": _packed(np.packbits(one.seen).tobytes()),
    }


def _packed(data: bytes) -> str:
    return base64.b64encode(data).decode("ascii")
