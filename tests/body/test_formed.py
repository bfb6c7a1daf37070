"""Folded and rolled plates in a body: where their holes go, and what cannot be formed."""

from pathlib import Path

import numpy as np
import pytest

from fabplan.model.plan import Plan
from fabplan.way.plan import plan
from tests.body.plates import BEND, FLAT, FOLDED, INSIDE, along, bracket, draw, joggled, met, planned, plate, shell


def test_a_wall_on_a_folded_leg(tmp_path: Path) -> None:
    """The upright leg's outside stands 60 mm past its own row A (100 less 40); its row B lies 30 mm over the base."""
    _, stacks = met(bracket(tmp_path), 14, 1e-3)
    assert sorted(set(np.round(stacks.grip, 6).tolist())) == [9.0, 10.0]
    upright = stacks.point[stacks.grip < 9.5]
    assert upright[:, 0] == pytest.approx(np.full(7, 100.0 + 60.0), abs=1e-3)
    assert upright[:, 2] == pytest.approx(np.full(7, 30.0), abs=1e-3)


@pytest.mark.parametrize(
    ("form", "told"),
    [
        ('folds = [{ line = "FOLD 2", angle = 90, inside_radius = 6 }]', 'no line is drawn on a layer "FOLD 2"'),
        ('folds = [{ line = "FOLD 1", angle = 90, inside_radius = 0.5 }]', "no neutral line"),
        ('rolls = [{ from = "ROLL 1", to = "ROLL 2", inside_radius = 60 }]', 'no line is drawn on a layer "ROLL 1"'),
    ],
)
def test_what_cannot_be_formed_is_a_stop(tmp_path: Path, form: str, told: str) -> None:
    found = [finding for finding in bracket(tmp_path, form).findings if finding.check == "cannot-form"]
    assert len(found) == 1
    assert told in found[0].what
    assert found[0].blocks
    assert found[0].mend


def test_a_band_round_a_rolled_shell(tmp_path: Path) -> None:
    """All 32 holes of the band meet those of the shell; every rivet points at the axis, grip 12."""
    made = shell(tmp_path)
    _, stacks = met(made, 32, 0.01)
    assert stacks.grip == pytest.approx(np.full(32, 12.0), abs=0.02)
    to_axis = np.array([0.0, 0.0, 400.0]) - stacks.point * [1.0, 0.0, 1.0]
    assert np.linalg.norm(to_axis, axis=1) == pytest.approx(np.full(32, 406.0), abs=0.02)
    towards = to_axis / np.linalg.norm(to_axis, axis=1)[:, None]
    assert np.abs(np.einsum("ij,ij->i", towards, stacks.axis)) == pytest.approx(np.ones(32), abs=1e-4)
    assert not any("edge-distance" in finding.check for finding in made.findings)  # judged on the blank


def test_a_shell_rolled_to_another_radius_does_not_meet_its_band(tmp_path: Path) -> None:
    made = shell(tmp_path, 410.0)
    assert any(finding.blocks for finding in made.findings)


def pair_of_brackets(folder: Path, angle: float = 90.0, off: float = 0.0) -> Plan:
    """Two folded angles side by side on a base plate, one wall on both; row B of F, past its fold, is `off` mm out."""
    middle, upright = FLAT + BEND / 2.0, FLAT + BEND + 30.0 - 10.0
    beside = np.array([0.0, 260.0])
    draw(folder / "base.dxf", (300.0, 500.0), {"A": along(100.0), "C": along(100.0) + beside}, {})
    for mark, out in (("F", off), ("G", 0.0)):
        rows = {"A": along(40.0), "B": along(upright + out)}
        draw(folder / f"{mark}.dxf", (FLAT + BEND + 50.0, 240.0), rows, {"FOLD 1": (middle, 0.0, middle, 240.0)})
    draw(folder / "wall.dxf", (200.0, 500.0), {"B": along(25.0), "D": along(25.0) + beside}, {})
    still = "fixed = [40, 120]"
    pieces = {
        "BASE": plate("base.dxf", 6),
        "F": plate("F.dxf", 4, still, FOLDED.replace("90", f"{angle}")),
        "G": plate("G.dxf", 4, still, FOLDED),
        "WALL": plate("wall.dxf", 5, INSIDE),
    }
    return planned(folder, pieces, A=("F/A", "BASE/A"), B=("F/B", "WALL/B"), C=("G/A", "BASE/C"), D=("G/B", "WALL/D"))


def causes_of(made: Plan) -> list[str]:
    return [one.what.split("changed. ")[1] for one in made.findings if one.check == "likely-cause"]


