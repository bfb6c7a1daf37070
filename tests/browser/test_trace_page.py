"""Holes traced over a synthetic photograph in Chromium: the plate is known, and seen through a known perspective.

Judges: the plate that Pillow drew and its perspective; for ellipses scipy's least squares of true distances.
"""

import csv
import io
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from playwright.sync_api import Page
from scipy.optimize import least_squares, minimize_scalar

from fabplan.cli import root
from fabplan.sheets.trace_page import trace_page
from fabplan.way.plan import plan
from tests.browser.conftest import Open
from tests.kits.draw import write_drawings
from tests.kits.job_file import job_text
from tests.way.test_measured import HOLES, kit

Array = NDArray[np.float64]
FINE = 8.0  # pixels a millimetre of the plate that is drawn before it is seen in perspective
WIDE, HIGH = 320.0, 140.0
SEEN = (900, 520)  # pixels of the photograph
CORNERS = np.array([[10.0, 10.0], [310.0, 10.0], [310.0, 130.0], [10.0, 130.0]])  # of the marked rectangle, mm
AT = np.array([[60.0, 450.0], [850.0, 480.0], [800.0, 90.0], [110.0, 60.0]])  # where the camera sees them, pixels
OVAL = 5  # the hole that is 14 by 11 mm, at 30 degrees


def perspective(real: Array, seen: Array) -> Array:
    """(3, 3) from mm to pixels, by the null vector of the equations of four pairs or more."""
    rows = []
    for (x, y), (u, v) in zip(real, seen, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y, -u], [0, 0, 0, x, y, 1, -v * x, -v * y, -v]]
    found: Array = np.linalg.svd(np.array(rows))[2][-1].reshape(3, 3)
    found /= found[2, 2]
    return found


TO_SEEN = perspective(CORNERS, AT)


def seen(points: Array, by: Array = TO_SEEN) -> Array:
    """Points (n, 2) through a perspective."""
    through = np.column_stack([points, np.ones(len(points))]) @ by.T
    flat: Array = through[:, :2] / through[:, 2:]
    return flat


def edge(hole: int, count: int = 12) -> Array:
    """(count, 2) points of the edge of a hole on the plate, mm."""
    turn = 2.0 * np.pi * np.arange(count) / count
    a, b, tilt = (7.0, 5.5, np.radians(30.0)) if hole == OVAL else (5.5, 5.5, 0.0)
    c, s = np.cos(tilt), np.sin(tilt)
    own = np.column_stack([a * np.cos(turn), b * np.sin(turn)]) @ np.array([[c, s], [-s, c]])
    found: Array = HOLES[hole] + own
    return found


