"""The report as a reader meets it: opened from disk in Chromium, which is the judge of what it shows and does."""

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any
from unicodedata import normalize

import numpy as np
import pypdf
import pytest
from ezdxf.filemanagement import new
from playwright.sync_api import Locator, Page

from fabplan.geom.profile import circle, rectangle
from fabplan.model.checked import Checked
from fabplan.model.drawing import Drawing, Entry, Label
from fabplan.model.finding import Finding, Level, Where
from fabplan.model.holes import Holes
from fabplan.model.profile import Profile
from fabplan.way.look import Outcome, Wanted, look
from fabplan.way.report import write_report
from tests.browser.conftest import Open

ROOT = Path(__file__).parents[2]
HURT = ["<script>window.hurt=1</script>", '"><img src=x onerror=hurt=1>', "</script><svg onload=hurt=1>", "'`${hurt=1}"]


def checked(drawing: Drawing, *findings: Finding) -> Outcome:
    return Outcome((Checked(drawing, None, findings, ()),), findings, ())


def at(x: float, y: float, check: str = "stray-line") -> Finding:
    return Finding(check, Level.STOP, "a line closes no profile", Where(xy=(x, y)), 60.0, 0.0)


def holes(xy: np.ndarray[Any, Any], diameters: np.ndarray[Any, Any]) -> Holes:
    count = len(xy)
    numbers = tuple(map(str, range(1, count + 1)))
    return Holes(xy, diameters, ("",) * count, numbers, ("rivet",) * count, ("",) * count)


PLATE = Drawing("plate.dxf", outline=rectangle(1000.0, 2000.0, 1600.0, 2300.0), scanned=0)
FOUND = (at(1100.0, 2050.0), at(1550.0, 2250.0), at(1100.0, 2050.0, "zero-length"))


@pytest.fixture(scope="module")
def faulty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("faulty") / "faulty.html"
    write_report(look(Wanted(ROOT / "drawings" / "faulty")), path)
    return path


@pytest.fixture
def plate(tmp_path: Path, opened: Open) -> Page:
    write_report(checked(PLATE, *FOUND), tmp_path / "plate.html")
    return opened(tmp_path / "plate.html").page


def middle(place: Locator) -> tuple[float, float]:
    box = place.bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2.0, box["y"] + box["height"] / 2.0


def under(page: Page, x: float, y: float) -> list[float]:
    """The picture's own place under a point of the screen, mm, and how many px a mm is, by the browser's own sums."""
    found: list[float] = page.evaluate(
        """([x, y]) => {
          const turn = document.querySelector('.plate svg').getScreenCTM();
          const at = new DOMPoint(x, y).matrixTransform(turn.inverse());
          return [at.x, at.y, turn.a];
        }""",
        [x, y],
    )
    return found


def zoomed(page: Page, scale: float) -> None:
    """Wait till a mm is more px than it was, 5 s at most; the page's policy forbids the driver's own way to wait."""
    page.evaluate(
        """scale => new Promise(done => {
          const until = performance.now() + 5000;
          const look = () => document.querySelector('.plate svg').getScreenCTM().a > scale || performance.now() > until
            ? done() : requestAnimationFrame(look);
          look();
        })""",
        scale,
    )


def settle(page: Page) -> None:
    page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")


def test_a_report_opens_from_disk_and_asks_for_nothing(faulty: Path, opened: Open) -> None:
    report = opened(faulty)
    assert report.asked == [faulty.as_uri()]
    assert report.said == []
    assert report.page.locator("article").count() == len(list((ROOT / "drawings" / "faulty").glob("*.dxf")))


@pytest.mark.parametrize("width", [360, 768, 1280, 1600])
def test_a_report_fits_its_window(faulty: Path, opened: Open, width: int) -> None:
    page = opened(faulty, width, 740).page
    assert page.evaluate("document.documentElement.scrollWidth") == width


def test_the_policy_lets_no_other_script_run(faulty: Path, opened: Open) -> None:
    report = opened(faulty)
    report.page.evaluate(
        """() => { const one = document.createElement('script'); one.textContent = 'window.hurt = 1';
        const image = new Image(); image.src = 'https://example.org/x'; document.body.append(one, image) }"""
    )
    settle(report.page)
    assert report.page.evaluate("window.hurt") is None
    assert any("Content Security Policy" in line for line in report.said)


def test_the_list_of_drawings_leads_to_each(faulty: Path, opened: Open) -> None:
    page = opened(faulty).page
    stops = [int(text) for text in page.locator("nav tbody td:nth-child(4)").all_inner_texts()]
    assert stops == sorted(stops, reverse=True)
    page.locator("nav a", has_text="zero-length.dxf").click()
    settle(page)
    heading = page.get_by_role("heading", name="zero-length.dxf")
    box = heading.bounding_box()
    assert box is not None
    assert 0.0 <= box["y"] < 900.0


