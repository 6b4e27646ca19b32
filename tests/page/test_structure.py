"""Every page: one file that loads nothing, in which texts of others stay texts. Without a browser."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

import pytest

from netcheck.page._document import island
from tests.page.checked import check_page
from tests.page.hostile import ATTACKS
from tests.page.made import JOBS, demo_page, hostile_page

ASSETS = Path(__file__).parents[2] / "netcheck" / "page" / "assets"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("pages")


@pytest.fixture(scope="module")
def hostile(folder: Path) -> str:
    return hostile_page(folder)


@pytest.mark.parametrize("job", JOBS)
def test_a_page_of_the_demo_is_whole_and_loads_nothing(folder: Path, job: str) -> None:
    page = check_page(demo_page(folder, job))
    assert len(page.all("script")) == 4
    assert page.one("h1").whole_text == job


def test_texts_of_others_stay_texts(hostile: str) -> None:
    page = check_page(hostile)
    assert len(page.all("script")) == 4
    assert page.all("img") == []
    assert not re.search("[\u202a-\u202e\u2028\u2066-\u2069]", hostile)
    text = page.one("main").whole_text
    for attack in ATTACKS[:-1]:
        assert " ".join(attack.split()) in text
    data = json.loads(page.one("script", type="application/json").text)
    labels = data["signals"]["reverse-engaged@body"]["runs"][0]["labels"]
    assert labels["1"] == "on</script><script>document.title='owned'</script>"
    assert data["signals"]["old-source@body"]["unit"] == "<img src=x onerror=document.title=1>"


def test_the_same_job_gives_the_same_bytes(folder: Path) -> None:
    job = "guillemot_2021_camera_fitted"
    before = demo_page(folder, job)
    demo_page.cache_clear()
    assert demo_page(folder, job) == before


def test_json_in_a_page_ends_no_element() -> None:
    told = {"text": "</script><!--<script>&amp;\u2028\ud800"}
    assert not re.search("[<>&\u2028]", island(told))
    assert json.loads(island(told)) == told


# What npm gives as uplot 1.6.32: the digests of its files, as they came.
UPLOT = {
    "uplot-1.6.32.iife.min.js": "19c8d4c6ad88929a79f4ae49d6f7161566dfd0ba3d15cc495e974f787eb78f1f",
    "uplot-1.6.32.min.css": "df630c6a8d6f8eeaff264b50f73ce5b114f646ffd9a0bb74f049b0a00135fa04",
    "uplot.LICENSE.txt": "8f989229699b4fe2f1a0432d0e9edc338a8a911e250e2d1b01ecd770a5f5b1bd",
}


@pytest.mark.parametrize("name", UPLOT)
def test_what_is_carried_of_others_is_as_it_came(name: str) -> None:
    assert hashlib.sha256((ASSETS / name).read_bytes()).hexdigest() == UPLOT[name]


def test_its_version_and_licence_are_told() -> None:
    assert "(v1.6.32)" in (ASSETS / "uplot-1.6.32.iife.min.js").read_text("utf-8").partition("\n")[0]
    assert "MIT License" in (ASSETS / "uplot.LICENSE.txt").read_text("utf-8")
