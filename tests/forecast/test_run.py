"""The forecast of whole bodies: two plies against their closed form, seeds, pilots, and the choices side by side."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from fabplan import cli
from fabplan.forecast.costs import cost_of
from fabplan.forecast.makes import make_of
from fabplan.forecast.run import Kit, forecast, kit_of
from fabplan.forecast.strays import strays
from fabplan.geom.scatter import variogram
from fabplan.geom.settled import settling
from fabplan.model.forecast import BEST, EASED, END, FAILS, GOES_IN, MIDDLE, NEXT, OPENED, Choice, Cost, Forecast
from fabplan.model.job import Shop
from fabplan.model.plan import Plan
from fabplan.rules.tolerances import read_tolerances
from fabplan.sheets.forecast_sheet import forecast_tables
from tests.body.plates import draw, planned, plate

BODIES = 400


def kit(plan: Plan) -> Kit:
    assert plan.body is not None
    assert plan.stacks is not None
    tolerances = read_tolerances()
    makes = [make_of(part, "laser", tolerances) for part in plan.body.parts]
    return kit_of(plan.job, plan.body, plan.stacks, plan.tables, (makes, tolerances.out))


@pytest.fixture(scope="module")
def bowser(bowser_plan: Plan) -> Forecast:
    return forecast(kit(bowser_plan), BODIES, 1, ())


def test_two_plies_along_their_row_against_the_closed_form(lap_plan: Plan) -> None:
    """Aligned at the first hole, the next at a distance L is out along the row by the root of both variograms at L.

    A plate turned about that hole to bring the row straight moves its holes across the row only. Of 4,000 bodies the
    standard deviation is known within 1.1 % (1 / sqrt(2 n)); three times that is allowed.
    """
    own, plan, count = kit(lap_plan), lap_plan, 4000
    assert plan.body is not None
    assert plan.stacks is not None
    seam = np.flatnonzero(own.layers.row == own.layers.row[0])
    say = np.full(len(own.layers.row), 1e-9)
    say[seam[0]] = 1.0
    batch = strays(np.random.default_rng(7), own.crews, own.layers, own.backs, count)
    out = batch.offset[own.layers.ply + 1] - batch.offset[own.layers.ply]
    rest = settling(own.layers.pairs, own.fixed, say).rest(out.reshape(-1, count), batch.apart).reshape(out.shape)
    way = own.layers.pairs.at[seam[-1]] - own.layers.pairs.at[seam[0]]
    along = np.einsum("pij,j->pi", own.layers.pairs.sides[seam], way / np.linalg.norm(way))
    spread = np.einsum("pic,pi->pc", rest[seam], along).std(axis=1)
    rows = {own.crews[k].make.row for k in range(len(own.crews))}
    apart = np.linalg.norm(own.layers.pairs.at[seam] - own.layers.pairs.at[seam[0]], axis=1)
    (row,) = rows
    grown = variogram(row)
    expected = np.sqrt(2.0 * (grown.nugget + grown.growth * apart))
    assert spread[0] == pytest.approx(0.0, abs=1e-3)
    assert spread[1:] == pytest.approx(expected[1:], rel=0.035)


def test_every_rivet_comes_out_somehow(bowser: Forecast, bowser_plan: Plan) -> None:
    for choice in bowser.choices:
        assert choice.share.sum(axis=1) == pytest.approx(1.0)
        assert choice.easing[:, 0].sum() == pytest.approx(choice.share[:, [EASED, NEXT, FAILS]].sum())


def test_the_same_seed_gives_the_same_bodies_and_another_others(bowser: Forecast, bowser_plan: Plan) -> None:
    again, other = (forecast(kit(bowser_plan), BODIES, seed, ()) for seed in (1, 2))
    assert np.array_equal(again.choices[0].share, bowser.choices[0].share)
    assert not np.array_equal(other.choices[0].share, bowser.choices[0].share)


def test_aligning_at_the_middle_halves_the_way_and_eases_less(bowser: Forecast, bowser_plan: Plan) -> None:
    """Long rows of 2.4 m: as the easing table of two plates says, halving the distance lessens the offset."""
    assert bowser_plan.stacks is not None
    one_end, middle = (next(c for c in bowser.choices if c.aligned == way) for way in (END, "the middle"))
    long = [k for k, seam in enumerate(bowser_plan.job.seams) if np.sum(bowser_plan.stacks.seam == k) == 66]
    assert len(long) == 4
    assert np.all(middle.easing[long, 0] < one_end.easing[long, 0])
    for k in long:
        own = np.flatnonzero(bowser_plan.stacks.seam == k)
        assert one_end.out[own].max() > middle.out[own].max()
        assert one_end.out[own[-10:]].mean() > one_end.out[own[:10]].mean()  # the far end strays


def test_pilots_lie_at_far_ends_and_are_opened(bowser: Forecast, bowser_plan: Plan) -> None:
    assert bowser_plan.stacks is not None
    pilots = next(choice for choice in bowser.choices if choice.pilots.any())
    for seam in np.unique(bowser_plan.stacks.seam[pilots.pilots]).tolist():
        own = np.flatnonzero(bowser_plan.stacks.seam == seam)
        run = np.flatnonzero(pilots.pilots[own])
        assert run.tolist() == list(range(len(own) - len(run), len(own)))
    opened = pilots.share[pilots.pilots, OPENED]
    assert opened.min() > 0.9
    assert pilots.share[~pilots.pilots, OPENED].max() == 0.0
    assert pilots.share[:, [NEXT, FAILS]].sum() < bowser.choices[0].share[:, [NEXT, FAILS]].sum()


def test_the_command_prints_and_writes_the_forecast(tmp_path: Path) -> None:
    job = str(Path(__file__).parents[2] / "examples" / "first-lap" / "job.toml")
    sheet = tmp_path / "forecast.pdf"
    told = CliRunner().invoke(cli.root, ["forecast", job, "--bodies", "200", "--sheet", str(sheet)])
    assert told.exit_code == 0, told.output
    assert "mean of 200 bodies, seed 1" in told.output
    assert "Taken for it" in told.output
    assert sheet.read_bytes().startswith(b"%PDF")
    found = json.loads(CliRunner().invoke(cli.root, ["forecast", job, "--bodies", "200", "--json"]).stdout)
    assert found["bodies"] == 200
    assert all(sum(rivet["share"]) == pytest.approx(1.0, abs=1e-3) for rivet in found["choices"][0]["rivets"])


def test_what_a_choice_costs_by_hand() -> None:
    """Seam 0: 0.5 eased at 3 min, 0.25 next size at 20; seam 1: one opened at 3, 0.1 made anew at 90; 2 and 1 rows."""
    share = np.array([[0.5, 0.0, 0.5, 0.0, 0.0], [0.75, 0.0, 0.0, 0.25, 0.0], [0.0, 1.0, 0.0, 0.0, 0.0],
                      [0.9, 0.0, 0.0, 0.0, 0.1], [0.0, 0.0, 1.0, 0.0, 0.0]])  # fmt: skip
    asked, seam, rows = np.array([True] * 4 + [False]), np.array([0, 0, 1, 1, 1]), np.array([2, 1])

    def cost(aligned: str) -> Cost:
        choice = Choice("", aligned, np.zeros(5, dtype=np.bool_), share, np.zeros(5), np.zeros((2, 2)))
        return cost_of(Shop(), choice, asked, seam, rows)

    assert cost(END).work == pytest.approx([0.5 * 3 + 0.25 * 20, 3.0 + 0.1 * 90])
    assert cost(END).every == pytest.approx(cost(END).work)
    assert cost(MIDDLE).align == pytest.approx([8.0, 4.0])
    assert np.isnan(cost(BEST).align).all()


def test_rows_of_each_seam_of_the_lap(lap_plan: Plan) -> None:
    """One seam of two plies is one row that is drawn together."""
    assert kit(lap_plan).rows.tolist() == [1]


def test_the_sheet_says_what_the_middle_costs_in_holes_and_time(bowser: Forecast, bowser_plan: Plan) -> None:
    """By the figures of the choices: holes that want easing or more, and their minutes by the rates of the shop."""
    assert bowser_plan.stacks is not None
    tables = forecast_tables(bowser_plan.job, bowser_plan.stacks, bowser)
    ((told, *_),) = [one.rows for one in tables if one.title.startswith("Aligned at the middle")]
    one_end, middle = (next(c for c in bowser.choices if c.aligned == way) for way in (END, MIDDLE))
    before, after = (float(one.easing[:, 0].sum()) for one in (one_end, middle))
    assert told[0].startswith(f"{before:.1f} holes that want easing or more become {after:.1f}, ")
    rows = int(bowser.rows.sum())
    assert told[0].endswith(f"drawing {rows} rows together there costs {4 * rows} minutes.")
    (costs,) = [one.rows for one in tables if one.title.startswith("What it costs")]
    assert [row[0] for row in costs] == [one.title for one in bowser.choices]
    minutes = 3.0 * one_end.share[:, EASED].sum() + 20.0 * one_end.share[:, NEXT].sum()
    assert costs[0][1] == f"{minutes / 60.0:.1f}"


def test_holes_of_full_size_that_are_reamed_go_in_as_any_others(lap_plan: Plan) -> None:
    """Nothing is left in them to open: what a rivet passes without reaming it passes with it, and none is worse."""
    own = kit(lap_plan)
    assert own.layers.drawn == pytest.approx(own.layers.hole[0])
    reamed = replace(own, layers=replace(own.layers, opened=np.ones_like(own.layers.opened)))
    plain, opened = (forecast(one, BODIES, 1, ()).choices[0].share for one in (own, reamed))
    assert opened[:, [NEXT, FAILS]].sum() == pytest.approx(plain[:, [NEXT, FAILS]].sum())
    assert opened[:, [GOES_IN, OPENED]].sum() >= plain[:, GOES_IN].sum()


def test_no_pilot_is_ordered_where_all_plies_are_there(bowser: Forecast, bowser_plan: Plan) -> None:
    own = kit(bowser_plan)
    assert any(choice.pilots.any() for choice in bowser.choices)
    old = replace(own, layers=replace(own.layers, steel=np.ones_like(own.layers.steel)))
    assert not any(choice.pilots.any() for choice in forecast(old, BODIES, 1, ()).choices)


def test_a_pilot_is_opened_by_the_old_hole_where_it_lies_within(bowser: Forecast, bowser_plan: Plan) -> None:
    """A hole of 9 lies within one of 11 up to (11 - 9) / 2 = 1 mm out, which is the limit of reaming too.

    So of the pilots on an old piece as many want the next size as want it as drawn, but for what sizes stray by.
    """
    own = kit(bowser_plan)
    first = np.zeros_like(own.layers.steel)
    first[own.first[:-1]] = True
    old = forecast(replace(own, layers=replace(own.layers, steel=first)), BODIES, 1, ()).choices[1]
    drawn, new = bowser.choices[:2]
    assert np.array_equal(old.pilots, new.pilots)
    assert new.share[new.pilots, OPENED] == pytest.approx(1.0, abs=0.01)
    beyond = drawn.share[old.pilots][:, [NEXT, FAILS]].sum()
    assert beyond > 0.3
    assert old.share[old.pilots][:, [NEXT, FAILS]].sum() == pytest.approx(beyond, rel=0.2)
    assert old.share[old.pilots][:, [GOES_IN, EASED]].max() == 0.0


def test_two_rows_side_by_side_are_drawn_together_as_one_pattern(tmp_path: Path) -> None:
    """Two plates with two lines of holes, 60 mm apart, stray alike whether these are called one seam or two.

    Held at one hole of each line the plates would turn by the errors of both over 60 mm, and be four times as far out
    at 240 mm.
    """
    line = np.array([[40.0 * k + (5.0 if k == 3 else 0.0), 40.0] for k in range(1, 8)])
    upper, worst = line + np.array([0.0, 60.0]), []
    for seams in (1, 2):
        folder = tmp_path / str(seams)
        folder.mkdir()
        rows = {"A": line, "B": upper} if seams == 2 else {"A": np.vstack([line, upper])}
        for mark in ("P", "Q"):
            draw(folder / f"{mark}.dxf", (320.0, 140.0), rows, {})
        pieces, plies = {"P": plate("P.dxf", 6), "Q": plate("Q.dxf", 6, 'marked = "inside"')}, ("Q", "P")
        made = planned(folder, pieces, A=plies, B=plies) if seams == 2 else planned(folder, pieces, A=plies)
        own = kit(made)
        assert own.rows.sum() == 1
        worst.append(float(forecast(own, 2000, 1, ()).choices[0].out.max()))
    assert worst[1] == pytest.approx(worst[0], abs=0.1)
