"""Pages in a real browser: they open from a file, their charts and ticks work, and nothing hostile runs."""

from __future__ import annotations

import base64
import io
from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from typing import Any

import pypdf
import pytest

from netcheck.page import page_pdf
from tests.page.browser import browser, complaints, look, missing, open_page
from tests.page.hostile import ATTACKS
from tests.page.made import demo_page, hostile_page, write_page
from tests.test_demo import SAMPLE_LOGS

if missing():
    pytest.skip(missing(), allow_module_level=True)

JOB = "guillemot_2021_camera_fitted"
pytestmark = pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::DeprecationWarning")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("pages")


@pytest.fixture(scope="module")
def driver() -> Iterator[Any]:
    with browser() as found:
        yield found


@pytest.fixture(scope="module")
def page(folder: Path) -> Path:
    demo_page.cache_clear()  # another module may have written it elsewhere
    demo_page(folder, JOB)
    return folder / f"{JOB}.html"


@pytest.fixture(scope="module")
def hostile(folder: Path) -> Path:
    hostile_page(folder)
    return folder / "hostile.html"


@pytest.fixture
def opened(driver: Any, page: Path) -> Any:
    look(driver, 1200)
    open_page(driver, page)
    assert complaints(driver) == []
    return driver


def run(driver: Any, script: str, *arguments: Any) -> Any:
    return driver.execute_script(script, *arguments)


BUTTON = "document.querySelector('[data-signal=\"reverse-engaged@conversion\"]')"
SHOW = f"{BUTTON}.click();"
SHOWN = f"document.getElementById({BUTTON}.dataset.target)"


def test_it_loads_nothing_and_says_nothing(opened: Any) -> None:
    assert run(opened, "return performance.getEntriesByType('resource').length") == 0
    assert run(opened, "return document.querySelectorAll('canvas').length") == 2  # the load, before and after


def test_a_click_shows_before_above_after_with_marks_and_frames(opened: Any) -> None:
    run(opened, SHOW)
    captions = run(opened, f"return [...{SHOWN}.querySelectorAll('figcaption')].map(one => one.textContent)")
    assert [text.split()[0] for text in captions] == ["Before", "After"]
    assert run(opened, f"return {SHOWN}.querySelectorAll('canvas').length") == 2
    text = run(opened, f"return {SHOWN}.textContent")
    assert "Mark (band): active, 5 s to 8 s." in text
    assert "Frames behind it: 14 of 640" in text
    rows = run(opened, f"return [...{SHOWN}.querySelectorAll('tbody tr')].map(one => one.textContent)")
    assert sum("on (1)" in row for row in rows) == 12
    run(opened, SHOW)
    assert run(opened, f"return {SHOWN}.hidden") is True
    assert complaints(opened) == []


def test_keys_wheel_buttons_and_a_drag_zoom_and_pan(opened: Any) -> None:
    run(opened, SHOW)
    shows = f"return {SHOWN}.querySelector('.plot').dataset.shows.split(' ').map(Number)"
    whole = run(opened, shows)
    assert whole == pytest.approx([0, 63.961], abs=0.01)
    event = "new KeyboardEvent('keydown', {key: arguments[0], bubbles: true})"
    press = f"{SHOWN}.querySelector('.plot').dispatchEvent({event});"
    run(opened, press, "+")
    half = run(opened, shows)
    assert half[1] - half[0] == pytest.approx(32, abs=0.1)
    run(opened, press, "ArrowRight")
    later = run(opened, shows)
    assert later[0] == pytest.approx(half[0] + 8, abs=0.1)
    run(opened, press, "0")
    assert run(opened, shows) == whole
    run(opened, f"[...{SHOWN}.querySelectorAll('button')].find(one => one.textContent === 'Zoom in').click()")
    assert run(opened, shows) == half
    wheel = "new WheelEvent('wheel', {deltaY: 100, ctrlKey: true, bubbles: true, cancelable: true})"
    run(opened, f"{SHOWN}.querySelector('.plot').dispatchEvent({wheel})")
    wider = run(opened, shows)
    assert wider[1] - wider[0] == pytest.approx(40, abs=0.1)
    run(opened, press, "0")
    box = run(
        opened,
        f"const over = {SHOWN}.querySelector('.u-over'); over.scrollIntoView({{block: 'center'}});"
        "const box = over.getBoundingClientRect(); return [box.left, box.top, box.width, box.height]",
    )
    for kind, share in (
        ("mousePressed", 0.25),
        ("mouseMoved", 0.4),
        ("mouseMoved", 0.5),
        ("mouseReleased", 0.5),
    ):
        place = {"x": box[0] + share * box[2], "y": box[1] + box[3] / 2}
        opened.execute_cdp_cmd(
            "Input.dispatchMouseEvent",
            {"type": kind, "button": "left", "buttons": 1, "clickCount": 1, **place},
        )
    dragged = run(opened, shows)
    assert dragged == pytest.approx([0.25 * whole[1], 0.5 * whole[1]], rel=0.03)
    assert complaints(opened) == []