def test_a_sound_pair_of_brackets_closes(tmp_path: Path) -> None:
    made = pair_of_brackets(tmp_path)
    assert made.stacks is not None
    assert made.stacks.misfit.max() < 1e-3
    assert causes_of(made) == []


def test_a_bend_allowance_that_is_off_is_named(tmp_path: Path) -> None:
    (told,) = causes_of(pair_of_brackets(tmp_path, off=2.0))
    assert told.startswith("(1) bend allowance: row B of F lies 2.00 mm")


def test_a_fold_the_wrong_way_is_named(tmp_path: Path) -> None:
    (told,) = causes_of(pair_of_brackets(tmp_path, angle=-90.0))
    assert "fold the wrong way: fold FOLD 1 of F goes the other way" in told


def test_a_roll_to_another_radius_is_named(tmp_path: Path) -> None:
    """Of shell and band either may be it: both are told, each with the radius at which it fits."""
    (told,) = causes_of(shell(tmp_path, 410.0))
    assert "SHELL is rolled to an inside radius of 410 mm and fits at 400 mm" in told
    assert "BAND is rolled to an inside radius of 406 mm and fits at 416 mm" in told


SIZED = 'folds = [{{ line = "FOLD 1", angle = 90, inside_radius = 6 }}]\nformed_size = [{}, 240, {}]'


def test_a_blank_that_does_not_give_the_stated_size(tmp_path: Path) -> None:
    """DIN 6935: legs of 100 and 60 mm from this blank. Drawn for legs of 100 and 62 it would be stated so."""
    assert not [one for one in bracket(tmp_path, SIZED.format(100, 60)).findings if "formed" in one.check]
    (told,) = [one for one in bracket(tmp_path, SIZED.format(100, 62)).findings if one.check == "formed-size-differs"]
    assert told.blocks
    assert told.measured == pytest.approx(60.0, abs=0.01)
    assert told.required == 62.0


def test_a_hook_folded_in_the_wrong_order_and_one_that_closes_over_itself(tmp_path: Path) -> None:
    """A high flange beside a narrow web, folded first, stands in the way; folded last it does not."""
    lines = {"FOLD 1": 160.0, "FOLD 2": 260.0}
    for order, told in ((("FOLD 1", "FOLD 2"), ["fold-order"]), (("FOLD 2", "FOLD 1"), [])):
        (one, two) = order
        made = hook(tmp_path, lines, [(one, 90), (two, 90)])
        assert [finding.check for finding in made.findings if finding.check.startswith("fold")] == told
    assert "Fold in the order FOLD 2, FOLD 1." in [
        f.mend for f in hook(tmp_path, lines, [("FOLD 1", 90), ("FOLD 2", 90)]).findings
    ]
    closed = hook(tmp_path, lines | {"FOLD 3": 330.0}, [("FOLD 1", 90), ("FOLD 2", 90), ("FOLD 3", 90)])
    assert "formed-fouls" in [finding.check for finding in closed.findings]


def hook(folder: Path, lines: dict[str, float], folds: list[tuple[str, int]]) -> Plan:
    drawn: dict[str, tuple[float, ...]] = {layer: (x, 0.0, x, 240.0) for layer, x in lines.items()}
    draw(folder / "hook.dxf", (max(lines.values()) + 160.0 if len(lines) > 2 else 330.0, 240.0), {}, drawn)
    stated = ", ".join(f'{{ line = "{line}", angle = {angle}, inside_radius = 6 }}' for line, angle in folds)
    text = f'[job]\ndatum = "H"\n[[part]]\nmark = "H"\ndrawing = "hook.dxf"\nthickness = 4\nfolds = [{stated}]\n'
    (folder / "job.toml").write_text(text, "utf-8")
    return plan(folder / "job.toml")


def test_a_joggled_lap_lies_flush(tmp_path: Path) -> None:
    """The edge lies on its mate's marked face, set by its own 6 mm: the rest of the plate is flush with the mate."""
    made = joggled(tmp_path)
    body, stacks = met(made, 7, 1e-6)
    assert stacks.grip == pytest.approx(np.full(7, 12.0))
    pose = body.poses[1]
    assert pose is not None
    assert pose.origin[2] == pytest.approx(0.0, abs=1e-6)  # its still piece, as the mate, has its marked face at 0
    assert [record.mark for record in made.forming] == ["J"]
    (one,) = made.forming[0].joggles
    assert (one.depth, one.run) == (6.0, 30.0)


def test_a_joggle_with_too_short_a_run_is_a_stop(tmp_path: Path) -> None:
    (told,) = [finding for finding in joggled(tmp_path, run=15.0).findings if finding.check == "cannot-form"]
    assert "wants a run of" in told.what
