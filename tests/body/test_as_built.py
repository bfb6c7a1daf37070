"""Formed pieces as they were measured: where bends came to lie, by plain arithmetic; what the blank does not give."""

from pathlib import Path

import numpy as np
import pytest

from fabplan.errors import JobError
from fabplan.geom.pose import to_outer
from fabplan.model.finding import Finding
from fabplan.model.plan import Plan
from fabplan.way.plan import plan
from tests.body.plates import FOLDED, bracket, shell

MEASURED = "{}\nmeasured = {{ over = {{ {} }}, source = 'calliper' }}"


def told(made: Plan, check: str) -> list[Finding]:
    return [one for one in made.findings if one.check == check]


def measured(folder: Path, sizes: str) -> Plan:
    """The folded angle of 100 by 60 mm, measured."""
    return bracket(folder, MEASURED.format(FOLDED, sizes))


def upright(made: Plan) -> np.ndarray:
    """Where the seven rivets of the upright leg stand, mm."""
    assert made.stacks is not None
    return made.stacks.point[made.stacks.grip < 9.5]


@pytest.mark.parametrize("sizes", ["x = 101", "z = 59", "x = 101, y = 240, z = 59"])
def test_a_fold_that_came_1_mm_farther_out(tmp_path: Path, sizes: str) -> None:
    """The blank keeps its length: 1 mm more on one leg is 1 mm less on the other, and row B lies 1 mm lower."""
    made = measured(tmp_path, sizes)
    assert upright(made)[:, 0] == pytest.approx(np.full(7, 100.0 + 61.0), abs=2e-3)
    assert upright(made)[:, 2] == pytest.approx(np.full(7, 29.0), abs=2e-3)
    assert made.supply.rivets == bracket(tmp_path / ".." / tmp_path.name).supply.rivets


def test_a_size_within_the_tolerance_is_a_note_with_its_source(tmp_path: Path) -> None:
    """ISO 2768-1 class m: 0.3 mm over 30 to 120 mm."""
    made = measured(tmp_path, "x = 100.25")
    assert told(made, "measured-form") == []
    (note,) = told(made, "as-built")
    assert "100.25 mm along x over its outside by measure, the blank gives 100.0" in note.what


def test_a_size_beyond_the_tolerance_is_told_with_its_source(tmp_path: Path) -> None:
    (one,) = told(measured(tmp_path, "x = 100.4"), "measured-form")
    assert one.what == "F measures 100.4 mm along x over its outside (calliper); its blank gives 100.0 mm"
    assert one.measured == 100.4
    assert one.required == pytest.approx(100.0, abs=0.01)
    assert "0.3 mm either way" in one.source


def test_a_size_along_the_fold_moves_nothing_and_is_told(tmp_path: Path) -> None:
    """The blank is 240 mm wide; a bend cannot make it 242."""
    made = measured(tmp_path, "y = 242")
    assert upright(made)[:, 0] == pytest.approx(np.full(7, 160.0), abs=2e-3)
    assert [one.measured for one in told(made, "measured-form")] == [242.0]


def places(made: Plan, mark: str) -> np.ndarray:
    """(n, 3) the holes of a piece in its own frame, mm."""
    assert made.body is not None
    part = next(part for part in made.body.parts if part.mark == mark)
    flat = np.column_stack([part.holes.holes.xy, np.zeros(len(part.holes.holes))])
    return np.array([to_outer(part.panels[p].frame, xyz) for p, xyz in zip(part.holes.panel, flat, strict=True)])


def test_a_shell_is_as_wide_as_it_was_rolled(tmp_path: Path) -> None:
    """Plate of 6 mm, inside radius 400 stated; 832 mm across its outside are an inside radius of 410."""
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    stated = shell(tmp_path / "a", 410.0)
    shell(tmp_path / "b")
    job = tmp_path / "b" / "job.toml"
    text = job.read_text("utf-8")
    assert text.count('mark = "SHELL"\n') == 1
    job.write_text(text.replace('mark = "SHELL"\n', 'mark = "SHELL"\nmeasured = { across = 832 }\n'), "utf-8")
    found = plan(job)
    assert places(found, "SHELL") == pytest.approx(places(stated, "SHELL"), abs=1e-6)
    (one,) = told(found, "measured-form")
    assert (one.measured, one.required) == (832.0, 812.0)


