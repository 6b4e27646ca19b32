"""The public door is what it says it is."""

from __future__ import annotations

import ast
import importlib
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

import netcheck

PACKAGE = Path(netcheck.__file__).parent
ROOMS = [
    "_compile",
    "archive",
    "bench",
    "capture",
    "capture.live",
    "catalogue",
    "coding",
    "database",
    "diagnostics",
    "diagnostics.live",
    "edit",
    "evidence",
    "files",
    "find",
    "guide",
    "network",
    "page",
    "report",
    "report.archive",
    "report.authoring",
    "report.bench",
    "report.guide",
    "report.onsite",
    "report.readout",
    "report.recording",
    "report.viewing",
    "roles",
    "tap",
    "testing",
    "traces",
    "verdict",
    "work",
]


def test_every_public_name_is_there():
    assert netcheck.__all__ == sorted(netcheck.__all__)
    for name in netcheck.__all__:
        assert getattr(netcheck, name) is not None
    assert set(netcheck.__all__) <= set(dir(netcheck))
    with pytest.raises(AttributeError):
        netcheck.no_such_name  # noqa: B018


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_exports_what_it_imports_and_nothing_else(room):
    module = importlib.import_module(f"netcheck.{room}")
    assert module.__all__ == sorted(
        module.__all__, key=lambda name: (not name.isupper(), name[0].islower(), name)
    )
    for name in module.__all__:
        assert getattr(module, name) is not None
    public = {
        name
        for name, value in vars(module).items()
        if not name.startswith("_")
        and not isinstance(value, type(sys))
        and name not in {"annotations", "Any", "TYPE_CHECKING", "door"}
    }
    assert public == set(module.__all__)


@pytest.mark.parametrize("room", [room for room in ROOMS if "." not in room])
def test_a_door_tells_type_checkers_what_it_gives(room):
    """Both lists of a room that imports its modules when they are asked for."""
    tree = ast.parse((PACKAGE / room / "__init__.py").read_text(encoding="utf-8"))
    seen = [node for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    checked = {
        (node.module.rpartition(".")[2], alias.name)
        for node in seen
        for alias in node.names
        if node.module.startswith(f"netcheck.{room}.")
    }
    calls = [node for node in ast.walk(tree) if isinstance(node, ast.Call)]
    doors = [call for call in calls if isinstance(call.func, ast.Name) and call.func.id == "door"]
    given = {
        (place, name)
        for call in doors
        for place, names in ast.literal_eval(call.args[1]).items()
        for name in names.split()
    }
    assert given == (checked if doors else set())


def test_importing_the_package_imports_nothing_heavy():
    heavy = "numpy numba pydantic cantools can rich"
    code = f"import sys, netcheck; print([name for name in '{heavy}'.split() if name in sys.modules])"
    assert (
        subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
        == "[]\n"
    )


def test_a_plan_imports_no_room_that_it_does_not_use(tmp_path):
    job = Path(__file__).parent.parent / "sample_logs" / "guillemot_2021_camera.job.toml"
    rooms = "archive bench find page tap testing traces capture.live guide"
    rooms += " report.onsite report.readout report.recording report.authoring report.bench"
    rooms += " report.guide report.archive"
    code = (
        "import sys; from netcheck.cli import main; main(['plan', sys.argv[1], '-o', sys.argv[2]])\n"
        f"print([room for room in '{rooms}'.split() if f'netcheck.{{room}}' in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, job, tmp_path / "plan.txt"], capture_output=True, text=True, check=True
    )
    assert done.stdout == "[]\n"


def test_help_and_an_archive_import_only_what_they_use(tmp_path):
    code = (
        "import sys; from netcheck.cli import main; main(['archive', 'list', '--store', sys.argv[1]])\n"
        "print([name for name in ('duckdb', 'distributed', 'pandas', 'numba') if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, tmp_path / "none"], capture_output=True, text=True, check=True
    )
    assert done.stdout == "[]\n"
    assert "there is no archive here" in done.stderr


def test_a_survey_imports_no_interface():
    log = Path(__file__).parent.parent / "sample_logs" / "guillemot_2021_conversion.log"
    code = (
        "import sys; from netcheck.cli import main; main(['survey', sys.argv[1]])\n"
        "print([name for name in ('can', 'netcheck.capture.live') if name in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, log],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stderr.splitlines()[-1] == "[]"


def test_nothing_else_stands_at_the_top():
    root = Path(__file__).parent.parent
    listed = subprocess.run(["git", "ls-files"], cwd=root, capture_output=True, text=True, check=False)
    if listed.returncode:
        pytest.skip("not a git checkout")
    top = {line.split("/")[0] for line in listed.stdout.splitlines()}
    assert top == {
        ".ci", ".gitignore", "DEVELOPERS.md", "LICENSE", "README.md", "dbc", "netcheck", "pyproject.toml",
        "sample_logs", "tests",
    }  # fmt: skip


PRIVATE = re.compile(r"^\s*(?:from|import) netcheck\.([a-z_]+)\.(?:[a-z]+\.)?_[a-z_]+", re.MULTILINE)


@pytest.mark.parametrize("path", sorted(PACKAGE.rglob("*.py")), ids=lambda path: path.name)
def test_no_private_module_of_another_room_is_imported(path):
    room = path.relative_to(PACKAGE).parts[0]
    assert set(PRIVATE.findall(path.read_text(encoding="utf-8"))) <= {room}


def test_no_class_name_stands_twice():
    names = Counter(
        name
        for path in PACKAGE.rglob("*.py")
        for name in re.findall(r"^class (\w+)", path.read_text(encoding="utf-8"), re.MULTILINE)
    )
    assert [name for name, count in names.items() if count > 1] == []
