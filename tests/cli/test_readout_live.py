"""``netcheck readout --interface``: nothing leaves before a person has agreed; then a module is read out."""

from __future__ import annotations

import json
import uuid
from pathlib import Path

import pytest

from netcheck.cli import main
from tests.diagnostics.talk import VIN

can = pytest.importorskip("can")
oracle = pytest.importorskip("tests.diagnostics.test_readout_oracle")

VEHICLE = Path(__file__).parents[2] / "dbc" / "skerry_240.vehicle.toml"


@pytest.fixture
def channel(monkeypatch):
    """A bus with a module; a machine that stands still for a while is no silent module."""
    monkeypatch.setattr("netcheck.diagnostics._asking._ANSWER_S", 20.0)
    monkeypatch.setattr("netcheck.diagnostics._segments._SILENCE_NS", 20_000_000_000)
    monkeypatch.setattr("netcheck.diagnostics._exchanges.PATIENCE_NS", 60_000_000_000)
    name = uuid.uuid4().hex
    blocks = {0x2210: bytes.fromhex("4C011F028000"), 0x2211: b"\x00\x64", 0xF190: VIN.encode()}
    station = oracle.Station(name, blocks, bytes.fromhex("C121872F"))
    heard = can.Bus(interface="virtual", channel=name)
    station.thread.start()
    assert station.ready.wait(20)
    yield name, heard
    station.stopping.set()
    station.thread.join(20)
    station.bus.shutdown()
    heard.shutdown()


def run(name: str, *words: object) -> int:
    fixed = ["readout", "--interface", "virtual", "--channel", name, "--vehicle", VEHICLE, "--listen", 1]
    return main([str(word) for word in (*fixed, *words)])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "give --transmit to ask these modules"),
        (["--transmit"], "nobody is at the terminal to agree"),
        (["--transmit", "--agreed", "--module", "no"], "'no' is no module with request_id and response_id"),
    ],
)
def test_nothing_leaves_without_being_wanted_and_agreed_to(channel, capsys, words, said):
    name, heard = channel
    assert run(name, *words) == 2
    assert said in capsys.readouterr().err
    assert heard.recv(0) is None


def test_what_is_missing_is_told(capsys):
    assert main(["readout"]) == 2
    assert "nothing to read" in capsys.readouterr().err
    assert main(["readout", "x.log", "--interface", "virtual"]) == 2
    assert "captures and --interface at once" in capsys.readouterr().err
    assert main(["readout", "--interface", "virtual", "--channel", "a"]) == 2
    assert "without --vehicle" in capsys.readouterr().err


def test_a_module_is_read_out(channel, capsys, tmp_path):
    name, heard = channel
    target = tmp_path / "x.readouts.toml"
    words = ["--module", "gateway", "--transmit", "--agreed", "--format", "json", "-o", target]
    assert run(name, *words) == 0
    shown = capsys.readouterr()
    (module,) = json.loads(shown.out)["modules"]
    assert module["module"] == "gateway"
    assert module["blocks"] == {"0x2210": "4C011F028000", "0x2211": "0064"}
    assert module["identification"] == {"0xF190": VIN}
    assert [fault["code"] for fault in module["faults"]] == ["U012187"]
    assert "stands still" in shown.err
    assert 'data = "4C 01 1F 02 80 00"' in target.read_text()
    sent = []
    while (message := heard.recv(0)) is not None:
        if message.arbitration_id == oracle.REQUEST:
            sent.append(bytes(message.data))
    assert sent
    assert all(data[0] >> 4 == 3 or data[1] in {0x22, 0x19, 0x3E} for data in sent)
