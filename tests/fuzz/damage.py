"""Damage done to drawings, seeded: bytes flipped, lines and tags cut, swapped and corrupted, entities made absurd."""

import io
from pathlib import Path
from random import Random
from typing import Any

import ezdxf.filemanagement

ROOT = Path(__file__).parents[2]
VALUES = (
    "nan", "inf", "1e400", "-1e308", "1e12", "0", "-1", "-7", "65536", "99999999999999999999", "", " ", "12,5", "1.2.3",
    "LINE", "ENDSEC", "EOF", "SECTION", "SPLINE", "INSERT", "\udcff", "\x00", "\\U+00DC", "{\\fArial;", "*Model_Space",
    "CUT", "FFFFFFFFFFFFFFFFFFFF", "A" * 3000,
)  # fmt: skip
CODES = (
    "0",
    "5",
    "8",
    "10",
    "20",
    "11",
    "40",
    "42",
    "66",
    "67",
    "70",
    "90",
    "100",
    "210",
    "230",
    "330",
    "1000",
    "-1",
    "x",
)


def sources() -> list[bytes]:
    """The committed drawings and those of other hands, in the order of their names, and two as binary files."""
    own, others = sorted((ROOT / "drawings").rglob("*.dxf")), (ROOT / "tests" / "data" / "dxf").rglob("*")
    foreign = sorted(path for path in others if path.suffix.lower() == ".dxf")
    sound = [path for path in own if path.stem in ("open-profile", "small-hole")]
    return [path.read_bytes() for path in (*own, *foreign)] + [_binary(path) for path in sound]


def _binary(path: Path) -> bytes:
    stream = io.BytesIO()
    ezdxf.filemanagement.readfile(path).write(stream, fmt="bin")
    return stream.getvalue()


def damaged(data: bytes, random: Random) -> bytes:
    """One drawing with one to four kinds of damage."""
    if random.random() < 0.2:
        data = _absurd(data, random)
    if data.startswith(b"AutoCAD"):
        return _spoil_bytes(data, random)
    lines = data.decode("utf-8", "surrogateescape").splitlines()
    start = lines.index("ENTITIES") if "ENTITIES" in lines else 0
    for _ in range(random.randint(1, 4)):
        low = start if random.random() < 0.8 else 0
        if len(lines) < 10:
            break
        random.choice(_WAYS)(lines, random.randrange(min(low, len(lines) - 2), len(lines) - 1), random)
    ends = random.choice(["\n", "\n", "\n", "\r\n", "\r", "\r\r\n"])
    spoilt = ends.join(lines).encode("utf-8", "surrogateescape")
    return _spoil_bytes(spoilt, random) if random.random() < 0.15 else spoilt


def _absurd(data: bytes, random: Random) -> bytes:
    """The same drawing with some of its entities made absurd, where the strict reader opens it."""
    try:
        document = ezdxf.filemanagement.readfile(io.StringIO(data.decode("utf-8", "ignore")))  # type: ignore[arg-type]
    except Exception:
        return data
    for entity in list(document.modelspace()):
        if random.random() < 0.2:
            _changed(document, entity, random)
    stream = io.StringIO()
    try:
        document.write(stream)
    except Exception:  # some absurdities cannot be written; then the sound drawing is damaged instead
        return data
    return stream.getvalue().encode("utf-8", "surrogateescape")


def _changed(document: Any, entity: Any, random: Random) -> None:
    """Make one entity absurd: far off, huge, tiny, tilted, on an odd layer, or shown by a block in a block."""
    way = random.randrange(6)
    try:
        if way == 0:
            entity.translate(random.choice([1e300, 1e12, -1e7, 1e-9]), 0.0, random.choice([0.0, 1.0]))
        elif way == 1:
            entity.scale_uniform(random.choice([1e9, 1e-9, -1.0, 25.4]))
        elif way == 2:
            entity.dxf.extrusion = random.choice([(0, 0, -1), (0, 1, 1), (1e-9, 0, 1), (0, 0, 0.001)])
        elif way == 3:
            entity.dxf.layer = random.choice(['<b onload="x">', "=1+1", "RIVET " + "A" * 300, "CUT", "../../x"])
        elif way == 4:
            document.modelspace().add_foreign_entity(entity)
        else:
            name = f"B{random.randrange(3)}"
            block = document.blocks.get(name) or document.blocks.new(name)
            block.add_blockref(f"B{random.randrange(3)}", (1.0, 1.0))  # may well contain itself
            document.modelspace().add_blockref(name, (0.0, 0.0), dxfattribs={"xscale": random.choice([1.0, -2.0, 1e6])})
    except Exception:  # not every kind of entity can be changed every way
        return


def _spoil_bytes(data: bytes, random: Random) -> bytes:
    spoilt = bytearray(data)
    for _ in range(random.randint(0, 5)):
        spoilt[random.randrange(len(spoilt))] ^= 1 << random.randrange(8)
    if random.random() < 0.3:
        del spoilt[random.randrange(len(spoilt)) :]
    return bytes(spoilt)


def _cut(lines: list[str], at: int, random: Random) -> None:
    del lines[at + random.randint(0, 1) :]
    if lines and random.random() < 0.5:
        lines[-1] = lines[-1][: random.randrange(len(lines[-1]) + 1)]


def _lose(lines: list[str], at: int, random: Random) -> None:
    del lines[at : at + random.choice([1, 1, 2, 3, 7])]


def _swap_lines(lines: list[str], at: int, random: Random) -> None:
    other = random.randrange(len(lines))
    lines[at], lines[other] = lines[other], lines[at]


def _swap_tags(lines: list[str], at: int, random: Random) -> None:
    at -= at % 2
    lines[at : at + 4] = lines[at + 2 : at + 4] + lines[at : at + 2]


def _value(lines: list[str], at: int, random: Random) -> None:
    lines[at | 1 if (at | 1) < len(lines) else at] = random.choice(VALUES)


def _code(lines: list[str], at: int, random: Random) -> None:
    lines[at - at % 2] = random.choice(CODES)


def _comma(lines: list[str], at: int, random: Random) -> None:
    for k in range(at, min(at + random.choice([20, 200, 5000]), len(lines))):
        lines[k] = lines[k].replace(".", ",")


def _double(lines: list[str], at: int, random: Random) -> None:
    at -= at % 2
    lines[at:at] = lines[at : at + 2 * random.randint(1, 20)]


def _rubbish(lines: list[str], at: int, random: Random) -> None:
    lines[at:at] = ["".join(chr(random.randrange(32, 0x250)) for _ in range(random.randrange(30)))]


def _unmark(lines: list[str], at: int, random: Random) -> None:
    """Take the subclass markers of what follows away."""
    first = at - at % 2
    for k in range(min(len(lines) - 2, first + 400) // 2 * 2, first, -2):
        if lines[k].strip() == "100":
            del lines[k : k + 2]


_WAYS = (_cut, _lose, _swap_lines, _swap_tags, _value, _value, _code, _comma, _double, _rubbish, _unmark)
