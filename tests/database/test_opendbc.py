"""Every message of every usable DBC of opendbc (an open data set, MIT), against cantools.

Payloads are random; where a message is multiplexed, half of them are made to select a page. cantools reads
the other signals of a message wrongly when two overlap, so there each signal is asked for alone. DBCs that
cantools refuses even leniently are listed here: netcheck must refuse them too, in one line. Some it repairs:
those are compared with a text that was put right place by place, as cantools complains.
"""

import random
import re
from collections import Counter
from collections.abc import Iterator
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any

import cantools
import numpy as np
import opendbc
import pytest
from cantools.database import DecodeError
from opendbc.dbc.generator.generator import generate_all

from netcheck.bits import last_byte_needed, set_bits
from netcheck.capture import EXTENDED
from netcheck.database import Message, decode, load_database
from netcheck.errors import InputError
from tests.captures import Frame, hand_made

MAKES = tuple(
    "acura bmw cadillac chrysler fca ford gm honda hyundai mazda "  # noqa: SIM905 - reads better in a row
    "mercedes nissan opel psa subaru tesla toyota volvo".split()
)
PAYLOADS = 24
BAD_COMMENT = "invalid syntax at column 13"  # a comment on a signal without its name
BAD_SCALE = "invalid syntax at column 33"  # a scale written .25
REFUSED = {
    "acura_ilx_2016_can_generated": BAD_COMMENT,
    "acura_rdx_2018_can_generated": BAD_COMMENT,
    "acura_rdx_2020_can_generated": BAD_COMMENT,
    "chrysler_pacifica_2017_hybrid_generated": BAD_SCALE,
    "chrysler_ram_dt_generated": BAD_SCALE,
    "chrysler_ram_hd_generated": BAD_SCALE,
    "honda_bosch_radarless_generated": BAD_COMMENT,
    "honda_civic_hatchback_ex_2017_can_generated": BAD_COMMENT,
    "honda_civic_touring_2016_can_generated": BAD_COMMENT,
    "honda_clarity_hybrid_2018_can_generated": BAD_COMMENT,
    "honda_common_canfd_generated": BAD_COMMENT,
    "honda_crv_touring_2016_can_generated": BAD_COMMENT,
    "honda_e_advance_2020_can_generated": BAD_COMMENT,
    "honda_insight_ex_2019_can_generated": BAD_COMMENT,
    "honda_odyssey_exl_2018_generated": BAD_COMMENT,
    "honda_odyssey_twn_2018_generated": BAD_COMMENT,
    "hyundai_kia_generic": "invalid syntax at column 5",
    "mazda_2017": "invalid syntax at column 1:",  # an entry without its end; a name that begins with a digit
    "toyota_2017_ref_pt": "more than 11 bits in message BDB1F01_14",
    "toyota_radar_dsu_tssp": "invalid syntax at column 1",
}
REPAIRED = {  # repairs of each kind
    "chrysler_cusw": {"no-extended-flag": 2},
    "fca_giorgio": {"no-extended-flag": 1},
    "gm_global_a_lowspeed": {"no-extended-flag": 13, "stray-entry": 1},
    "gm_global_a_powertrain_generated": {"stray-entry": 1},
    "honda_crv_ex_2017_body_generated": {"no-extended-flag": 2},
    "hyundai_palisade_2023_generated": {"stray-entry": 3},
    "psa_aee2010_r3": {"digit-name": 2},
    "tesla_can": {"stray-entry": 1},
}


@cache
def texts() -> dict[str, str]:
    """DBC texts by name: those in the package and those its generator makes of parts."""
    folder = Path(opendbc.__file__).parent / "dbc"
    found = {path.stem: path.read_text(encoding="utf-8") for path in folder.glob("*.dbc")} | generate_all()
    return {name: found[name] for name in sorted(found) if name.lower().startswith(MAKES)}


NAMES = list(texts())


def test_the_data_set_is_there():
    assert len(NAMES) > 70
    assert set(REFUSED) <= set(NAMES)


@pytest.mark.parametrize("name", REFUSED)
def test_refused_dbcs_are_refused_in_one_line(name: str, tmp_path: Path):
    path = tmp_path / f"{name}.dbc"
    path.write_text(texts()[name], encoding="utf-8")
    with pytest.raises(cantools.database.UnsupportedDatabaseFormatError):
        cantools.database.load_string(texts()[name], "dbc", strict=False)
    with pytest.raises(InputError) as caught:
        load_database(path)
    assert REFUSED[name] in str(caught.value)
    assert caught.value.where.startswith("line ")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("name", [name for name in NAMES if name not in REFUSED])
