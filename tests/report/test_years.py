"""One vehicle over its model years: matrix, reasons and JSON. The van is that of the shipped examples."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from netcheck.catalogue import assemble_job, load_job
from netcheck.cli import main
from netcheck.errors import UsageError
from netcheck.report import years_text
from netcheck.verdict import Verdict
from netcheck.years import Ground, plan_years
from tests.acceptance.cases import Case
from tests.report.layout import overlong

ROOT = Path(__file__).parents[2]
VEHICLE = ROOT / "dbc" / "skerry_240.vehicle.toml"
JOB = ROOT / "sample_logs" / "puffin_2020_park_and_cruise.job.toml"
Capsys = pytest.CaptureFixture[str]


def test_only_the_own_year_has_captures_and_readouts() -> None:
    plan = plan_years([load_job(JOB)], (2019, 2020, 2021))
    park, cruise = plan.rows
    assert [cell.verdict for cell in park.cells] == [
        Verdict.UNPROVEN,
        Verdict.GO_WITH_CHANGES,
        Verdict.UNPROVEN,
    ]
    assert [cell.is_own for cell in park.cells] == [False, True, False]
    assert cruise.cells[2].first == Ground("expected", "no-capture", "brake-pedal")


def test_the_first_reason_that_differs_is_named_and_none_where_none_does() -> None:
    job = assemble_job(VEHICLE, ["cruise-stalk"], network="drive", year=2022)
    (row,) = plan_years([job], tuple(range(2017, 2023))).rows
    assert row.cells[0].first == Ground("missing", "other-network", "clutch-pedal")
    assert row.cells[2].first == Ground("expected", "no-capture", "clutch-pedal")
    assert [cell.first for cell in row.cells if cell.year in {2018, 2020, 2021}] == [None] * 3


def test_what_a_module_said_of_itself_counts_in_the_own_year_only(tmp_path: Path) -> None:
    """One van's readout settles which edition it has, not which one other model years have."""
    case = Case(tmp_path, year=2021)
    case.module("gateway", edition={"part": "SK24"})
    case.block("gateway", 0x2210, 1, first={"byte": 0, "values": {0: "no", 1: "yes"}})
    case.item().code("gateway", "first", "yes")
    case.readouts.append('[[readout]]\nmodule = "gateway"\nidentification = { 0xF187 = "SK24-GAT-B" }\n')
    (row,) = plan_years([load_job(case.write())], (2020, 2021)).rows
    edition = Ground("question", "edition", "gateway")
    assert [(cell.first, cell.is_gone, cell.is_own) for cell in row.cells] == [
        (edition, False, False),
        (edition, True, True),
    ]


def test_a_reason_that_is_gone_is_told(tmp_path: Path) -> None:
    case = Case(tmp_path, year=2021)
    case.role("speed", "body SpeedStatus Speed", years=[2021, 2022])
    case.item().need("speed", evidence="defined")
    plan = plan_years([load_job(case.write())], (2020, 2021))
    (row,) = plan.rows
    missing = Ground("missing", "undefined-role", "speed")
    assert [(cell.first, cell.is_gone) for cell in row.cells] == [(missing, False), (missing, True)]
    assert "2021 no longer: speed missing (undefined-role)" in " ".join(years_text(plan).split())


def test_a_year_outside_the_span_is_refused() -> None:
    with pytest.raises(UsageError, match="2016"):
        plan_years([load_job(JOB)], (2016, 2017))


@pytest.mark.parametrize("width", [40, 80, 200])
def test_the_table_fits_and_every_year_is_in_it(width: int) -> None:
    text = years_text(plan_years([load_job(JOB)], tuple(range(2017, 2023))), width=width)
    assert overlong(text, width) == []
    assert all(str(year) in text for year in range(2017, 2023))


def run(capsys: Capsys, *arguments: str | Path) -> tuple[int, str, str]:
    status = main(["plan", *map(str, arguments)])
    printed = capsys.readouterr()
    return status, printed.out, printed.err


def test_all_shipped_retrofits_fit_a_screen(capsys: Capsys) -> None:
    status, out, err = run(capsys, "--vehicle", VEHICLE, "--retrofit", "all", "--years", "2017-2022")
    assert (status, err) == (0, "")
    assert "cruise-stalk      no-go     no-go     unproven" in out
    assert len(out.splitlines()) <= 45


def test_json_has_each_cell(capsys: Capsys) -> None:
    status, out, _ = run(capsys, JOB, "--years", "2017-2018", "--format", "json")
    found = json.loads(out)
    assert (status, found["schema"], found["years"]) == (0, "netcheck.years/1", [2017, 2018])
    assert found["items"][1]["cells"][0] == {
        "year": 2017,
        "verdict": "no-go",
        "own": False,
        "reason": "other-network",
        "kind": "missing",
        "subject": "clutch-pedal",
        "gone": False,
        "text": "clutch-pedal missing (other-network)",
        "peers": None,
    }
    assert found["items"][1]["cells"][1]["reason"] is None


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((JOB, "--years", "2022-2017"), "--years: 2022 is after 2017 – write 2017-2022"),
        ((JOB, "--years", "soon"), "--years: 'soon' is no span of model years"),
        ((JOB, JOB, "--years", "2020"), "--years with several jobs"),
        ((JOB, "--years", "2020", "--sheet"), "--years and --sheet together"),
    ],
)
def test_bad_usage(arguments: tuple[str | Path, ...], words: str, capsys: Capsys) -> None:
    status, out, err = run(capsys, *arguments)
    assert (status, out) == (2, "")
    assert words in err