def test_the_wheel_zooms_about_the_pointer_and_rings_keep_their_size(plate: Page) -> None:
    centre = middle(plate.locator(".plate"))
    spot = round(centre[0]) + 150, round(centre[1]) - 60
    before, ring = under(plate, *spot), plate.locator(".ring circle").nth(1).bounding_box()
    plate.mouse.move(*spot)
    plate.mouse.wheel(0, -240)
    zoomed(plate, before[2])
    after, later = under(plate, *spot), plate.locator(".ring circle").nth(1).bounding_box()
    assert after[2] > 1.5 * before[2]
    assert after[:2] == pytest.approx(before[:2], abs=0.05)
    assert ring
    assert later
    assert later["width"] == pytest.approx(ring["width"], abs=0.1)


def test_a_drag_pans(plate: Page) -> None:
    x, y = middle(plate.locator(".plate"))
    before = under(plate, x, y)
    plate.mouse.move(x, y)
    plate.mouse.down()
    plate.mouse.move(x + 80.0, y + 40.0, steps=4)
    plate.mouse.up()
    settle(plate)
    assert under(plate, x + 80.0, y + 40.0) == pytest.approx(before, abs=0.05)


def test_two_fingers_zoom(tmp_path: Path, opened: Open) -> None:
    write_report(checked(PLATE, *FOUND), tmp_path / "plate.html")
    page = opened(tmp_path / "plate.html", 360, 740, touch=True).page
    x, y = middle(page.locator(".plate"))
    before, touch = under(page, x, y)[2], page.context.new_cdp_session(page)
    for kind, apart in [("touchStart", 20), ("touchMove", 30), ("touchMove", 60), ("touchMove", 80)]:
        points = [{"x": x - apart, "y": y, "id": 0}, {"x": x + apart, "y": y, "id": 1}]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    settle(page)
    assert under(page, x, y)[2] == pytest.approx(4.0 * before, rel=0.2)


@pytest.mark.parametrize("act", ["click", "Enter", "row"])
def test_a_picked_finding_is_ringed_and_in_the_middle(plate: Page, act: str) -> None:
    number = plate.get_by_role("button", name="show finding 2")
    if act == "row":
        plate.locator(".findings tr[data-n='2'] .check").click()
    elif act == "click":
        number.click()
    else:
        number.focus()
        plate.keyboard.press(act)
    settle(plate)
    ring = plate.locator(".ring.picked")
    assert ring.get_attribute("data-n") == "2"
    assert middle(ring.locator("circle").last) == pytest.approx(middle(plate.locator(".plate svg")), abs=1.5)
    assert plate.locator(".findings [aria-current]").get_attribute("data-n") == "2"
    # the drawing's own place is there: 550 mm from the left edge, 50 mm from the upper one
    assert under(plate, *middle(plate.locator(".plate svg")))[:2] == pytest.approx([550.0, 50.0], abs=0.5)


def test_a_picked_ring_marks_its_row_in_sight(faulty: Path, opened: Open) -> None:
    page = opened(faulty, 1280, 720).page
    article = page.locator("article", has=page.get_by_role("heading", name="stray-line.dxf"))
    article.locator(".ring").first.click()
    row, picture = article.locator(".findings tr.picked").bounding_box(), article.locator(".picture").bounding_box()
    assert row
    assert picture
    assert picture["y"] + picture["height"] <= row["y"] + 1.0
    assert row["y"] + 20.0 < 720.0


def test_findings_at_one_place_share_a_ring_and_are_picked_in_turn(plate: Page) -> None:
    ring = plate.locator(".ring[data-n='1 3']")
    assert ring.locator("text").inner_html() == "1, 3"
    picked = []
    for _ in range(3):
        ring.locator("circle").last.click()
        picked.append(plate.locator(".findings .picked").get_attribute("data-n"))
    assert picked == ["1", "3", "1"]


def test_keys_and_buttons_zoom_pan_and_fit(plate: Page) -> None:
    centre = middle(plate.locator(".plate svg"))
    start = under(plate, *centre)
    plate.locator(".plate").focus()
    for key in ("+", "ArrowRight"):
        plate.keyboard.press(key)
    settle(plate)
    now = under(plate, *centre)
    assert now[2] > start[2]
    assert now[0] > start[0]
    plate.keyboard.press("0")
    settle(plate)
    assert under(plate, *centre) == pytest.approx(start, abs=1e-3)
    plate.get_by_role("button", name="zoom out").click()
    settle(plate)
    assert under(plate, *centre)[2] < start[2]
    plate.get_by_role("button", name="show the whole plate").click()
    settle(plate)
    assert under(plate, *centre) == pytest.approx(start, abs=1e-3)


