"""Damage done to the committed drawings, seeded: `python -m tests.drawing.campaign [first seed] [count]`.

Each case cuts, swaps or corrupts lines, tags or bytes of one drawing, text or binary, and reads and checks it. What
must hold: nothing but a `FabplanError` is raised; each entity that the tags count stands in the account once, with a
fate and a reason, or a stop says that the account is open.
"""

import io
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path
from random import Random

import ezdxf.filemanagement

from fabplan.drawing.check import check_drawing
from fabplan.drawing.read import read_drawing
from fabplan.errors import FabplanError
from fabplan.model.drawing import FATES, Drawing, Intake

DRAWINGS = Path(__file__).parents[2] / "drawings"
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
    """The committed drawings in the order of their names, and two of them as binary files."""
    paths = sorted(DRAWINGS.rglob("*.dxf"))
    plain = [path.read_bytes() for path in paths]
    sound = [path for path in paths if path.stem in ("open-profile", "small-hole")]
    return plain + [_binary(path) for path in sound]


def _binary(path: Path) -> bytes:
    stream = io.BytesIO()
    ezdxf.filemanagement.readfile(path).write(stream, fmt="bin")
    return stream.getvalue()


def damaged(data: bytes, random: Random) -> bytes:
    """One drawing with one to four kinds of damage."""
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


def fault_of(drawing: Drawing) -> str:
    """What is wrong with the account of a drawing, "" for nothing."""
    if any(entry.fate not in FATES or not entry.reason for entry in drawing.account):
        return "an entry without fate or reason"
    if len({entry.handle for entry in drawing.account}) != len(drawing.account):
        return "a handle twice in the account"
    checks = {finding.check for finding in drawing.findings}
    if len(drawing.account) != drawing.scanned and "account-open" not in checks:
        return f"{drawing.scanned} entities scanned, {len(drawing.account)} in the account, and nothing said"
    if any("no reader can read it" in entry.reason for entry in drawing.account) and not checks:
        return "an entity lost and nothing said"
    return ""


def case(seed: int, drawings: list[bytes], folder: Path) -> tuple[str, tuple[str, ...]]:
    """One case: what is wrong with it ("" for nothing), and the checks that found something."""
    random = Random(seed)
    path = folder / "damaged.dxf"
    path.write_bytes(damaged(random.choice(drawings), random))
    try:
        drawing = read_drawing(path, Intake(hole_diameters=(11.0,)))
        found = (*drawing.findings, *check_drawing(drawing, None, 6.0))
    except FabplanError:
        return "", ("FabplanError",)
    except Exception:  # any other is what the campaign looks for
        return traceback.format_exc(limit=-4), ()
    return fault_of(drawing), tuple(sorted({finding.check for finding in found}))


def main() -> int:
    """Run the cases; 1 where one fails."""
    first, count = (int(word) for word in (*sys.argv[1:3], *("0", "2000")[len(sys.argv) - 1 :]))
    drawings, found, failed, slowest = sources(), Counter[str](), 0, (0.0, 0)
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(first, first + count):
            start = time.perf_counter()
            fault, checks = case(seed, drawings, Path(folder))
            slowest = max(slowest, (time.perf_counter() - start, seed))
            found.update(checks)
            if fault:
                failed += 1
                sys.stdout.write(f"seed {seed}: {fault}\n")
    took = f"slowest {slowest[0]:.1f} s (seed {slowest[1]})"
    sys.stdout.write(f"{count} cases from seed {first}: {failed} failed; {took}\n")
    sys.stdout.write(", ".join(f"{check} {number}" for check, number in found.most_common()) + "\n")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
