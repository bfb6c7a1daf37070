"""Rivet lengths against worked examples, published allowances and a balance of volumes."""

import math

import numpy as np
import pytest

from fabplan.model.tables import HeadForm
from fabplan.supply.length import by_thumb, by_volume, mass, next_stocked

DIN124_16 = HeadForm("DIN 124", "round", 16.0, 25.0, 10.0, 0.0, "DIN 124, from memory")
DIN660_8 = HeadForm("DIN 660", "round", 8.0, 14.0, 4.8, 0.0, "DIN 660:2012")
DIN302_10 = HeadForm("DIN 302", "countersunk", 10.0, 14.5, 3.0, 75.0, "DIN 302, from memory")
DIN302_16 = HeadForm("DIN 302", "countersunk", 16.0, 26.0, 6.5, 75.0, "DIN 302, from memory")
BUTTON = HeadForm("ASME B18.1.2", "round", 0.75, 1.375, 0.516, 0.0, "ASME B18.1.2, driven button")  # inches


def test_worked_check_hot_16() -> None:
    # cap 2977.97 mm3 / 201.062 mm2 = 14.811; 20 x (17/16)^2 = 22.578; sum 37.389; x 1.03 = 38.51, so 40 is ordered
    assert by_volume(DIN124_16, DIN124_16, 20.0, 17.0, 0.0) == pytest.approx(37.389, abs=5e-4)
    assert by_volume(DIN124_16, DIN124_16, 20.0, 17.0, 0.03) == pytest.approx(38.51, abs=5e-3)
    assert next_stocked([36.0, 38.0, 40.0, 42.0], 38.51) == 40.0


def test_worked_check_cold_8() -> None:
    # cap 427.357 / 50.265 = 8.502; 8 x (8.4/8)^2 = 8.820; sum 17.322, so 18 is ordered
    assert by_volume(DIN660_8, DIN660_8, 8.0, 8.4, 0.0) == pytest.approx(17.322, abs=5e-4)
    assert next_stocked([16.0, 18.0, 20.0], 17.322) == 18.0


def test_worked_check_button_in_inches() -> None:
    # ASME B18.1.2 driven button 1.375 x 0.516 in, 13/16 hole, grip 1: 1.0300 + 0.1736 = 1.2036 over the grip
    assert by_volume(BUTTON, BUTTON, 1.0, 13.0 / 16.0, 0.0) - 1.0 == pytest.approx(1.2036, abs=1e-4)


@pytest.mark.parametrize(
    ("diameter", "height", "form", "angle", "allowance"),
    [(1.6, 0.7, "round", 0.0, 1.125), (2.0, 0.5, "countersunk", 90.0, 0.667)],
)
def test_british_setting_allowances(diameter: float, height: float, form: str, angle: float, allowance: float) -> None:
    # BS 275:1927 snap, BS 4620:1970 flat countersunk 90: shank beyond the grip in d, no hole filling
    head = HeadForm("BS 275", "round", 10.0, 16.0, 7.0, 0.0, "BS 275:1927")
    point = HeadForm("BS", form, 10.0, 10.0 * diameter, 10.0 * height, angle, "BS")
    assert (by_volume(head, point, 20.0, 10.0, 0.0) - 20.0) / 10.0 == pytest.approx(allowance, abs=0.001)


@pytest.mark.parametrize(("point", "extra"), [(DIN302_16, 4.12), (DIN302_10, None)])
def test_countersunk_point_takes_the_cone_outside_the_hole_only(point: HeadForm, extra: float | None) -> None:
    # extra length for d 16 in a hole of 17: 4.12 mm, worked from the cone between 26 and 17 mm less its core
    round_head = HeadForm("any", "round", point.d, 1.6 * point.d, 0.6 * point.d, 0.0, "any")
    hole = point.d + 1.0
    over = by_volume(round_head, point, 20.0, hole, 0.0) - 20.0 * (hole / point.d) ** 2
    # the same volume summed in thin rings down the sink
    depth = (point.head_diameter - hole) / (2.0 * math.tan(math.radians(point.angle / 2.0)))
    z = (np.arange(100_000) + 0.5) * depth / 100_000
    across = point.head_diameter - 2.0 * z * math.tan(math.radians(point.angle / 2.0))
    rings = float(np.sum(math.pi / 4.0 * (across**2 - hole**2)) * depth / 100_000)
    assert over == pytest.approx(rings / (math.pi / 4.0 * point.d**2), abs=1e-4)
    if extra is not None:
        assert over == pytest.approx(extra, abs=0.005)


@pytest.mark.parametrize("head", [DIN302_10, DIN302_16, DIN124_16])
@pytest.mark.parametrize("point", ["same", "round"])
def test_metal_bought_is_metal_in_the_work(head: HeadForm, point: str) -> None:
    """A balance of volumes by thin slices: the rivet as bought holds what fills hole, sinks and heads."""
    form = head if point == "same" else HeadForm("any", "round", head.d, 1.6 * head.d, 0.6 * head.d, 0.0, "any")
    grip, hole = 20.0, head.d + 1.0
    length = by_volume(head, form, grip, hole, 0.0)
    bought = mass(head, length, 1e9)  # a density of 1 kg/mm3 gives the volume
    assert bought == pytest.approx(_in_the_work(head, form, grip, hole), rel=1e-4)


def _in_the_work(head: HeadForm, point: HeadForm, grip: float, hole: float) -> float:
    slices = 200_000
    z = (np.arange(slices) + 0.5) * grip / slices
    across = np.full(slices, hole)
    volume = 0.0
    for form, depth in ((head, z), (point, grip - z)):
        if form.form == "countersunk":
            cone = form.head_diameter - 2.0 * depth * math.tan(math.radians(form.angle / 2.0))
            across = np.maximum(across, cone)
        else:
            rise = (np.arange(slices) + 0.5) * form.head_height / slices
            sphere = ((form.head_diameter / 2.0) ** 2 + form.head_height**2) / (2.0 * form.head_height)
            radius2 = sphere**2 - (rise + sphere - form.head_height) ** 2
            volume += float(np.sum(math.pi * radius2) * form.head_height / slices)
    return volume + float(np.sum(math.pi / 4.0 * across**2) * grip / slices)


def test_rules_of_thumb() -> None:
    # training text on riveting: two plates of 4 mm, rivet of 3: L = 8 + 1.5 x 3 = 12.5
    assert by_thumb(3.0, "round", 8.0) == (12.5, "grip + 1.5 d")
    assert by_thumb(10.0, "countersunk", 12.0) == (19.5, "grip + 0.75 d")


def test_next_stocked_at_its_limit() -> None:
    assert next_stocked([20.0, 22.0], 20.0) == 20.0
    assert next_stocked([20.0, 22.0], 20.0 + 1e-7) == 20.0  # a nanometre is no reason for a longer rivet
    assert next_stocked([20.0, 22.0], 20.001) == 22.0
    assert next_stocked([20.0, 22.0], 22.001) is None
    assert next_stocked([], 10.0) is None
    assert next_stocked([20.0], math.nan) is None


def test_mass_of_a_rivet_as_published() -> None:
    # DIN 660 8 x 20: 11.2 kg per 1000
    assert 1000.0 * mass(DIN660_8, 20.0, 7850.0) == pytest.approx(11.2, rel=0.01)