def test_ticks_and_values_survive_a_reload_and_print_ticked(opened: Any, page: Path) -> None:
    first = "document.querySelectorAll('.step > input[type=checkbox]')[0]"
    field = "document.querySelector('#work input[type=text]')"
    run(opened, f"{first}.click(); {field}.value = '12.3 V'; {field}.dispatchEvent(new Event('input'));")
    open_page(opened, page)
    assert run(opened, f"return [{first}.checked, {field}.value]") == [True, "12.3 V"]
    assert run(opened, "return document.getElementById('progress').textContent").startswith("1 of ")
    text = printed_text(opened)
    assert "12.3 V" in text
    run(opened, "window.confirm = () => true; document.getElementById('clear').click();")
    open_page(opened, page)
    assert run(opened, f"return [{first}.checked, {field}.value]") == [False, ""]


def printed_text(driver: Any) -> str:
    told = driver.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True, "printBackground": False})
    document = pypdf.PdfReader(io.BytesIO(base64.b64decode(told["data"])))
    return " ".join(" ".join(one.extract_text() for one in document.pages).replace("ﬁ", "fi").split())


def test_a_step_with_boxes_and_blanks_reads_as_its_sentence(opened: Any) -> None:
    text = run(opened, "return document.getElementById('work').innerText.replace(/\\s+/g, ' ')")
    assert "the vehicle maker gives: starter battery second battery" in text
    assert "solar shore supply." in text


def test_the_customers_sheet_prints_alone(opened: Any) -> None:
    run(opened, "window.print = () => { window.printed = document.body.className; };")
    run(opened, "document.querySelector('[data-alone]').click()")
    assert run(opened, "return [window.printed, document.body.className]") == ["one-sheet", ""]
    run(
        opened,
        "document.body.className = 'one-sheet'; document.getElementById('handover').className = 'alone';",
    )
    text = printed_text(opened)
    assert "For the customer" in text
    assert "Use it safely" in text
    for word in ("Work order", "Verdict", "Technician", "Retrofit report"):
        assert word not in text


def test_the_print_has_all_sections(opened: Any) -> None:
    text = printed_text(opened)
    for title in run(opened, "return [...document.querySelectorAll('h2')].map(one => one.textContent)"):
        assert title in text
    for word in ("Work done by", "Handed over to", "PASS WITH NOTES", "26 of 26"):
        assert word in text
    assert "Open all charts" not in text


def test_the_pdf_has_all_sections_and_the_charts_of_every_need(opened: Any, page: Path, folder: Path) -> None:
    """The command's own print, of the same job: nobody opened a chart there."""
    titles = run(opened, "return [...document.querySelectorAll('h2')].map(one => one.textContent)")
    buttons = "[...document.querySelectorAll('button.show')].map(one => one.dataset.signal)"
    signals = run(opened, f"return {buttons}")
    assert len(signals) == 4
    document = pypdf.PdfReader(io.BytesIO(page_pdf(page.read_text(encoding="utf-8"))))
    text = " ".join(" ".join(one.extract_text() for one in document.pages).replace("ﬁ", "fi").split())
    for title in titles:
        assert title in text
    runs = run(opened, "return JSON.parse(document.getElementById('data').textContent).signals")
    for signal in signals:
        assert runs[signal]["title"] in text
    for when, file in (("Before", "conversion.log"), ("After", "conversion_after.log.gz")):
        assert text.count(f"{when} fitting: guillemot_2021_{file}, can0") == 5  # four needs, and the load
    sizes = {tuple(round(float(side)) for side in one.mediabox[2:]) for one in document.pages}
    assert sizes == {(595, 842)}  # A4 in points
    assert "Open all charts" not in text