@pytest.fixture(scope="module")
def photograph(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The plate drawn fine, y up, and then seen through the perspective."""
    drawn = Image.new("L", (int(WIDE * FINE), int(HIGH * FINE)), 190)
    pen = ImageDraw.Draw(drawn)

    def at(points: Array) -> list[tuple[float, float]]:
        return [(x * FINE, (HIGH - y) * FINE) for x, y in points.tolist()]

    for hole in range(len(HOLES)):
        pen.polygon(at(edge(hole, 180)), fill=20)
    for corner in CORNERS:
        for way in ([[4.0, 0.0]], [[0.0, 4.0]]):
            pen.line(at(np.vstack([corner - way, corner + way])), fill=0, width=4)
    back = np.linalg.inv(TO_SEEN)
    fine = np.array([[FINE, 0.0, 0.0], [0.0, -FINE, HIGH * FINE], [0.0, 0.0, 1.0]]) @ back
    fine = fine / fine[2, 2]
    picture = drawn.transform(SEEN, Image.Transform.PERSPECTIVE, fine.ravel()[:8].tolist(), Image.Resampling.BICUBIC)
    path = tmp_path_factory.mktemp("photo") / "bracket, lower.png"
    picture.save(path)
    return path


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "trace.html"
    assert CliRunner().invoke(root, ["trace", str(path)]).exit_code == 0
    assert path.read_text("utf-8") == trace_page()
    return path


def started(opened: Open, written: Path, photograph: Path) -> Page:
    page = opened(written, 1600, 1400).page
    page.set_input_files("#photo", photograph)
    page.wait_for_selector("#plate[width='900']")
    return page


def say(page: Page, name: str, words: str) -> None:
    page.fill(f"#{name}", words)
    page.press(f"#{name}", "Tab")


def click(page: Page, mode: str, points: Array) -> Array:
    """Clicks on whole pixels of the photograph; where they were."""
    page.check(f"input[name=mode][value={mode}]")
    whole = np.round(points)
    for u, v in whole.tolist():
        page.locator("#plate").click(position={"x": u, "y": v})
    return whole


def scaled(page: Page) -> Array:
    say(page, "wide", "300")
    say(page, "high", "120")
    return click(page, "scale", AT)


def table(page: Page) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(page.input_value("#csv"))))


def figures(rows: list[dict[str, str]], *names: str) -> Array:
    return np.array([[float(row[name] or "nan") for name in names] for row in rows])


def outline(photograph: Path, hole: int) -> Array:
    """(12, 2) pixels where the picture turns from hole to plate, looked for outwards from the middle."""
    grey = np.asarray(Image.open(photograph), dtype=np.float64)
    middle = seen(HOLES[hole : hole + 1])[0]
    ways = seen(edge(hole)) - middle
    found = []
    for way in ways:
        line = middle + np.arange(0.5, 1.5, 0.005)[:, None] * way
        shade = grey[np.floor(line[:, 1]).astype(int), np.floor(line[:, 0]).astype(int)]
        found.append(line[int(np.argmax(shade > 105.0))])
    return np.array(found)


def judged(points: Array) -> Array:
    """Middle, greatest and least diameter of the ellipse of least true distances, by scipy."""

    def off(at: Array) -> list[float]:
        c, s = np.cos(at[4]), np.sin(at[4])
        own = (points - at[:2]) @ np.array([[c, -s], [s, c]])
        return [_to_ellipse(p, at[2], at[3]) for p in own]

    middle = points.mean(axis=0)
    start = np.r_[middle, 7.0, 5.5, 0.5]
    at: Array = least_squares(off, start, diff_step=np.full(5, 1e-5)).x
    found: Array = np.r_[at[:2], 2.0 * at[2:4].max(), 2.0 * at[2:4].min()]
    return found


def _to_ellipse(point: Array, a: float, b: float) -> float:
    """Distance of a point from an ellipse along the axes, the least over its edge; negative inside."""
    near = float(np.arctan2(point[1] / b, point[0] / a))

    def apart(turn: float) -> float:
        return float(np.hypot(point[0] - a * np.cos(turn), point[1] - b * np.sin(turn)))

    least = float(
        minimize_scalar(apart, bounds=(near - 0.5, near + 0.5), method="bounded", options={"xatol": 1e-10}).fun
    )
    return least if float(np.hypot(point[0] / a, point[1] / b)) > 1.0 else -least


def test_middles_lie_where_the_plate_has_them_within_the_stated_accuracy(
    opened: Open, written: Path, photograph: Path
) -> None:
    """The rectangle's foot left corner lies at (10, 10) of the plate; all clicks are off by up to half a pixel."""
    page = started(opened, written, photograph)
    scaled(page)
    say(page, "click", "0.7")
    say(page, "number", "A 1")
    click(page, "middle", seen(HOLES))
    rows = table(page)
    assert [row["hole"] for row in rows] == [f"A {k}" for k in range(1, 15)]
    off = np.linalg.norm(figures(rows, "x", "y") - (HOLES - [10.0, 10.0]), axis=1)
    accuracy = figures(rows, "accuracy")[:, 0]
    assert np.all(off <= accuracy)
    assert 0.2 < accuracy.max() < 0.8
    assert off.max() > 0.02  # clicks are not exact, and the table does not say that they are
    assert all("nothing proves the scale" in row["doubt"] and "lens not corrected" in row["doubt"] for row in rows)
    assert rows[0]["source"] == "photograph bracket, lower.png"


def test_an_oval_is_measured_round_its_edge_as_scipy_measures_it(opened: Open, written: Path, photograph: Path) -> None:
    page = started(opened, written, photograph)
    corners = scaled(page)
    say(page, "click", "0.7")
    say(page, "number", "A 5")
    round_one = click(page, "edge", outline(photograph, 4))
    page.click("#next")
    long_one = click(page, "edge", outline(photograph, OVAL))
    rows = table(page)
    back = np.asarray(np.linalg.inv(perspective(CORNERS - [10.0, 10.0], corners)), dtype=np.float64)
    found = figures(rows, "x", "y", "diameter", "least_diameter")
    judge = [judged(seen(one, back)) for one in (round_one, long_one)]
    assert found[1] == pytest.approx(judge[1], abs=0.03)
    assert found[0, :2] == pytest.approx(judge[0][:2], abs=0.03)
    assert found[1] == pytest.approx(np.r_[HOLES[OVAL] - 10.0, 14.0, 11.0], abs=0.35)
    assert found[0, :3] == pytest.approx(np.r_[HOLES[4] - 10.0, 11.0], abs=0.35)
    assert np.isnan(found[0, 3])  # round within the doubt of its clicks


def test_a_fifth_point_proves_the_scale_and_what_it_is_off_is_the_accuracy(
    opened: Open, written: Path, photograph: Path
) -> None:
    """The middle of the rectangle, said to lie 4 mm to the right of where it does."""
    page = started(opened, written, photograph)
    scaled(page)
    click(page, "scale", seen(np.array([[160.0, 70.0]])))
    for name, value in (("x", "154"), ("y", "60")):
        page.get_by_label(f"{name} of scale point 5").fill(value)
        page.get_by_label(f"{name} of scale point 5").press("Tab")
    click(page, "middle", seen(HOLES[:1]))
    (row,) = table(page)
    shown = [float(one) for one in page.locator("#scale tbody td:nth-child(4)").all_inner_texts()]
    assert len(shown) == 5
    assert shown[4] > 1.0
    assert float(row["accuracy"]) >= max(shown)
    assert "nothing proves" not in row["doubt"]


def test_a_known_size_proves_it_too(opened: Open, written: Path, photograph: Path) -> None:
    """Holes A 1 and A 7 are 240 mm apart; said to be 241.5 the photograph shows 1.5 less."""
    page = started(opened, written, photograph)
    scaled(page)
    click(page, "size", seen(HOLES[[0, 6]]))
    page.get_by_label("length of size 1").fill("241,5")
    page.get_by_label("length of size 1").press("Tab")
    click(page, "middle", seen(HOLES[:1]))
    less = float(page.locator("#sizes tbody td:nth-child(3)").inner_text())
    assert less == pytest.approx(-1.5, abs=0.4)
    (row,) = table(page)
    assert float(row["accuracy"]) >= abs(less) - 0.005


def test_two_points_give_the_scale_of_a_photograph_taken_square(opened: Open, written: Path, photograph: Path) -> None:
    """300 mm over 750 pixels are 0.4 mm each: 250 pixels right of the first point and 100 up is (100, 40)."""
    page = started(opened, written, photograph)
    page.check("#square")
    say(page, "apart", "300")
    click(page, "scale", np.array([[100.0, 400.0], [850.0, 400.0]]))
    click(page, "middle", np.array([[350.0, 300.0]]))
    (row,) = table(page)
    assert figures([row], "x", "y")[0] == pytest.approx([100.0, 40.0], abs=0.01)
    assert "photograph taken as square to the plate; nothing proves the scale" in row["doubt"]
    assert row["accuracy"] == "0.6"  # y: its own click and that of the first point, 0.4 mm each: 0.57, rounded up


def test_nothing_is_mirrored(opened: Open, written: Path, photograph: Path) -> None:
    page = started(opened, written, photograph)
    say(page, "wide", "300")
    say(page, "high", "120")
    click(page, "scale", AT[[1, 0, 3, 2]])
    click(page, "middle", seen(HOLES[:1]))
    assert "Nothing is mirrored here" in page.inner_text("#said")
    assert table(page) == []
    assert page.is_disabled("#save")


def test_the_saved_table_is_read_by_a_job_with_its_doubt(
    opened: Open, written: Path, photograph: Path, tmp_path: Path
) -> None:
    report = opened(written, 1600, 1400)
    page = report.page
    page.set_input_files("#photo", photograph)
    page.wait_for_selector("#plate[width='900']")
    scaled(page)
    say(page, "source", 'album "B", 1931')
    say(page, "number", "A 1")
    click(page, "middle", seen(HOLES))
    with page.expect_download() as waiting:
        page.click("#save")
    waiting.value.save_as(tmp_path / "photo.csv")
    assert waiting.value.suggested_filename == "bracket, lower.csv"
    assert [line for line in report.said if "GL Driver" not in line] == []
    assert [one for one in report.asked if not one.startswith("blob:")] == [written.as_uri()]
    write_drawings(kit(), tmp_path)
    told = job_text(kit()).replace('mark = "B1"\n', 'mark = "B1"\nmeasured = { holes = "photo.csv" }\n')
    (tmp_path / "job.toml").write_text(told, "utf-8")
    found = plan(tmp_path / "job.toml")
    (what,) = [one.what for one in found.findings if one.check == "measured-holes"]
    assert 'photograph bracket, lower.png album "B", 1931; doubt: lens not corrected' in what
    assert "0 off the drawing by more than the accuracy" in what
