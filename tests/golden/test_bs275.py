"""British setting allowances: shank beyond the grip for the closing head, hole filling left out, in diameters.

BS 275:1927 (snap, rounded countersunk), BS 425:1943 (pan heads), BS 4620:1970 (flat countersunk), as published. Pan and
rounded forms are none of fabplan's; they hold its cap and frustum, of which they are made.
"""

from math import pi, radians, tan

import pytest

from fabplan.geom.heads import cap_volume, closing_volume, frustum_volume
from fabplan.model.tables import HeadForm
from fabplan.supply.length import by_volume

SHANK = pi / 4.0  # area of a shank of 1 d


def rounded(text: float) -> object:
    """Published to three places."""
    return pytest.approx(text, abs=6e-4)


def sunk(diameter: float, height: float, angle: float) -> HeadForm:
    return HeadForm("BS", "countersunk", 1.0, diameter, height, angle, "BS")


def test_snap() -> None:
    """Head 1.6 d x 0.7 d: 1.125 d."""
    snap = HeadForm("BS 275", "round", 1.0, 1.6, 0.7, 0.0, "BS 275:1927, fig. 3")
    assert closing_volume(snap, 1.0) / SHANK == rounded(1.125)
    assert by_volume(snap, snap, 3.0, 1.0, 0.0) - 3.0 == rounded(1.125)


@pytest.mark.parametrize(("neck", "angle", "allowance"), [(0.125, 60.0, 1.223), (0.5, 15.0, 1.273)])
def test_pan(neck: float, angle: float, allowance: float) -> None:
    """Types 1 and 3: 1.6 d, 1.0 d at the top, 0.7 d high; a neck into the hole, its angle included."""
    mouth = 1.0 + 2.0 * neck * tan(radians(angle / 2.0))
    volume = frustum_volume(1.6, 1.0, 0.7) + frustum_volume(mouth, 1.0, neck) - SHANK * neck
    assert volume / SHANK == rounded(allowance)


@pytest.mark.parametrize(("height", "angle", "allowance"), [(0.433, 60.0, 0.484), (0.604, 45.0, 0.584)])
def test_rounded_countersunk(height: float, angle: float, allowance: float) -> None:
    """1.5 d wide with a dome of 0.201 d."""
    volume = closing_volume(sunk(1.5, height, angle), 1.0) + cap_volume(1.5, 0.201)
    assert volume / SHANK == rounded(allowance)


@pytest.mark.parametrize(
    ("diameter", "height", "angle", "allowance"),
    [(2.0, 0.5, 90.0, 0.6667), (1.5, 0.433, 60.0, 0.2526), (1.5, 0.6036, 45.0, 0.3523)],
)
def test_flat_countersunk(diameter: float, height: float, angle: float, allowance: float) -> None:
    """BS 4620, table 6: 0.667 d; the others are the rounded forms of BS 275 less their dome."""
    form = sunk(diameter, height, angle)
    assert closing_volume(form, 1.0) / SHANK == rounded(allowance)
    snap = HeadForm("BS 275", "round", 1.0, 1.6, 0.7, 0.0, "BS 275:1927, fig. 3")
    assert by_volume(snap, form, 3.0, 1.0, 0.0) - 3.0 == rounded(allowance)