def test_all_signals_of_all_messages(name: str, tmp_path: Path):
    path = tmp_path / f"{name}.dbc"
    path.write_text(texts()[name], encoding="utf-8")
    theirs = by_cantools(texts()[name])
    ours = load_database(path)
    assert Counter(repair.kind for repair in ours.repairs) == REPAIRED.get(name, {})
    assert sorted(message.name for message in ours.messages) == sorted(
        message.name for message in theirs.messages
    )
    chance = random.Random(name)
    payloads = {message.name: make_payloads(message, chance) for message in ours.messages}
    capture = hand_made(
        Frame(message.can_id, payload, EXTENDED if message.is_extended else 0)
        for message in ours.messages
        for payload in payloads[message.name]
    )
    series = decode(capture, ours)
    assert set(series) == {
        (message.name, signal.name) for message in theirs.messages for signal in message.signals
    }
    begins = {message.name: PAYLOADS * number for number, message in enumerate(ours.messages)}
    for message in theirs.messages:
        for signals, samples in cantools_samples(message, payloads[message.name]):
            for signal in signals:
                got = series[message.name, signal]
                frames = got.frame - begins[message.name]
                compared = np.isin(frames, list(samples))
                carried = {number: both for number, both in samples.items() if signal in both[0]}
                where = f"{message.name}.{signal}"
                assert frames[compared].tolist() == list(carried), where
                assert got.raw[compared].tolist() == [raw[signal] for raw, _ in carried.values()], where
                values = [value[signal] for _, value in carried.values()]
                np.testing.assert_allclose(got.value[compared], values, rtol=1e-15, err_msg=where)


DIGIT = "before_a_digit_"


def by_cantools(text: str) -> Any:
    """The database; what cantools refuses is put right where it says, until it refuses nothing."""
    while True:
        try:
            found = cantools.database.load_string(text, "dbc", strict=False)
        except cantools.database.UnsupportedDatabaseFormatError as error:
            text = put_right(text, str(error))
        else:
            break
    for message in found.messages:
        for signal in message.signals:
            signal.name = signal.name.removeprefix(DIGIT)
        message.refresh(strict=False)
    return found


def put_right(text: str, said: str) -> str:
    """A text without the first thing that cantools says of it."""
    lines = text.split("\n")
    if found := re.search(r"Standard frame id 0x(\w+) is more", said):
        can_id = int(found[1], 16)
        return "\n".join(
            line
            if line.startswith("VAL_TABLE_")
            else line.replace(f"_ {can_id} ", f"_ {can_id + (1 << 31)} ")
            for line in lines
        )
    if found := re.search(r"(VAL_ \d+ \w+)", said):
        return "\n".join(line for line in lines if not line.startswith(found[1] + " "))
    found = re.search(r"Invalid syntax at line (\d+), column (\d+)", said)
    assert found, said
    line, column = int(found[1]) - 1, int(found[2]) - 1
    assert re.match(r"\d+_", lines[line][column:]), said
    lines[line] = lines[line][:column] + DIGIT + lines[line][column:]
    return "\n".join(lines)


def make_payloads(message: Message, chance: random.Random) -> list[bytes]:
    """Random payloads of the declared length, every other one with a random signal's pages selected."""
    payloads = []
    paged = [signal for signal in message.signals if signal.pages]
    for number in range(PAYLOADS):
        payload = chance.randbytes(message.length)
        if paged and number % 2:
            for page in chance.choice(paged).pages:
                selector = message.signal(page.multiplexer)
                assert selector is not None
                field = selector.start, selector.width, selector.is_big_endian
                payload = set_bits(payload, *field, chance.choice(page.values) & (1 << selector.width) - 1)
        payloads.append(payload)
    return payloads


Samples = dict[int, tuple[dict[str, Any], dict[str, Any]]]  # payload number -> raw and physical values


def cantools_samples(message: Any, payloads: list[bytes]) -> Iterator[tuple[list[str], Samples]]:
    """cantools' values by payload, for groups of signals that it reads rightly together.

    Payloads whose page is not defined are left out: cantools gives no value at all for them.
    """
    for reader in readers(message):
        samples: Samples = {}
        for number, payload in enumerate(payloads):
            data = payload.ljust(reader.length, b"\0")
            with suppress(DecodeError):
                raw: Any = reader.decode(data, decode_choices=False, scaling=False)
                value: Any = reader.decode(data, decode_choices=False)
                if reader.length <= len(payload):
                    samples[number] = raw, value
                else:  # the signal does not fit into the message: no frame carries it
                    samples[number] = {}, {}
        yield [signal.name for signal in reader.signals], samples


def readers(message: Any) -> Iterator[Any]:
    """The message itself, or one message a signal where signals overlap or do not fit."""
    try:
        message.refresh(strict=True)
    except cantools.database.Error:
        for signal in message.signals:
            assert signal.multiplexer_ids is None
            last = last_byte_needed(signal.start, signal.length, signal.byte_order == "big_endian")
            length = max(message.length, last + 1)
            yield cantools.database.can.Message(
                message.frame_id, "Alone", length, [signal], is_extended_frame=True
            )
    else:
        yield message
