"""Two hundred damaged drawings, and files that no program would write."""

import gzip
from pathlib import Path

import ezdxf.filemanagement
import pytest

from fabplan.errors import FabplanError
from fabplan.way.look import Wanted, look
from tests.fuzz.cases import case, fault_of


@pytest.mark.parametrize("first", range(0, 200, 50))
def test_damaged_drawings(first: int) -> None:
    """Nothing thrown, nothing lost, no hang; `python -m tests.fuzz` runs twenty thousand."""
    failed = [one for one in map(case, range(first, first + 50)) if one.fault]
    assert not failed, failed[0]


@pytest.mark.parametrize("seed", [1166, 1650, 4690, 6900, 20003, 117346])
def test_what_the_campaign_once_found(seed: int) -> None:
    """Runs without a straight line; holes larger than the paper; a ring's number over a size; no model space."""
    assert case(seed).fault == ""


def nested(path: Path) -> None:
    """Ten blocks, each showing the one before it ten times: 10^10 circles in 20 kB."""
    document = ezdxf.filemanagement.new("R2010", units=4)
    document.blocks.new("L0").add_circle((0.0, 0.0), 5.5)
    for level in range(1, 11):
        block = document.blocks.new(f"L{level}")
        for k in range(10):
            block.add_blockref(f"L{level - 1}", (40.0 * k, 0.0))
    document.modelspace().add_blockref("L10", (0.0, 0.0))
    document.saveas(path)


def within_itself(path: Path) -> None:
    document = ezdxf.filemanagement.new("R2010", units=4)
    block = document.blocks.new("A")
    block.add_blockref("B", (1.0, 0.0))
    document.blocks.new("B").add_blockref("A", (0.0, 1.0))
    document.modelspace().add_blockref("A", (0.0, 0.0))
    document.saveas(path)


def many_corners(path: Path) -> None:
    """A polyline of thirty thousand corners, a hundredth of a millimetre apart."""
    document = ezdxf.filemanagement.new("R2010", units=4)
    ring = [(0.01 * k, 0.0) for k in range(30_000)] + [(299.99, 90.0), (0.0, 90.0)]
    document.modelspace().add_lwpolyline(ring, close=True, dxfattribs={"layer": "CUT"})
    document.saveas(path)


def far_off(path: Path) -> None:
    document = ezdxf.filemanagement.new("R2010", units=4)
    document.modelspace().add_circle((1e300, -1e300), 1e299, dxfattribs={"layer": "CUT"})
    document.saveas(path)


def long_words(path: Path) -> None:
    document = ezdxf.filemanagement.new("R2010", units=4)
    document.modelspace().add_text("<script>" * 100_000, dxfattribs={"layer": "RIVET 1+1"})
    document.saveas(path)


def empty(path: Path) -> None:
    path.write_bytes(b"")


def packed(path: Path) -> None:
    path.write_bytes(gzip.compress(b"0\nSECTION\n" * 1000))


@pytest.mark.parametrize("make", [nested, within_itself, many_corners, far_off, long_words, empty, packed])
def test_hostile_files_are_told(make: object, tmp_path: Path) -> None:
    """Bounded in time and memory by what they say, not by luck: each ends in findings."""
    make(tmp_path / "hostile.dxf")  # type: ignore[operator]
    outcome = look(Wanted(tmp_path / "hostile.dxf", thickness=6.0))
    assert outcome.findings
    assert fault_of(outcome) == ""


def test_a_folder_named_like_a_drawing_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "plate.dxf").mkdir()
    with pytest.raises(FabplanError, match="holds no DXF file"):
        look(Wanted(tmp_path / "plate.dxf"))


def test_no_permission_is_one_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "plate.dxf"
    path.write_bytes(b"0\nEOF\n")

    def refused(self: Path, *given: object) -> bytes:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refused)
    with pytest.raises(FabplanError, match=r"plate\.dxf"):
        look(Wanted(path))