def test_hostile_texts_do_nothing(driver: Any, hostile: Path) -> None:
    open_page(driver, hostile)
    run(driver, "document.getElementById('open-all').click()")
    run(driver, "for (const one of document.querySelectorAll('details')) one.open = true")
    assert "owned" not in run(driver, "return document.title.split('–')[0]")
    assert run(driver, "return document.querySelectorAll('img').length") == 0
    assert run(driver, "return document.scripts.length") == 4
    text = run(driver, "return document.body.innerText")
    assert text.count(" ".join(ATTACKS[0].split())) > 5
    assert "on</script><script>document.title='owned'</script> (1)" in text
    assert complaints(driver) == []


@pytest.fixture(scope="module")
def capture_pages(folder: Path) -> tuple[Path, Path]:
    log = str(SAMPLE_LOGS / "petrel_2017_drive.log.gz")
    survey, find = folder / "survey.html", folder / "find.html"
    write_page(survey, "--survey", log)
    write_page(find, "--find", log, "--role", "brake-pedal")
    return survey, find


def test_messages_sort_and_their_pictures_are_drawn(driver: Any, capture_pages: tuple[Path, Path]) -> None:
    look(driver, 1600)
    open_page(driver, capture_pages[0])
    column = "return [...document.querySelectorAll('tbody tr')].map(one => Number(one.cells[2].dataset.sort))"
    press = "[...document.querySelectorAll('button.sort')].find(one => one.textContent === 'Frames').click()"
    run(driver, press)
    counts = run(driver, column)
    assert counts == sorted(counts)
    run(driver, press)
    assert run(driver, column) == counts[::-1]
    shades = run(
        driver,
        "const canvas = document.querySelector('canvas.heat');"
        "const pixels = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data;"
        "return new Set(pixels).size",
    )
    assert shades > 3
    assert complaints(driver) == []


@pytest.mark.parametrize("width", [360, 1600])
def test_pages_of_captures_fit_and_are_accessible(
    driver: Any, capture_pages: tuple[Path, Path], width: int
) -> None:
    for one in capture_pages:
        look(driver, width, "light" if width > 1000 else "dark")
        open_page(driver, one)
        assert run(driver, "return document.documentElement.scrollWidth") <= width
        run(driver, AXE)
        found = driver.execute_async_script(ASK)
        assert [entry for entry in found if entry[1] in {"serious", "critical"}] == []
        assert complaints(driver) == []


AXE = (resources.files("axe_core_python") / "axe.min.js").read_text("utf-8")
ASK = """const done = arguments[arguments.length - 1];
axe.run(document, {resultTypes: ['violations']}).then(
  (found) => done(found.violations.map((one) => [one.id, one.impact, one.nodes.map((node) => node.html)])),
  (error) => done([['axe', 'serious', [String(error)]]]));"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_screen_reader_finds_its_way(driver: Any, page: Path, scheme: str) -> None:
    look(driver, 1200, scheme)
    open_page(driver, page)
    run(driver, SHOW)
    run(driver, f"for (const one of {SHOWN}.querySelectorAll('details')) one.open = true")
    run(driver, AXE)
    found = driver.execute_async_script(ASK)
    assert [entry for entry in found if entry[1] in {"serious", "critical"}] == []


@pytest.mark.parametrize("width", [360, 800, 1600])
def test_nothing_is_wider_than_the_window(driver: Any, page: Path, hostile: Path, width: int) -> None:
    for one in (page, hostile):
        look(driver, width)
        open_page(driver, one)
        run(driver, "document.getElementById('open-all').click()")
        assert run(driver, "return document.documentElement.scrollWidth") <= width
