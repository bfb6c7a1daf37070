"""Rows in the legs of bars riveted to a plate: gauge, largest hole, root.

Limits by hand from the sizes of the standards (L 50 x 50 x 6: r 7; UPE 100: 55 x 4.5 x 7.5, r 10; T 50: 6, r 6), the
heads of DIN 124 (10: 16, 12: 19 mm) and DIN 660 (6: 10.5 mm), and the gauges of DIN 997.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from fabplan.body.parts import make_parts
from fabplan.body.place import place
from fabplan.body.stacks import body_holes, stack
from fabplan.drawing.hand import other_hand
from fabplan.job.read import read_job
from fabplan.model.body import Body, Stacks
from fabplan.model.finding import Finding, Level
from fabplan.model.job import Job
from fabplan.model.lookup import find_section
from fabplan.rules.legs import check_legs
from fabplan.rules.sets import read_rule_set
from fabplan.rules.spacing import check_layout
from fabplan.rules.tables import read_tables
from fabplan.way.body_layouts import body_layouts
from tests.body.made import drawing
from tests.kits.build import Frame, Plate, rectangle

TABLES = read_tables()
AT = (100.0, 140.0, 200.0)
Y0 = 200.0  # where the heel lies on the plate

# bar frame in the body, so that the outer face of a leg lies on the plate's marked face: y axis, height of the origin,
# and which way the back mark runs on the plate
LAID = {
    "a": ((0, 1, 0), 0.0, 1.0),
    "w": ((0, 0, 1), 0.0, -1.0),
    "b": ((0, 0, 1), 0.0, -1.0),
}


@dataclass(frozen=True)
class Rivet:
    """Shank, hole, and how it is closed."""

    d: float = 10.0
    hole: float = 11.0
    closing: str = "hot"


@dataclass(frozen=True)
class Riveted:
    """A bar riveted to a plate."""

    job: Job
    body: Body
    stacks: Stacks


Origin = tuple[float, tuple[int, int, int], float]
"""Height of the bar's origin, its y axis, and which way the back marks run on the plate."""


def riveted(
    folder: Path,
    section: str,
    rows: dict[str, tuple[str, float]],
    rivet: Rivet = Rivet(),
    origin: Origin | None = None,
) -> Riveted:
    """A bar whose rows (leg, back mark) are riveted to a plate."""
    y, height, sign = LAID[next(iter(rows.values()))[0]]
    if origin is not None:
        height, y, sign = origin
    plate = Plate("P1", Frame((0, 0, 0), (1, 0, 0), (0, 1, 0)), rectangle(600.0, 400.0), 6.0)
    for name, (_, mark) in rows.items():
        plate.rows[name] = np.array([[100.0 + at, Y0 + sign * mark] for at in AT])
    (folder / "P1.dxf").touch()
    (folder / "job.toml").write_text(text(section, rows, rivet, (y, height)), "utf-8")
    job = read_job(folder / "job.toml")
    drawings = {"P1": drawing(plate, rivet.hole)}
    parts, instances = make_parts(job, drawings, TABLES, lambda name: find_section(TABLES, name), other_hand)
    body = place(job, parts, instances).body
    stacks = stack(job, body, body_holes(body))
    assert len(stacks) == len(AT) * len(rows)
    return Riveted(job, body, stacks)


def told(
    folder: Path,
    section: str,
    rows: dict[str, tuple[str, float]],
    rivet: Rivet = Rivet(),
    origin: Origin | None = None,
) -> list[Finding]:
    """Findings on the rows of such a bar."""
    made = riveted(folder, section, rows, rivet, origin)
    return list(check_legs(made.job, made.body, made.stacks, TABLES))


