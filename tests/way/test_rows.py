"""Rows by the names of layers, in any case; a row that is not there is named."""

from pathlib import Path

import ezdxf.filemanagement
import pytest

from fabplan.model.plan import Plan
from fabplan.way.plan import plan

LAP = Path(__file__).parents[2] / "examples" / "first-lap"


def lap(folder: Path, layers: tuple[str, str], seam: str = "") -> Plan:
    """The first lap with its rows on other layers."""
    for name, layer in zip(("P1.dxf", "P2.dxf"), layers, strict=True):
        document = ezdxf.filemanagement.readfile(LAP / name)
        for circle in document.modelspace().query("CIRCLE"):
            circle.dxf.layer = layer
        for insert in document.modelspace().query("INSERT"):
            insert.dxf.layer = layer
            for entity in document.blocks[insert.dxf.name]:
                entity.dxf.layer = layer
        document.saveas(folder / name)
    text = (LAP / "job.toml").read_text("utf-8")
    (folder / "job.toml").write_text(text.replace('["P2", "P1"]', seam) if seam else text, "utf-8")
    return plan(folder / "job.toml")


@pytest.mark.parametrize("layers", [("RIVET A", "RIVET a"), ("rivet_a", "RIVET-A"), ("Rivet A", "rivet-a")])
def test_any_case_and_any_sign_before_the_name(layers: tuple[str, str], tmp_path: Path) -> None:
    made = lap(tmp_path, layers)
    assert made.stacks is not None
    assert len(made.stacks) == 10
    assert not [finding for finding in made.findings if finding.blocks]


def test_a_seam_in_another_case(tmp_path: Path) -> None:
    made = lap(tmp_path, ("rivet_a", "RIVET-A"), '["P2/A", "P1/a"]')
    assert made.stacks is not None
    assert len(made.stacks) == 10
    assert not [finding for finding in made.findings if finding.blocks]


@pytest.mark.parametrize(
    ("layer", "told"),
    [
        ("RIVET A", 'seam A: P2.dxf of P2 has no row "Z"; nearest: "A"'),
        ("RIVET", 'seam A: P2.dxf of P2 has no row "Z"; nearest: "r1"'),
        ("CUT", 'seam A: P2.dxf of P2 has no row "Z"; it has none'),
    ],
)
def test_a_row_that_is_not_there_is_named(layer: str, told: str, tmp_path: Path) -> None:
    made = lap(tmp_path, ("RIVET A", layer), '["P2/Z", "P1/A"]')
    (found,) = [finding for finding in made.findings if finding.check == "no-such-row"]
    assert (found.what, found.where.part, found.where.seam) == (told, "P2", "A")