def test_every_control_is_reached_by_the_tab_key(plate: Page) -> None:
    reached = []
    for _ in range(7):
        plate.keyboard.press("Tab")
        reached.append(plate.evaluate("document.activeElement.ariaLabel?.split(',')[0]"))
        assert plate.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    assert reached[1:4] == ["zoom in", "zoom out", "show the whole plate"]
    assert reached[4:] == ["show finding 1", "show finding 2", "show finding 3"]


SLOT = Profile(np.array([[0.0, 0.0], [200.0, 0.0], [200.0, 100.0], [0.0, 100.0]]), np.array([0.0, 1.0, 0.0, 1.0]))


@pytest.mark.parametrize(
    ("profile", "length", "size"),
    [
        (SLOT, 400.0 + 100.0 * math.pi, (300.0, 100.0)),
        (circle((50.0, 50.0), 40.0), 80.0 * math.pi, (80.0, 80.0)),
        # a quarter of a disc of radius 100, and three quarters of one: tangents of 22.5 and 67.5 degrees
        (
            Profile(np.array([[0.0, 0.0], [100.0, 0.0], [0.0, 100.0]]), np.array([0.0, math.tan(math.pi / 8), 0.0])),
            200.0 + 50.0 * math.pi,
            (100.0, 100.0),
        ),
        (
            Profile(np.array([[0.0, 0.0], [0.0, 100.0], [100.0, 0.0]]), np.array([0, math.tan(3 * math.pi / 8), 0])),
            200.0 + 150.0 * math.pi,
            (200.0, 200.0),
        ),
    ],
)
def test_arcs_are_arcs(
    profile: Profile, length: float, size: tuple[float, float], tmp_path: Path, opened: Open
) -> None:
    """Lengths and boxes by hand; measured by the browser on its own path."""
    write_report(checked(replace(PLATE, outline=profile)), tmp_path / "a.html")
    page = opened(tmp_path / "a.html").page
    told = page.evaluate(
        """() => { const one = document.querySelector('.metal'), box = one.getBBox();
        return [one.getTotalLength(), box.width, box.height] }"""
    )
    assert told == pytest.approx([length, *size], rel=2e-4)


def test_ten_thousand_holes_are_a_few_nodes(tmp_path: Path, opened: Open) -> None:
    """Circumferences summed by hand: 5,000 of 11 mm and 5,000 of 14 mm."""
    xy = np.stack(np.meshgrid(np.arange(100.0), np.arange(100.0)), axis=-1).reshape(-1, 2) * 40.0 + 40.0
    diameters = np.where(np.arange(10_000) % 2, 11.0, 14.0)
    drawing = replace(PLATE, outline=rectangle(0.0, 0.0, 4040.0, 4040.0), holes=holes(xy, diameters))
    write_report(checked(drawing, at(2000.0, 2000.0)), tmp_path / "many.html")
    report = opened(tmp_path / "many.html")
    page = report.page
    for letter, diameter in (("A", 11.0), ("B", 14.0)):
        lengths = page.locator(f".hole[data-letter={letter}]").evaluate_all(
            "all => all.map(one => one.getTotalLength())"
        )
        assert sum(lengths) == pytest.approx(5000 * diameter * math.pi, rel=1e-3)
    assert page.evaluate("document.querySelectorAll('.drawn *').length") < 100
    assert page.evaluate("document.querySelectorAll('*').length") < 1200
    page.get_by_role("button", name="show finding 1").click()
    settle(page)
    assert middle(page.locator(".ring circle").last) == pytest.approx(middle(page.locator(".plate svg")), abs=1.5)
    assert report.said == []


def hostile_drawing() -> Outcome:
    account = tuple(Entry("1F", text, text, fate, text) for text in HURT for fate in ("set aside", "reported"))
    labels = tuple(Label(text, (0.0, 0.0), 5.0, text) for text in [*HURT, "x" * 1_000_000, "\ud800\x00\u202e"])
    xy = np.array([[1100.0 + 90.0 * k, 2100.0] for k in range(len(HURT))])
    count = len(HURT)
    own = Holes(xy, np.full(count, 11.0), tuple(HURT), tuple(HURT), ("rivet",) * count, tuple(HURT))
    drawing = replace(
        PLATE, name=HURT[0], holes=own, labels=labels, account=account, units_reason=HURT[1], fingerprint=HURT[0]
    )
    found = [
        Finding(text, Level.STOP, text, Where(text, text, text, (text,), (text,), (1200.0, 2100.0)), 1.0, 2.0, text)
        for text in HURT
    ]
    endless = Finding("x", Level.NOTE, "y" * 1_000_000, Where(xy=(math.nan, 1e300)), math.inf, math.nan, "mm", "z", "")
    outcome = checked(drawing, *(replace(one, source=one.what, mend=one.what) for one in found), endless)
    return replace(outcome, checked=(*outcome.checked, Checked(PLATE, None, (), tuple(HURT), tuple(HURT))))


