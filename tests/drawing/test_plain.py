"""Plain entities lifted out of a file, against the same file read by ezdxf alone: the same drawing, to the last bit."""

import dataclasses
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
import pytest

from fabplan.drawing import source
from fabplan.drawing.plain import Lifted
from fabplan.errors import FabplanError
from fabplan.model.job import RivetSpec
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


@pytest.mark.parametrize("first", range(0, 200, 50))
def test_damaged_drawings_are_the_same_either_way(first: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Damage to bytes, tags and entities, as in the campaign of `tests.fuzz`, and milder: one line of the file."""
    every = sources()
    for seed in range(first, first + 50):
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
