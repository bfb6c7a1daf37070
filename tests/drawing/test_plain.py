"""Plain entities lifted out of a file, against the same file read by ezdxf alone: the same drawing, to the last bit."""

import dataclasses
from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import Any

import ezdxf.filemanagement
import numpy as np
import pytest

from fabplan.drawing import source
from fabplan.drawing.plain import Lifted
from fabplan.errors import FabplanError
from fabplan.model.joints import RivetSpec
from fabplan.way.look import Wanted, look, record
from tests.fuzz.damage import damaged, sources

ROOT = Path(__file__).parents[2]
DRAWINGS = [
    path for folder in ("drawings", "examples", "tests/data") for path in sorted((ROOT / folder).rglob("*.dxf"))
]


def told(value: Any) -> Any:
    """A value in full: records by their fields, arrays by their bytes, floats to the last bit."""
    if dataclasses.is_dataclass(value):
        return [type(value).__name__, *(told(getattr(value, field.name)) for field in dataclasses.fields(value))]
    if isinstance(value, np.ndarray):
        return value.shape, str(value.dtype), value.tobytes()
    if isinstance(value, list | tuple):
        return [told(one) for one in value]
    return value.hex() if isinstance(value, float) else value


def outcome(path: Path) -> Any:
    try:
        found = look(Wanted(path, thickness=6.0, rivet=RivetSpec("R10", 10.0, 11.0)))
    except FabplanError as error:
        return str(error)
    return told([(one.drawing, one.findings, one.not_checked) for one in found.checked]), record(found)


def both(path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Any, Any]:
    """The outcome as ever, and with ezdxf reading every entity."""
    own = outcome(path)
    with monkeypatch.context() as patch:
        patch.setattr(source, "lift", lambda data: None)
        return own, outcome(path)


def lifted(path: Path) -> Lifted | None:
    return source.open_source(path).lifted


