"""Plates in angles whose edges stand on the root fillet: figures by hand from the radii of EN 10056-1."""

from pathlib import Path

import numpy as np
import pytest

from tests.body.plates import draw, planned, plate

AT = np.array([40.0, 90.0, 140.0, 200.0, 260.0])


@pytest.mark.parametrize(("edge", "into", "off"), [(13.0, None, None), (10.0, 3.0, 0.675), (8.0, 5.0, 2.101)])
def test_an_edge_on_a_root_stands_off(tmp_path: Path, edge: float, into: float | None, off: float | None) -> None:
    """L50x50x6 has r 7: its fillet begins 13 mm from the heel; 3 mm on it the edge stands 7 - sqrt(49 - 9) mm off."""
    draw(tmp_path / "P.dxf", (300.0, 60.0), {"A": np.column_stack([AT, np.full(5, 32.0 - edge)])}, {})
    row = f'rows = [{{ row = "A", leg = "a", back_mark = 32, at = {AT.tolist()}, diameter = 11 }}]'
    pieces = {"L": f'section = "L50x50x6"\nlength = 300\n{row}', "P": plate("P.dxf", 5)}
    place = f'[[place]]\npart = "P"\norigin = [0, {edge}, 11]\nx = [1, 0, 0]\ny = [0, 1, 0]\n'
    made = planned(tmp_path, pieces, place, A=("P/A", "L/A"))
    found = [one for one in made.findings if one.check == "edge-on-root"]
    assert [one.where.part for one in found] == ([] if into is None else ["P"])
    assert all(one.measured == pytest.approx(into, abs=1e-6) for one in found)
    assert all(f"stands {off:.1f} mm off" in one.what for one in found)
    assert not [one for one in made.findings if one.check in ("plates-clash", "misfit", "plies-apart")]
