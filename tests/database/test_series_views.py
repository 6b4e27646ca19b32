"""A series to look at: one line, tables, a plot; and what is said of a signal that was not decoded."""

from __future__ import annotations

import sys
from pathlib import Path

import matplotlib as mpl
import pytest

from netcheck.database import decode, load_database
from netcheck.errors import NoSuchSignalError, UsageError
from tests.captures import Frame, hand_made

DBC = """VERSION ""
NS_ :
BS_:
BU_: COLUMN
BO_ 256 Selector: 3 COLUMN
 SG_ Lever : 0|4@1+ (1,0) [0|0] "" COLUMN
 SG_ Speed : 8|8@1+ (0.5,0) [0|0] "km/h" COLUMN
 SG_ lamp : 16|1@1+ (1,0) [0|0] "" COLUMN
BO_ 512 Rear: 1 COLUMN
 SG_ Lever : 0|4@1+ (1,0) [0|0] "" COLUMN
VAL_ 256 Lever 0 "P" 1 "R" 2 "free" 3 "free" ;
"""


@pytest.fixture
def found(tmp_path: Path):
    (tmp_path / "x.dbc").write_text(DBC)
    frames = [Frame(0x100, bytes([n, 2 * n, 0]), 0, 10**18 + n * 10**9, f"can{n % 2}") for n in range(5)]
    return decode(hand_made(frames), load_database(tmp_path / "x.dbc"))


def test_they_are_one_short_line(found):
    assert repr(found["Selector", "Speed"]) == "<Series Selector.Speed: 5 values, 0 to 4 km/h, 4.0 s>"
    assert repr(found["Selector", "Lever"]) == "<Series Selector.Lever: 5 values, 0 to 4, 4.0 s>"
    assert repr(found["Rear", "Lever"]) == "<Series Rear.Lever: 0 values>"
    assert repr(found) == "<decoded: 4 signals of 2 messages, 15 values>"


@pytest.mark.parametrize(
    ("key", "says"),
    [
        (("selector", "speed"), "did you mean ('Selector', 'Speed')?"),
        ("Speed", "did you mean ('Selector', 'Speed')?"),
        ("lever", "did you mean ('Selector', 'Lever') or ('Rear', 'Lever')?"),
        (("Selector", "Sped"), "did you mean ('Selector', 'Speed')?"),
        ("Selector.Speed", "write ('Selector', 'Speed')"),
        (("Nothing", "AtAll"), "no signal ('Nothing', 'AtAll') was decoded"),
    ],
)
def test_a_key_that_is_not_there(found, key, says):
    with pytest.raises(NoSuchSignalError) as caught:
        found[key]
    assert says in str(caught.value)


@pytest.mark.parametrize("pattern", ["lever", "LEVER", "selector.*", "*LAMP", "Rear.[L]ever"])
def test_the_case_of_a_pattern_does_not_count(found, tmp_path, pattern):
    database = load_database(tmp_path / "x.dbc")
    wanted = {
        "lever": {("Selector", "Lever"), ("Rear", "Lever")},
        "LEVER": {("Selector", "Lever"), ("Rear", "Lever")},
        "selector.*": {("Selector", "Lever"), ("Selector", "Speed"), ("Selector", "lamp")},
        "*LAMP": {("Selector", "lamp")},
        "Rear.[L]ever": {("Rear", "Lever")},
    }
    assert set(decode(hand_made([]), database, pattern)) == wanted[pattern]


def test_tables_have_labels_where_there_are_some(found):
    lever = found["Selector", "Lever"]
    table = lever.to_pandas()
    assert table.columns.tolist() == ["time", "channel", "raw", "value", "label"]
    assert table["label"].tolist()[:4] == ["P", "R", "free", "free"]
    assert table["label"].isna().tolist() == [False] * 4 + [True]
    assert lever.to_polars()["label"].to_list() == lever.to_arrow()["label"].to_pylist()
    assert lever.to_arrow()["label"].to_pylist() == ["P", "R", "free", "free", None]
    assert lever.to_polars()["channel"].to_list() == ["can0", "can1", "can0", "can1", "can0"]
    assert str(table["time"].dtype) == "datetime64[ns, UTC]"
    assert lever.to_arrow()["time"].cast("int64").to_pylist() == lever.time_ns.tolist()
    assert found["Selector", "Speed"].to_pandas()["value"].tolist() == [0, 1, 2, 3, 4]


def test_tables_of_a_signal_that_never_came(found):
    never = found["Rear", "Lever"]
    assert len(never.to_pandas()) == len(never.to_polars()) == never.to_arrow().num_rows == 0
    assert never.to_arrow().column_names == ["time", "channel", "raw", "value", "label"]


def test_a_plot_has_steps_over_seconds(found):
    mpl.use("Agg")
    axes = found["Selector", "Speed"].plot()
    (line,) = axes.get_lines()
    assert line.get_xdata().tolist() == [0, 1, 2, 3, 4]
    assert line.get_ydata().tolist() == [0, 1, 2, 3, 4]
    assert line.get_drawstyle() == "steps-post"
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("s", "Speed (km/h)")
    assert found["Selector", "lamp"].plot(axes) is axes
    assert len(axes.get_lines()) == 2


def test_states_have_their_labels_on_the_axis(found):
    mpl.use("Agg")
    lever = found["Selector", "Lever"]
    axes = lever.take(lever.raw < 3).plot()
    assert [text.get_text() for text in axes.get_yticklabels()] == ["P", "R", "free"]
    assert found["Rear", "Lever"].plot().get_ylabel() == "Lever"


def test_without_matplotlib_a_plot_is_one_line(found, monkeypatch):
    monkeypatch.setitem(sys.modules, "matplotlib.pyplot", None)
    with pytest.raises(UsageError, match=r'plot needs matplotlib, .* – pip install "netcheck\[plot\]"'):
        found["Selector", "Speed"].plot()