@pytest.mark.parametrize(
    ("stated", "fault"),
    [
        ("over = { w = 100 }", 'unknown key "w"'),
        ("over = { }", "at least one of `x`, `y` and `z`"),
        ("across = 300", "`across` of a piece that is not rolled as a whole"),
        ("over = { x = 100 }, across = 300", "or `over` of any other"),
    ],
)
def test_faults_of_formed_sizes(tmp_path: Path, stated: str, fault: str) -> None:
    with pytest.raises(JobError) as failed:
        bracket(tmp_path, f"{FOLDED}\nmeasured = {{ {stated} }}")
    assert any(fault in f"{one}" for one in failed.value.faults)


def test_a_flat_plate_has_no_formed_size(tmp_path: Path) -> None:
    with pytest.raises(JobError, match="neither folded nor rolled"):
        bracket(tmp_path, "measured = { over = { x = 100 } }")


def test_sizes_that_contradict_each_other_are_each_told_and_the_blank_stands(tmp_path: Path) -> None:
    """The blank gives 100 and 60, together 160; 110 and 60 are 10 more, shared out 5 and 5: nearest 105 and 55."""
    made = measured(tmp_path, "x = 110, z = 60")
    (stop,) = told(made, "over-disagrees")
    assert stop.blocks
    assert stop.what == (
        "F: sizes measured over it (calliper) contradict each other by its blank and angles; not taken are "
        "110 mm along x, nearest 105.0, built 100.0, off by -10.0; "
        "60 mm high, nearest 55.0, built 60.0, off by +0.0"
    )
    assert upright(made)[:, 0] == pytest.approx(np.full(7, 160.0), abs=2e-3)
    assert told(made, "as-built") == []


@pytest.mark.parametrize(("more", "stops"), [(0.8, 0), (1.1, 1)])
def test_sizes_within_half_a_millimetre_are_shared_out_and_told(tmp_path: Path, more: float, stops: int) -> None:
    """Both sizes too long by `more` together: each is missed by half of it, which 0.5 mm may be."""
    made = measured(tmp_path, f"x = {100.0 + more:g}, z = 60")
    assert len(told(made, "over-disagrees")) == stops
    if not stops:
        (note,) = told(made, "as-built")
        assert note.what == (
            "F is not built as it was measured over its outside: "
            "100.8 mm along x: built 100.4, 0.4 mm less; 60 mm high: built 59.6, 0.4 mm less"
        )
        assert upright(made)[:, 0] == pytest.approx(np.full(7, 160.4), abs=2e-3)


def test_what_a_size_along_the_fold_asks_and_what_is_built(tmp_path: Path) -> None:
    """Within the tolerance of ISO 2768-1 class m (0.5 mm over 120 to 400) it is a note, and not said to be built."""
    (note,) = told(measured(tmp_path, "x = 100.2, y = 240.4"), "as-built")
    assert note.what == (
        "F is built as it was formed: 100.2 mm along x over its outside by measure, the blank gives 100.0; "
        "not so 240.4 mm along y, which no bend settles: built 240.0, 0.4 mm less"
    )
    (one,) = told(measured(tmp_path, "y = 242"), "measured-form")
    assert one.what.endswith("no bend settles it: it is built 240.0 mm, 2.0 mm less")


@pytest.mark.parametrize("sizes", ["x = 6", "x = 12", "z = 7", "z = 200"])
def test_a_size_that_takes_the_fold_off_the_blank_forms_nothing_flat(tmp_path: Path, sizes: str) -> None:
    made = measured(tmp_path, sizes)
    (stop,) = told(made, "over-disagrees")
    assert "cannot be had" in stop.what
    assert upright(made)[:, 0] == pytest.approx(np.full(7, 160.0), abs=2e-3)


def test_a_diameter_of_twice_the_thickness_is_no_roll(tmp_path: Path) -> None:
    shell(tmp_path)
    job = tmp_path / "job.toml"
    text = job.read_text("utf-8")
    job.write_text(text.replace('mark = "SHELL"\n', 'mark = "SHELL"\nmeasured = { across = 12 }\n'), "utf-8")
    with pytest.raises(JobError, match="`across` of 12 mm is no more than twice its thickness"):
        plan(job)


def test_a_size_over_a_formed_plate_holds_its_thickness(tmp_path: Path) -> None:
    with pytest.raises(JobError, match="a size `over` of 4 mm is no more than its thickness"):
        measured(tmp_path, "z = 4")