def hostile_file(folder: Path) -> Outcome:
    doc = new("R2010")
    doc.layers.add("LAYERNAME")
    space = doc.modelspace()
    space.add_lwpolyline([(0, 0), (300, 0), (300, 200), (0, 200)], close=True, dxfattribs={"layer": "CUT"})
    space.add_line((10, 10), (50, 10), dxfattribs={"layer": "LAYERNAME"})
    for text in [*HURT, "x" * 1_000_000]:
        space.add_text(text, dxfattribs={"layer": "LAYERNAME"})
    doc.saveas(folder / "hostile.dxf")
    written = (folder / "hostile.dxf").read_text("utf-8").replace("LAYERNAME", HURT[1])
    (folder / "hostile.dxf").write_text(written, "utf-8")
    return look(Wanted(folder / "hostile.dxf"))


@pytest.mark.parametrize("made", [lambda _: hostile_drawing(), hostile_file], ids=["every field", "a file"])
def test_what_a_drawing_says_does_nothing(made: Callable[[Path], Outcome], tmp_path: Path, opened: Open) -> None:
    path = tmp_path / "report.html"
    write_report(made(tmp_path), path)
    report = opened(path)
    page = report.page
    for button in page.locator(".number").all():
        button.click()
    assert page.evaluate("window.hurt") is None
    assert report.said == []
    assert report.asked == [path.as_uri()]
    assert page.locator("script").count() == 1
    assert page.locator("img, [onload], [onerror], [style]:not(.bar)").count() == 0
    assert "onerror=hurt=1" in page.locator("body").inner_text()
    assert page.evaluate("document.documentElement.scrollWidth") == 1600
    assert path.stat().st_size < 200_000


def test_absurd_numbers_leave_a_picture(tmp_path: Path, opened: Open) -> None:
    xy = np.array([[1100.0, 2100.0], [1e300, 0.0], [math.nan, 1.0], [-math.inf, 5.0]])
    drawing = replace(PLATE, holes=holes(xy, np.array([11.0, 11.0, math.nan, 1e300])))
    write_report(checked(drawing, at(1e200, 0.0), at(math.nan, 1.0)), tmp_path / "a.html")
    report = opened(tmp_path / "a.html")
    assert report.said == []
    assert report.page.locator(".hole").count() == 1
    assert "3 things too far off to show" in report.page.locator("figcaption").inner_text()
    assert report.page.locator(".number, .ring").count() == 0
    assert report.page.locator(".metal").bounding_box()


def test_a_report_prints_a_drawing_a_page(faulty: Path, plate: Page, opened: Open, tmp_path: Path) -> None:
    """Read back by pypdf: A4 is 210 x 297 mm, 595 x 842 points."""
    plate.pdf(path=tmp_path / "plate.pdf", prefer_css_page_size=True)
    (sheet,) = pypdf.PdfReader(tmp_path / "plate.pdf").pages
    assert (float(sheet.mediabox.width), float(sheet.mediabox.height)) == pytest.approx((595.0, 842.0), abs=1.0)
    opened(faulty).page.pdf(path=tmp_path / "faulty.pdf", prefer_css_page_size=True)
    sheets = pypdf.PdfReader(tmp_path / "faulty.pdf").pages
    texts = [normalize("NFKC", page.extract_text()) for page in sheets]  # a font may set fi as one sign
    for name in ("open-profile.dxf", "thin-web.dxf"):
        assert sum(text.lstrip().startswith(name) for text in texts) == 1


def test_the_marks_of_a_page_for_readers_of_every_kind(faulty: Path, opened: Open) -> None:
    page = opened(faulty).page
    assert page.evaluate("document.documentElement.lang") == "en-GB"
    levels = page.evaluate("[...document.querySelectorAll('h1,h2,h3')].map((one) => Number(one.tagName[1]))")
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    assert page.locator("th:not([scope])").count() == 0
    assert page.locator("button:not([aria-label])").count() == 0
    assert page.evaluate("new Set([...document.querySelectorAll('[id]')].map((one) => one.id)).size") == (
        page.locator("[id]").count()
    )
