"""Compound, paint and the time of rivets: two plates lapped with one seam of 7 rivets, stated in several ways."""

from pathlib import Path

import pytest

from fabplan.model.plan import Plan
from fabplan.way.plan import plan
from tests.body.plates import along, draw

SHOP = "[shop]\nrivets_per_hour = {rate}\ncompound_minutes = {open_time}\n"


def lapped(folder: Path, thickness: float, seam: str, shop: str = "", closing: str = "cold") -> Plan:
    draw(folder / "P.dxf", (300.0, 240.0), {"A": along(260.0)}, {})
    draw(folder / "Q.dxf", (300.0, 240.0), {"A": along(40.0)}, {})
    parts = "".join(
        f'[[part]]\nmark = "{mark}"\ndrawing = "{mark}.dxf"\nthickness = {thickness}\n' for mark in ("P", "Q")
    )
    (folder / "job.toml").write_text(
        f'[job]\ndatum = "P"\nexposed = true\n{shop}[[rivet]]\nmark = "R10"\ndiameter = 10\nhole = 11\n'
        f'closing = "{closing}"\n{parts}[[seam]]\nmark = "A"\nparts = ["P/A", "Q/A"]\nrivet = "R10"\n{seam}\n',
        "utf-8",
    )
    return plan(folder / "job.toml")


def found(made: Plan) -> set[str]:
    return {finding.check for finding in made.findings if finding.check.startswith("compound")}


@pytest.mark.parametrize(("thickness", "wanted"), [(5.0, set()), (4.0, {"compound-wanted"})])
def test_thin_tight_seams_want_compound(tmp_path: Path, thickness: float, wanted: set[str]) -> None:
    """Plate under 5 mm is not caulked (common practice)."""
    assert found(lapped(tmp_path, thickness, "tight = true")) == wanted


def test_compound_in_a_thin_tight_seam_is_enough_where_it_is_cold(tmp_path: Path) -> None:
    seam = 'tight = true\nfaying = "compound"'
    assert found(lapped(tmp_path, 4.0, seam)) == set()
    assert found(lapped(tmp_path, 4.0, seam, closing="hot")) == {"compound-hot"}


@pytest.mark.parametrize(("open_time", "dries"), [(21.0, False), (20.9, True)])
def test_compound_that_dries_before_its_rivets_are_in(tmp_path: Path, open_time: float, dries: bool) -> None:
    """7 rivets at 20 an hour take 7/20 of 60 minutes = 21."""
    made = lapped(tmp_path, 4.0, 'faying = "compound"', SHOP.format(rate=20, open_time=open_time))
    told = [finding for finding in made.findings if finding.check == "compound-dries"]
    assert [finding.measured for finding in told] == ([pytest.approx(21.0)] if dries else [])
    assert made.sequence is not None
    checks = [check for step in made.sequence.steps for check in step.checks]
    assert any(check.startswith("A: compound over both faying faces") and "21 min" in check for check in checks)


@pytest.mark.parametrize(("closing", "stripped"), [("cold", False), ("hot", True)])
def test_paint_is_stripped_where_rivets_are_hot(tmp_path: Path, closing: str, stripped: bool) -> None:
    made = lapped(tmp_path, 6.0, 'faying = "painted"', closing=closing)
    assert made.sequence is not None
    (check,) = [check for step in made.sequence.steps for check in step.checks if "faying faces painted" in check]
    assert ("stripped 100 mm" in check) is stripped