def text(
    section: str, rows: dict[str, tuple[str, float]], rivet: Rivet, laid: tuple[tuple[int, int, int], float]
) -> str:
    lines = [
        f'{{ row = "{name}", leg = "{leg}", back_mark = {mark}, at = {list(AT)}, diameter = {rivet.hole} }}'
        for name, (leg, mark) in rows.items()
    ]
    seams = [f'[[seam]]\nmark = "{name}"\nparts = ["B1", "P1"]\nrivet = "R"' for name in rows]
    return "\n".join(
        [
            '[job]\ndatum = "P1"',
            f'[[rivet]]\nmark = "R"\ndiameter = {rivet.d}\nhole = {rivet.hole}\nclosing = "{rivet.closing}"',
            '[[part]]\nmark = "P1"\ndrawing = "P1.dxf"\nthickness = 6',
            f'[[part]]\nmark = "B1"\nsection = "{section}"\nlength = 400\nrows = [{", ".join(lines)}]',
            f'[[place]]\npart = "B1"\norigin = [100, {Y0}, {laid[1]}]\nx = [1, 0, 0]\ny = {list(laid[0])}',
            *seams,
        ]
    )


@pytest.mark.parametrize(
    ("section", "leg", "mark", "checks"),
    [
        ("L50x50x6", "a", 28, []),  # British back mark, 2 mm off DIN
        ("L50x50x6", "a", 25, []),  # 5 mm off the usual 30: at the limit
        ("L50x50x6", "a", 24.9, ["back-mark"]),
        ("L50x50x6", "a", 21, ["back-mark"]),  # head's edge at 21 - 8 = 13 = 6 + 7: at the limit
        ("L50x50x6", "a", 20.9, ["back-mark", "head-on-root"]),
        ("L50x50x6", "b", 20.9, ["back-mark", "head-on-root"]),
        ("L50x50x6", "b", 30, []),
        ("UPE100", "w", 25.5, []),  # 25.5 - 8 = 17.5 = 7.5 + 10
        ("UPE100", "w", 25.4, ["head-on-root"]),
        ("UPE100", "w", 74.5, []),
        ("UPE100", "w", 74.6, ["head-on-root"]),
        ("UPE100", "a", 25, []),  # flange of 55: usual 30
        ("UPE100", "a", 22.4, ["back-mark", "head-on-root"]),  # 22.4 - 8 = 14.4 < 4.5 + 10
        ("UPE100", "a", 50, ["hole-outside", "back-mark"]),  # 50 + 5.5 > 55
        ("UPN100", "w", 26.5, []),  # the web is flat from 18 (d 64 of 100)
        ("UPN100", "w", 25, ["head-on-root"]),
    ],
)
def test_rows_of_ten_millimetre_rivets(section: str, leg: str, mark: float, checks: list[str], tmp_path: Path) -> None:
    findings = told(tmp_path, section, {"A": (leg, mark)})
    assert [finding.check for finding in findings] == checks
    assert all(finding.where.part == "B1" and finding.source and finding.mend for finding in findings)


def test_figures_of_a_head_on_the_root(tmp_path: Path) -> None:
    (_, finding) = told(tmp_path, "L50x50x6", {"A": ("a", 20.0)})
    assert (finding.check, finding.level) == ("head-on-root", Level.STOP)
    # 20 - 13 = 7 mm from the root, the head needs 8
    assert finding.measured == pytest.approx(7.0)
    assert finding.required == pytest.approx(8.0)
    assert "runs 1.0 mm into the root" in finding.what
    assert finding.where.holes == ("A 1", "A 2", "A 3")


def test_a_head_on_the_outer_face_fouls_nothing(tmp_path: Path) -> None:
    """The plate lies on the inner face of leg a, the head stands outside; the hole itself is clear of the root."""
    # the bar turned about x: its inner face z = 6 comes to the plate's marked face from above
    inner = told(tmp_path, "L50x50x6", {"A": ("a", 20.0)}, origin=(6.0, (0, -1, 0), -1.0))
    assert [finding.check for finding in inner] == ["back-mark"]


