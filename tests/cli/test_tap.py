"""``netcheck tap`` from job files, recordings and a real socket."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import can
import pytest

from netcheck.cli import _tap, main
from tests.cli.jobs import write_job
from tests.live import GROUP, open_sender
from tests.report.layout import overlong

Capsys = pytest.CaptureFixture[str]

LEVER = "".join(f"({100 + i / 10:.6f}) can0 123#0{i % 2}00000000000000\n" for i in range(120))
STRANGERS = "".join(f"({100 + i / 10:.6f}) can0 {0x300 + i % 5:03X}#00\n" for i in range(120))


def run(capsys: Capsys, *arguments: str | Path) -> tuple[int, str, str]:
    status = main(["tap", *map(str, arguments)])
    printed = capsys.readouterr()
    told = [line for line in printed.err.splitlines(keepends=True) if "compiling" not in line]
    return status, printed.out, "".join(told)


def recording(folder: Path, text: str) -> Path:
    path = folder / "pair.log"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("log", "measured", "status", "verdict"),
    [
        (LEVER, "", 0, "right"),
        (LEVER, "termination=60.4 high-idle=2.51 low-idle=2.49 high-shorted=no", 0, "right"),
        (LEVER, "termination=120", 1, "wrong"),
        (LEVER, "difference-idle=0.7", 3, "unknown"),
        (STRANGERS, "", 1, "wrong"),
        ("", "", 3, "unknown"),
    ],
)
def test_exit_status_and_json(tmp_path, capsys, log, measured, status, verdict):
    job = write_job(tmp_path)
    arguments = ["--capture", recording(tmp_path, log)] if log else []
    arguments += ["--measured", measured] if measured else []
    code, out, err = run(capsys, job, *arguments, "--format", "json")
    found = json.loads(out)
    assert (code, found["verdict"], err) == (status, verdict, "")
    assert list(found) == [
        "schema", "job", "vehicle", "model_year", "item", "network", "tap", "physical", "bitrate",
        "fd_bitrate", "verdict", "listened", "findings", "roles", "readings", "cautions", "warnings",
        "caution_kinds", "identity",
    ]  # fmt: skip
    assert found["schema"] == "netcheck.tap/1"
    assert {entry["state"] for entry in found["findings"]} <= {"right", "wrong", "unknown", "note"}


def test_text_is_for_people_and_goes_to_a_file(tmp_path, capsys):
    job, target = write_job(tmp_path), tmp_path / "tap.txt"
    code, out, err = run(capsys, job, "--capture", recording(tmp_path, LEVER), "-o", target)
    assert (code, out, err) == (0, "", "")
    text = target.read_text(encoding="utf-8")
    assert text.splitlines()[2].startswith("+ RIGHT – this pair is comfort")
    assert overlong(text, 80) == []
    assert "never measure at their plugs" in text


def test_what_comes_next_is_a_command_to_be_pasted(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    job = write_job(Path()).rename("my van.job.toml")
    _, out, _ = run(capsys, job, "--capture", recording(Path(), LEVER))
    assert "Then run netcheck plan 'my van.job.toml': it says what still" in " ".join(out.split())


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--capture", "gone.log"], "gone.log"),
        (
            ["--capture", "empty.log"],
            "empty.log: no frames: the recording is silent – switch the ignition on",
        ),
        (["--capture", "pair.log", "--interface", "virtual"], "--capture and --interface together"),
        (["--interface", "virtual"], "--interface without --channel"),
        (["--channel", "can0"], "nothing to listen to"),
        (["--interface", "virtuel", "--channel", "0"], "no interface 'virtuel' – did you mean 'virtual'?"),
        (["--item", "nothing"], "the job has no item 'nothing'"),
        (["--measured", "ohms=60"], "unknown reading 'ohms'"),
        (["--capture", "pair.log", "--channel", "can9"], "pair.log: has no channel can9 – it has can0"),
        (["--capture", "pair.log", "-o", "pair.log"], "is an input of this command"),
    ],
)
def test_bad_input_is_one_line(tmp_path, capsys, monkeypatch, arguments, says):
    job = write_job(tmp_path)
    recording(tmp_path, LEVER)
    (tmp_path / "empty.log").touch()
    monkeypatch.chdir(tmp_path)
    code, out, err = run(capsys, job, *arguments)
    assert (code, out) == (2, "")
    assert says in err
    assert err.count("\n") == 1


@pytest.fixture
def van(port: int) -> Iterator[None]:
    """Sends the lever's position until the test is over."""
    parked = threading.Event()

    def drive() -> None:
        while not parked.wait(0.02):
            bus.send(can.Message(arbitration_id=0x123, is_extended_id=False, data=bytes(8)))

    with open_sender(port) as bus:
        thread = threading.Thread(target=drive)
        thread.start()
        yield
        parked.set()
        thread.join()


def live(port: int) -> list[str]:
    options = [f"--option=port={port}", "--option=hop-limit=0", "--seconds", "1"]
    return ["--interface", "udp_multicast", "--channel", GROUP, *options, "--format", "json"]


@pytest.mark.usefixtures("van")
def test_listening_now(tmp_path, capsys, port):
    job = write_job(tmp_path)
    before = sorted(tmp_path.iterdir())
    code, out, err = run(capsys, job, *live(port))
    found = json.loads(out)
    assert found["network"] == "comfort"
    assert found["findings"][0]["state"] == "right"
    assert (found["findings"][1]["kind"], found["findings"][1]["state"]) == ("bit-rate", "note")
    assert found["listened"]["frames"] > 10
    assert found["listened"]["source"] == f"udp_multicast {GROUP}"
    assert found["roles"][0]["state"] == "right"
    assert code == 0
    assert "listening on udp_multicast" in err
    assert sorted(tmp_path.iterdir()) == before
    told = " ".join(run(capsys, job, *live(port)[:-2])[1].split())
    assert f"--interface udp_multicast --channel {GROUP} --option port={port}" in told


def test_listening_to_silence(tmp_path, capsys, port):
    code, out, _ = run(capsys, write_job(tmp_path), *live(port))
    found = json.loads(out)
    assert (code, found["verdict"], found["listened"]["frames"]) == (3, "unknown", 0)
    assert [entry["kind"] for entry in found["findings"]] == ["silence"]


class Interrupted:
    """Presses Ctrl-C once so many frames were heard."""

    def __init__(self, frames: int) -> None:
        self.frames = frames

    def __call__(self, left: float, frames: int) -> None:
        if frames >= self.frames:
            raise KeyboardInterrupt


@contextmanager
def pressing(what: str, frames: int) -> Iterator[Interrupted]:
    yield Interrupted(frames)


@pytest.mark.usefixtures("van")
def test_an_interrupt_keeps_what_was_heard(tmp_path, capsys, port, monkeypatch):
    monkeypatch.setattr(_tap, "countdown", lambda what: pressing(what, 20))
    words = [word if word != "1" else "60" for word in live(port)]
    code, out, err = run(capsys, write_job(tmp_path), *words)
    found = json.loads(out)
    assert found["findings"][0]["state"] == "right"
    assert 20 <= found["listened"]["frames"] < 2000
    assert code in {0, 3}
    assert "Ctrl-C goes on with what was heard" in err


def test_an_interrupt_of_silence_ends_it(tmp_path, capsys, port, monkeypatch):
    monkeypatch.setattr(_tap, "countdown", lambda what: pressing(what, 0))
    code, out, _ = run(capsys, write_job(tmp_path), *live(port))
    assert (code, out) == (130, "")
