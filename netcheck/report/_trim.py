"""What became of captures that were cut, as text and JSON."""

from __future__ import annotations

from typing import Any

from netcheck.edit import Edited, EditRemark, Written
from netcheck.report._page import Page
from netcheck.report._trim_words import remark_text
from netcheck.words import counted, path_text

_SCHEMA = "netcheck.trim/1"


def trim_text(edited: Edited, *, width: int = 80) -> str:
    """One paragraph a file that was written, then what a person should know."""
    page = Page(width)
    kept = sum(written.frames for written in edited.written)
    page.text(f"{', '.join(edited.sources)}: {counted(edited.frames, 'frame')}, {kept:,} kept")
    for written in edited.written:
        page.entry("written", _line(written), indent=2, column=8)
        if written.marks_file is not None:
            outside = f"; {written.marks_outside} outside it left out" if written.marks_outside else ""
            marks = counted(written.marks, "mark")
            page.entry(
                "marks",
                f"{path_text(written.marks_file)}: {marks}, times from its first frame{outside}",
                indent=2,
                column=8,
            )
        elif written.marks_outside:
            page.entry("marks", f"none: all {written.marks_outside} lie outside it", indent=2, column=8)
    remarks = [
        *map(remark_text, edited.remarks),
        *(
            f"{path_text(written.file)}: {remark_text(each)}"
            for written in edited.written
            for each in written.remarks
        ),
    ]
    if remarks:
        page.blank()
        page.text("Worth knowing")
        for text in remarks:
            page.entry("-", text, indent=2)
    return page.render(colour=False)


def trim_json(edited: Edited) -> dict[str, Any]:
    """The same for scripts."""
    return {
        "schema": _SCHEMA,
        "sources": list(edited.sources),
        "frames": edited.frames,
        "written": [
            {
                "file": written.file,
                "frames": written.frames,
                "seconds": round(written.seconds, 6),
                "channels": [{"channel": name, "frames": count} for name, count in written.channels.items()],
                "marks_file": written.marks_file,
                "marks": written.marks,
                "marks_outside": written.marks_outside,
                "notes": list(map(remark_text, written.remarks)),
                "remarks": list(map(_remark_json, written.remarks)),
            }
            for written in edited.written
        ],
        "warnings": list(map(remark_text, edited.remarks)),
        "remarks": list(map(_remark_json, edited.remarks)),
    }


def _line(written: Written) -> str:
    channels = ", ".join(
        f"{name} {count:,}" if len(written.channels) > 1 else name for name, count in written.channels.items()
    )
    frames = f"{counted(written.frames, 'frame')} on {channels}"
    return f"{path_text(written.file)}: {frames}, {written.seconds:.1f} s"


def _remark_json(remark: EditRemark) -> dict[str, Any]:
    """The kind, and what is known of it."""
    facts = {
        "file": remark.file,
        "format": remark.form,
        "count": remark.count,
        "frames": remark.frames.value if remark.frames is not None else "",
        "name": remark.name,
        "names": list(remark.names),
        "text": remark.text,
    }
    return {"kind": remark.kind.value, **{key: value for key, value in facts.items() if value}}
