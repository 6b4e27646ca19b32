"""A plan's first five lines say whether the DBC files fit what was captured, and how sure that is."""

from __future__ import annotations

import pytest

import netcheck
from tests.acceptance.cases import LEVER, Case, during, every, lever_case, plain_dbc

TEN = list(range(0x101, 0x10B))
OTHERS = list(range(0x701, 0x709))
STRANGE = range(0x501, 0x601)


def job(folder, *seen, strange=0, drive=OTHERS, **entry):
    """A need on ``body``, a DBC of ten messages, and a capture of some of them and of ids in no DBC."""
    case = Case(folder)
    case.dbc = {"body": plain_dbc(*TEN), "drive": plain_dbc(*drive)}
    case.role("any", f"body M{TEN[0]:X} V")
    case.item().need("any", evidence="present")
    log = case.log(None, **entry)
    for can_id in [*seen, *STRANGE[:strange]]:
        log.send(can_id, every(0.1, end=3.0), "00")
    return case


def first_lines(case):
    return netcheck.plan_text(case.plan()).splitlines()[:5]


def head(case):
    """Those lines as one text."""
    return " ".join(" ".join(first_lines(case)).split())


def test_a_dbc_that_fits_is_said_in_numbers(tmp_path):
    case = job(tmp_path, *TEN[:8])
    assert first_lines(case)[1:4] == [
        "DBC fit: body 8 of 8 ids.",
        "",
        "+ GO – part can be fitted as the job has it.",
    ]


@pytest.mark.parametrize(
    ("fit", "strange", "said"),
    [
        (8, 4, "DBC fit: body 8 of 12 ids."),  # two thirds
        (8, 5, "DBC fit: body 8 of 13 ids, ANOTHER EDITION?"),
        (5, 60, "DBC fit: body 5 of 65 ids, ANOTHER EDITION?"),  # identified: half of its DBC came
        (10, 60, "DBC fit: body 10 of 70 ids, THE REST UNKNOWN."),  # all of it came, as of a draft
    ],
)
def test_below_two_thirds_of_the_ids_another_edition_is_asked_about(tmp_path, fit, strange, said):
    case = job(tmp_path, *TEN[:fit], strange=strange)
    assert first_lines(case)[1] == said
    assert str(case.plan().verdict) == "go"


def test_doubt_stands_beside_the_numbers_and_in_the_headline(tmp_path):
    text = head(job(tmp_path, *TEN[:4], strange=8))
    assert "DBC fit: body 4 of 12 ids, DOUBTFUL." in text
    assert "? UNPROVEN – do not fit part yet. Too few ids fit: is this capture of this vehicle?" in text


def test_a_capture_of_none_of_the_networks(tmp_path):
    text = head(job(tmp_path, *TEN[:2], strange=60))
    assert "DBC fit: can0 NONE OF THEM (body 2 of 62 ids)." in text
    assert "do not fit part yet. No DBC of this vehicle fits: is this capture of this vehicle?" in text


def test_a_capture_without_a_single_known_id(tmp_path):
    text = head(job(tmp_path, strange=60))
    assert "DBC fit: can0 NONE OF THEM (0 of 60 ids)." in text
    assert "No DBC of this vehicle fits: is this capture of this vehicle?" in text


def test_networks_that_fit_about_equally_are_not_called_none(tmp_path):
    case = job(tmp_path, *TEN[:8], drive=[*TEN[:6], *OTHERS])
    text = head(case)
    assert "DBC fit: can0 UNCLEAR (body 8 of 8 ids, drive 6)." in text
    assert "do not fit part yet. Several networks fit about equally: name the channel's in the job." in text
    whole = " ".join(netcheck.plan_text(case.plan()).split())
    assert "none of this vehicle" not in whole
    assert (
        "log0.log: which network channel can0 is cannot be told: 8 of 8 ids fit the DBC of body, 6 that of "
        'drive – if you know it, say so in the job: channels = { "can0" = "body" }'
    ) in whole
    assert "1. Find out which network can0 of log0.log is: body and drive fit about equally; if" in whole


def test_networks_that_fit_by_chance_only_are_none_of_them(tmp_path):
    """Four of 104 ids in two DBCs of 90 messages each: chance alone gives as many."""
    case = job(tmp_path, *TEN[:4], strange=100)
    case.dbc = {"body": plain_dbc(*TEN, *range(0x201, 0x251)), "drive": plain_dbc(*TEN, *range(0x301, 0x351))}
    text = head(case)
    assert "DBC fit: can0 NONE OF THEM (body 4 of 104 ids)." in text
    assert "No DBC of this vehicle fits: is this capture of this vehicle?" in text


def test_a_network_that_is_not_the_one_the_job_says(tmp_path):
    text = head(job(tmp_path, *OTHERS, channels={"can0": "body"}))
    assert "DBC fit: body 0 of 8 ids, NOT IT." in text
    assert "do not fit part yet. By its ids can0 is not body." in text


def test_too_few_ids_to_tell(tmp_path):
    text = head(job(tmp_path, *TEN[:2], channels={"can0": "body"}))
    assert "DBC fit: body 2 of 2 ids, TOO FEW TO TELL." in text
    assert "do not fit part yet. Too few ids came to tell the network." in text


def test_a_strange_channel_beside_a_known_one_is_no_doubt(tmp_path):
    """A logger has channels on which nobody listens to this vehicle's networks."""
    case = job(tmp_path, *TEN[:8])
    for can_id in STRANGE[:20]:
        case.logs[0].send(can_id, every(0.1, end=3.0), "00", channel="can1")
    text = head(case)
    assert "DBC fit: body 8 of 8 ids; can1 NONE OF THEM (0 of 20 ids)." in text
    assert "+ GO – part can be fitted as the job has it. Why" in text


def test_diagnostics_alone(tmp_path):
    case = job(tmp_path, channels={"can0": "body"})
    case.logs[0].send(0x7DF, every(0.5), "00").send(0x7E8, every(0.5), "00")
    assert "DBC fit: can0 DIAGNOSTICS ONLY." in head(case)


def test_without_a_capture_nothing_is_known_of_it(tmp_path):
    case = lever_case(tmp_path)
    assert "DBC fit: not looked at, there is no capture." in head(case)


def test_with_an_identity_and_four_networks_it_still_stands_there(tmp_path):
    case = lever_case(tmp_path)
    case.log(None).send(LEVER, every(0.1), during(2.0, 5.0, "01000000", "00000000"))
    for can_id in (*STRANGE[:8], 0x601, 0x602):
        case.logs[0].send(can_id, every(0.1), "00")
    path = case.write()
    identity = {"vin": "ZZZSK240ZM0120733", "registration": "TI 21 RZB", "reference": "W-0417"}
    rows = "".join(f'{key} = "{value}"\n' for key, value in identity.items())
    path.write_text(path.read_text(encoding="utf-8") + f"\n[identity]\n{rows}", encoding="utf-8")
    plan = netcheck.make_plan(netcheck.load_job(path))
    assert "DOUBTFUL" in " ".join(netcheck.plan_text(plan).splitlines()[:5])
