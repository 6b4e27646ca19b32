"""DBC files that end in the middle of an entry, against what cantools finds in them."""

from __future__ import annotations

from pathlib import Path

import pytest
from cantools.database.can.formats import dbc

from netcheck.database import load_database
from netcheck.database._cut_off import cut_off

HEAD = 'VERSION ""\nNS_ :\n\tCM_\nBS_:\nBU_: GATE LAMPS\n'
BODY = """BO_ 1 One: 2 GATE
 SG_ A : 0|8@1+ (1,0) [0|0] "km/h" GATE,LAMPS
 SG_ B m0 : 8|4@1- (0.5,-40) [-40|80] "" LAMPS

BO_ 2 Two: 1 LAMPS
CM_ SG_ 1 A "a text; over
two lines";
BA_DEF_ BO_ "GenMsgCycleTime" INT 0 10000;
BA_ "GenMsgCycleTime" BO_ 1 100;
VAL_ 1 A 0 "off" 1 "on" ;
"""
ROOT = Path(__file__).parent.parent.parent


@pytest.mark.parametrize(
    ("end", "entry"),
    [
        ('VAL_ 1 A 0 "off" 1 "on"', "line 8: the VAL_"),
        ("BO_ 3 Thr", "line 8: the BO_"),
        ("BO_ 3 Three: 8", "line 8: the BO_"),
        ("BO_ 3 Three: 8 GATE\n SG_ C : 0|8@1+ (1,0) [0|0] ", "line 9: the SG_"),
        ('BO_ 3 Three: 8 GATE\n SG_ C : 0|8@1+ (1,0) [0|0] "" ', "line 9: the SG_"),
    ],
)
def test_an_entry_that_is_not_whole_is_told(tmp_path, end, entry):
    path = tmp_path / "cut.dbc"
    path.write_text(f'{HEAD}BO_ 1 One: 2 GATE\n SG_ A : 0|8@1+ (1,0) [0|0] "" GATE\n{end}')
    database = load_database(path, cache=False)
    lacks = "has no ';'" if "VAL_" in entry else "is incomplete"
    told = f"{path}: {entry} entry that ends the file {lacks} and is left out: was the file cut off?"
    assert told in database.warnings
    assert database.message("One").signal("A").labels == {}


def test_what_cantools_drops_without_a_word_is_told():
    """At whatever character the file is cut: a message, signal or label that is lost, or half, is told."""

    def content(text: str) -> list:
        found = dbc.load_string(text, strict=False).messages
        return [(m.name, [(s.name, s.unit, s.choices) for s in m.signals], m.cycle_time) for m in found]

    told = 0
    for length in range(len(HEAD), len(HEAD + BODY)):
        text = (HEAD + BODY)[:length]
        try:
            now = content(text)
        except Exception:
            continue  # refused, which is told as well
        start = max(text.rfind(f"\n{word} ") for word in ("BO_", " SG_", "CM_", "BA_DEF_", "BA_", "VAL_")) + 1
        rest = text[start:].strip()
        if start < len(HEAD):
            continue
        if rest and now == content(text[:start]) and not rest.endswith(";") and len(rest.split()[0]) > 2:
            assert cut_off(text), rest
            told += 1
    assert told > 100


@pytest.mark.parametrize("path", sorted((ROOT / "dbc").glob("*.dbc")), ids=lambda path: path.name)
def test_whole_files_are_whole(path):
    assert cut_off(path.read_text()) == ""
    assert cut_off(path.read_text().replace("\n", "\r\n").rstrip()) == ""


@pytest.mark.parametrize("text", ["", HEAD, HEAD + BODY, HEAD + BODY[: BODY.index("CM_")], "BU_: A B"])
def test_no_complaint_without_a_half_entry(text):
    assert cut_off(text) == ""