def test_a_hole_too_large_for_its_leg(tmp_path: Path) -> None:
    """DIN 997: 13 mm in a leg of 50."""
    (finding,) = told(tmp_path, "L50x50x6", {"A": ("a", 30.0)}, Rivet(12.0, 13.1))
    assert (finding.check, finding.level) == ("hole-for-leg", Level.QUERY)
    assert (finding.measured, finding.required) == (13.1, 13.0)
    assert "from memory" in finding.source
    assert not told(tmp_path, "L50x50x6", {"A": ("a", 30.0)}, Rivet(12.0, 13.0))


@pytest.mark.parametrize(
    ("leg", "mark", "checks"),
    [
        ("a", 10, []),  # rows 30 apart, as usual; 6 mm to the root, the head needs 5.25
        ("a", 11, ["head-on-root"]),  # root from 25 - 3 - 6 = 16 mm
        ("a", 40, []),  # the same on the other side
        ("a", 39, ["head-on-root"]),
        ("b", 30, []),
        ("b", 17.2, ["back-mark", "head-on-root"]),  # 17.2 - 5.25 < 6 + 6
    ],
)
def test_small_rivets_in_a_tee(leg: str, mark: float, checks: list[str], tmp_path: Path) -> None:
    origin = (-22.0, (0, 0, 1), -1.0) if leg == "b" else None  # the stem's face lies at y = 25 - 3
    findings = told(tmp_path, "T50", {"A": (leg, mark)}, Rivet(6.0, 6.4, "cold"), origin)
    assert [finding.check for finding in findings] == checks


def test_two_lines_on_a_leg_have_no_single_gauge(tmp_path: Path) -> None:
    one = told(tmp_path, "L100x100x10", {"A": ("a", 45.0)})
    assert [finding.check for finding in one] == ["back-mark"]
    assert not told(tmp_path, "L100x100x10", {"A": ("a", 40.0), "B": ("a", 75.0)})


@pytest.mark.parametrize(("section", "mark"), [("FL50x6", 12.0), ("HR25", 12.5)])
def test_flats_and_half_rounds_have_neither_gauge_nor_root(section: str, mark: float, tmp_path: Path) -> None:
    assert not told(tmp_path, section, {"A": ("a", mark)}, origin=(0.0, (0, -1, 0), -1.0))


@pytest.mark.parametrize(
    ("section", "leg", "mark", "thickness", "checks"),
    [
        ("UPE160", "w", 80, 5.5, set()),  # 80 mm to either flange, over 4 t + 40 of EN 1993-1-8, but that is no edge
        ("UPE160", "a", 40, 9.5, set()),
        ("UPE160", "a", 58, 9.5, {"least-edge-distance"}),  # 12 mm to the tip, 1.2 x 11 = 13.2 wanted
        ("UPE160", "a", 17, 9.5, set()),  # at the root, which the spacing rules do not know
        ("L50x50x6", "a", 38, 6.0, {"least-edge-distance"}),
        ("L50x50x6", "b", 36.8, 6.0, set()),
        ("T80", "a", 12, 9.0, {"least-edge-distance"}),  # both edges of a flange are edges
        ("T80", "a", 68, 9.0, {"least-edge-distance"}),
        ("FL50x6", "a", 12, 6.0, {"least-edge-distance"}),
    ],
)
def test_only_the_tips_of_legs_are_edges(
    section: str, leg: str, mark: float, thickness: float, checks: set[str], tmp_path: Path
) -> None:
    origin = (0.0, (0, -1, 0), -1.0) if section.startswith("FL") else None
    made = riveted(tmp_path, section, {"A": (leg, mark)}, origin=origin)
    (layout,) = (one for one in body_layouts(made.job, made.body, made.stacks, TABLES) if one.part == "B1")
    assert layout.thickness == thickness
    code = read_rule_set("en1993-1-8-2005")
    assert {one.check for one in check_layout(layout, [code]) if one.check.endswith("edge-distance")} == checks