@pytest.mark.parametrize("path", DRAWINGS, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_drawing_is_the_same_either_way(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    own, by_ezdxf = both(path, monkeypatch)
    assert own == by_ezdxf


def test_most_drawings_have_plain_entities() -> None:
    """Without them the comparison would say nothing."""
    found = [len(one) - len(one.number) for path in DRAWINGS if (one := lifted(path)) is not None]
    assert len(found) * 2 > len(DRAWINGS)
    assert sum(found) > 4000


@pytest.mark.parametrize("first", range(0, 120, 30))
def test_damaged_drawings_are_the_same_either_way(first: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Damage to bytes, tags and entities, as in the campaign of `tests.fuzz`, and milder: one line of the file."""
    every = sources()
    for seed in range(first, first + 30):
        random, path = Random(seed), tmp_path / f"{seed}.dxf"
        data = random.choice(every)
        path.write_bytes(damaged(data, random) if seed % 2 else one_line_changed(data, random))
        own, by_ezdxf = both(path, monkeypatch)
        assert own == by_ezdxf, seed


def one_line_changed(data: bytes, random: Random) -> bytes:
    lines = data.splitlines(keepends=True)
    start = next((k for k, line in enumerate(lines) if line.strip() == b"ENTITIES"), 0)
    at = random.randrange(start, len(lines))
    lines[at] = random.choice(
        (b"  0\n", b"LINE\n", b"7\n", b" 1e3\n", b"-0.0\n", b"CUT \n", b"100\n", b"210\n", b"67\n")
    )
    return b"".join(lines)


def plate(path: Path, version: str, change: Callable[[Any, Random], None]) -> Path:
    """A plate of three hundred lines, circles and arcs in any order, each changed in some way."""
    random, document = Random(7), ezdxf.filemanagement.new(version, units=4)
    space = document.modelspace()
    space.add_polyline2d([(0, 0), (900, 0), (900, 900), (0, 900)], close=True, dxfattribs={"layer": "CUT"})
    for k in range(300):
        x, y, layer = 25.0 + 40.0 * (k % 20), 25.0 + 40.0 * (k // 20), {"layer": random.choice(("CUT", "RIVET A", "x"))}
        if k % 3 == 0:
            entity: Any = space.add_circle((x, y), random.uniform(3.0, 9.0), dxfattribs=layer)
        elif k % 3 == 1:
            start = random.uniform(-400.0, 400.0)
            entity = space.add_arc(
                (x, y), random.uniform(3.0, 9.0), start, start + random.uniform(0.0, 400.0), dxfattribs=layer
            )
        else:
            entity = space.add_line((x, y), (x + random.uniform(-9.0, 9.0), y), dxfattribs=layer)
        change(entity, random)
    document.saveas(path)
    return path


def nothing(entity: Any, random: Random) -> None:
    """As drawn."""


def looks(entity: Any, random: Random) -> None:
    entity.dxf.color = random.choice((1, 7, 256))
    entity.dxf.lineweight = random.choice((-1, 25))
    entity.dxf.linetype = random.choice(("Continuous", "ByLayer"))


def level(entity: Any, random: Random) -> None:
    entity.translate(0.0, 0.0, random.choice((0.0, 0.0, 0.0, 2.5)))


def unusual(entity: Any, random: Random) -> None:
    """Something that keeps an entity from being plain, or nothing."""
    way = random.randrange(8)
    if way == 0:
        entity.dxf.extrusion = random.choice(((0, 0, -1), (0, 1, 1), (0, 0, 1)))
    elif way == 1:
        entity.dxf.invisible = 1
    elif way == 2:
        entity.set_xdata("ACAD", [(1000, "x"), (1010, (1.0, 2.0, 3.0))])
    elif way == 3:
        entity.set_reactors(["2F"])
    elif way == 4:
        entity.dxf.ltscale = 2.0
    elif way == 5:
        entity.dxf.thickness = 3.0
    elif way == 6 and entity.dxftype() == "LINE":
        entity.dxf.end = (entity.dxf.end.x, entity.dxf.end.y, 1.0)
    elif way == 7 and entity.dxftype() != "LINE":
        entity.dxf.radius = random.choice((0.0, -1.0, 1e9))


@pytest.mark.parametrize("version", ["R12", "R2010"])
@pytest.mark.parametrize("change", [nothing, looks, level, unusual])
def test_plates_of_many_entities_are_the_same_either_way(
    version: str, change: Callable[[Any, Random], None], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = plate(tmp_path / "plate.dxf", version, change)
    found = lifted(path)
    assert found is not None
    assert len(found) == 301
    assert len(found.number) == 1 or change in (level, unusual)
    own, by_ezdxf = both(path, monkeypatch)
    assert own == by_ezdxf


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b"\n", b"\r\n"),
        (b"\n", b"\r"),
        (b"RIVET A", "RIVET \u00c4".encode()),
        (b"RIVET A", b"RIVET \\U+00C4"),
        (b"RIVET A", b" RIVET A "),
        (b"\n 40\n", b"\n40 \n"),
        (b"AcDbCircle", b"AcDbcircle"),
        (b"AcDbLine\n", b"AcDbLine \n"),
        (b"ENTITIES", b"ENTITIES "),
        (b"  0\nLINE\n  5\n", b"  0\nLINE\n105\n"),
        (b"  0\nARC\n", b"999\nnote\n  0\nARC\n"),
        (b"  0\nARC\n", b"  0\nVERTEX\n  8\nCUT\n 10\n0.0\n 20\n0.0\n  0\nARC\n"),
        (b"  0\nEOF\n", b"  0\nEOF\n\n\n"),
        (b"AcDbLine\n", b"AcDbLine\n230\n1.0\n"),
        (b"AcDbCircle\n", b"AcDbCircle\n220\n0.0\n"),
        (b"AcDbLine\n", b"AcDbLine\n210\n0.0\n"),
        (b"AC1024", b"AC1014"),
        (b"AC1024", b"AC1009"),
        (b"*Model_Space", b"*Paper_Space"),
    ],
)
def test_files_written_unusually_are_the_same_either_way(
    old: bytes, new: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = plate(tmp_path / "plate.dxf", "R2010", looks)
    data = path.read_bytes()
    path.write_bytes(data.replace(old, new))
    assert path.read_bytes() != data
    own, by_ezdxf = both(path, monkeypatch)
    assert own == by_ezdxf


@pytest.mark.parametrize("wanted", ["of a layer", "twice"])
def test_a_handle_that_stands_twice_is_left_to_ezdxf(
    wanted: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = plate(tmp_path / "plate.dxf", "R2010", nothing)
    found = lifted(path)
    assert found is not None
    circle, other = found.plain[1].handles[:2]
    twin = other if wanted == "twice" else next(iter(source.open_source(path).document.layers)).dxf.handle  # type: ignore[union-attr]
    path.write_bytes(path.read_bytes().replace(f"\n  5\n{circle}\n".encode(), f"\n  5\n{twin}\n".encode()))
    assert lifted(path) is None
    own, by_ezdxf = both(path, monkeypatch)
    assert own == by_ezdxf


def test_a_second_section_of_entities_is_left_to_ezdxf(tmp_path: Path) -> None:
    """Its name spelt with a blank behind it counts as the same name, as the reader of tags takes it."""
    path = plate(tmp_path / "plate.dxf", "R2010", nothing)
    again = (
        b"  0\nSECTION\n  2\nENTITIES \n  0\nCIRCLE\n  8\nCUT\n 10\n5.0\n 20\n5.0\n 40\n1.0\n  0\nENDSEC\n  0\nEOF\n"
    )
    path.write_bytes(path.read_bytes().replace(b"  0\nEOF\n", again))
    assert lifted(path) is None


def test_a_unit_of_thousands_of_digits_is_no_unit(tmp_path: Path) -> None:
    """Python takes no integer from a text of over 4,300 digits."""
    path = plate(tmp_path / "plate.dxf", "R2010", nothing)
    text = path.read_text("utf-8").replace("$INSUNITS\n 70\n", "$INSUNITS\n 70\n" + "9" * 5000)
    path.write_text(text, "utf-8")
    assert source.open_source(path).unit is None
