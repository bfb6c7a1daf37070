"""A job file made from drawings reads back without faults."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fabplan.job.read import read_job
from fabplan.job.starter import starter
from fabplan.model.drawing import Drawing, Label
from fabplan.model.holes import NO_HOLES, Holes
from tests.job.written import RULES


def holes(row: str, count: int, diameter: float, purpose: str = "rivet") -> Holes:
    return Holes(
        xy=np.zeros((count, 2)),
        diameter=np.full(count, diameter),
        row=(row,) * count,
        number=tuple(map(str, range(count))),
        purpose=(purpose,) * count,
        handle=("",) * count,
    )


KIT = (
    Drawing("floor.dxf", holes=holes("left", 40, 11.0), labels=(Label("PL t = 6 S275", (0, 0), 5, "NOTE"),)),
    Drawing("side_t5.dxf", holes=holes("left", 40, 11.0)),
    Drawing("strap 8mm.dxf", holes=holes("butt", 6, 13.0)),
    Drawing("plain.dxf"),
)


def test_it_reads_back(tmp_path: Path) -> None:
    for drawing in KIT:
        (tmp_path / drawing.name).write_text("", "utf-8")
    path = tmp_path / "job.toml"
    path.write_text(starter("Invented cart", KIT), "utf-8")
    job = read_job(path, RULES)
    assert job.title == "Invented cart"
    assert [(part.mark, part.drawing) for part in job.parts] == [
        ("floor", "floor.dxf"),
        ("side_t5", "side_t5.dxf"),
        ("strap 8mm", "strap 8mm.dxf"),
        ("plain", "plain.dxf"),
    ]
    assert all(part.thickness is None for part in job.parts)  # proposed, for a man to confirm
    (rivet,) = job.rivets
    assert (rivet.mark, rivet.diameter, rivet.hole, rivet.closing) == ("R10", 10.0, 11.0, "hot")


def test_it_reads_back_with_all_its_hints_taken_up(tmp_path: Path) -> None:
    for drawing in KIT:
        (tmp_path / drawing.name).write_text("", "utf-8")
    body, further = starter("Invented cart", KIT).split("# Further tables")
    lines = body.splitlines()
    hints = [line.startswith("# [[") or (line.startswith("# ") and " = " in line) for line in lines]
    taken = [line.removeprefix("# ") if hint else line for line, hint in zip(lines, hints, strict=True)]
    path = tmp_path / "job.toml"
    path.write_text("\n".join(taken), "utf-8")
    job = read_job(path, RULES)
    assert [part.thickness for part in job.parts] == [6.0, 5.0, 8.0, 6.0]
    assert [(seam.mark, [ply.instance for ply in seam.plies]) for seam in job.seams] == [("left", ["floor", "side_t5"])]
    assert job.seams[0].rivet == job.rivets[0].mark
    uncommented = "\n".join(line.removeprefix("# ") for line in further.splitlines()[1:])
    assert set(tomllib.loads(uncommented)) == {"part", "supplier", "place", "layers"}


def test_hints_say_where_they_come_from() -> None:
    text = starter("x", KIT)
    assert "# thickness = 6                     # as its text or file name tells" in text
    assert "fill in, mm" in text.split('drawing = "plain.dxf"')[1]
    assert '#   row "butt": 6 holes' in text
    assert "from 80 holes of 11 mm" in text


@pytest.mark.parametrize(
    ("name", "text", "thickness"),
    [
        ("T1", "", None),  # a piece mark is no thickness
        ("T1", "t=5", 5),
        ("side", "PLATE 6 S275", 6),
        ("side", "8 mm plate", 8),
        ("side", "holes 11 mm", None),
        ("side", "THK: 4.5 mm", 4.5),
        ("side-t10", "", 10),
        ("6mm side", "", 6),
        ("side", "t = 400", None),
    ],
)
def test_thickness_is_taken_from_words_that_mean_it(name: str, text: str, thickness: float | None) -> None:
    drawing = Drawing(f"{name}.dxf", labels=(Label(text, (0, 0), 5, "NOTE"),))
    hint = next(line for line in starter("x", (drawing,)).splitlines() if line.startswith("# thickness"))
    assert ("fill in" in hint) is (thickness is None)
    if thickness is not None:
        assert f"thickness = {thickness:g} " in hint


# DIN 660 holes 5 -> 5.3, 8 -> 8.4 (from memory); German steelwork d + 1 from 12 up
@pytest.mark.parametrize(
    ("hole", "rivet", "closing"),
    [(3.2, 3, "cold"), (5.3, 5, "cold"), (8.4, 8, "cold"), (10.5, 10, "hot"), (11, 10, "hot"), (17, 16, "hot")],
)
def test_the_rivet_is_guessed_from_the_commonest_hole(hole: float, rivet: float, closing: str) -> None:
    kit = (Drawing("a.dxf", holes=holes("x", 5, hole)), Drawing("b.dxf", holes=holes("y", 4, 22.0)))
    (guessed,) = tomllib.loads(starter("x", kit))["rivet"]
    assert (guessed["diameter"], guessed["hole"], guessed["closing"]) == (rivet, hole, closing)


# the same holes drawn in inches, centimetres and metres, with no unit in the header
@pytest.mark.parametrize(
    ("hole", "unit", "rivet", "read"),
    [
        (11 / 25.4, "inches", 10, 11.0),
        (17 / 25.4, "inches", 16, 17.0),
        (1.1, "centimetres", 10, 11.0),
        (0.011, "metres", 10, 11.0),
    ],
)
def test_the_rivet_of_a_drawing_in_another_unit(hole: float, unit: str, rivet: float, read: float) -> None:
    text = starter("x", (Drawing("a.dxf", holes=holes("x", 5, hole)),))
    (guessed,) = tomllib.loads(text)["rivet"]
    assert guessed["diameter"] == rivet
    assert guessed["hole"] == pytest.approx(read, abs=0.06)
    assert f"read in {unit}: is it right?" in text


@pytest.mark.parametrize("hole", [90.0, 1e-6])
def test_a_hole_that_is_none_in_any_unit_gives_no_rivet(hole: float) -> None:
    assert "rivet" not in tomllib.loads(starter("x", (Drawing("a.dxf", holes=holes("x", 5, hole)),)))


def test_no_rivet_holes_no_rivet() -> None:
    assert "rivet" not in tomllib.loads(starter("x", (Drawing("a.dxf", holes=holes("x", 5, 11.0, "open")),)))
    assert "part" not in tomllib.loads(starter("x", ()))


@given(
    st.text(max_size=20).filter(lambda text: text.isprintable() or text.isascii()),
    st.lists(st.text(st.characters(blacklist_categories=["Cs"]), min_size=1, max_size=12), max_size=5, unique=True),
    st.text(st.characters(blacklist_categories=["Cs"]), max_size=8),
)
def test_any_name_gives_valid_toml(title: str, names: list[str], row: str) -> None:
    kit = tuple(Drawing(f"{name}.dxf", holes=holes(row, 2, 11.0) if row else NO_HOLES) for name in names)
    told = tomllib.loads(starter(title, kit))
    assert told["job"]["title"] == title
    assert [part["drawing"] for part in told.get("part", [])] == [f"{name}.dxf" for name in names]
    marks = [part["mark"] for part in told.get("part", [])]
    assert len(set(marks)) == len(marks)
