"""The house keeps its arrows: imports point down only, and workers never import one another."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1] / "fabplan"
WORKERS = "job drawing rules body kit setout strength sequence supply forecast sheets"
LAYERS = ["errors", "model", "geom", WORKERS, "way", "cli bench"]
RANK = {part: rank for rank, parts in enumerate(LAYERS) for part in parts.split()}
MODULES = [path for path in sorted(ROOT.rglob("*.py")) if path.parent != ROOT or path.stem in RANK]
HEAVY = {
    "shapely": {"geom"},
    "scipy": {"geom"},
    "pydantic": {"job"},
    "reportlab": {"sheets"},
    "ezdxf": {"drawing"},
    "pysat": {"kit"},
}


def imported(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            names.add("." * node.level + (node.module or ""))
    return names


def room(path: Path) -> str:
    return path.relative_to(ROOT).parts[0].removesuffix(".py")


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_imports_point_down(path: Path) -> None:
    parts = {(name + ".").split(".")[1] for name in imported(path) if name.split(".")[0] in ("fabplan", "")}
    wrong = {part for part in parts if part != room(path) and RANK.get(part, 99) >= RANK[room(path)]}
    assert not wrong, f"{path} imports {sorted(wrong)}, not below {room(path)}"


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_each_library_has_its_room(path: Path) -> None:
    strangers = {
        library
        for library, rooms in HEAVY.items()
        if room(path) not in rooms and any(name.split(".")[0] == library for name in imported(path))
    }
    assert not strangers, f"{path} imports {sorted(strangers)}, which has a room of its own"


def test_the_solver_has_one_module() -> None:
    """OR-Tools is an extra: one module knows it, and loads it when it is asked."""
    importers = [path for path in MODULES if any(name.split(".")[0] == "ortools" for name in imported(path))]
    assert importers == [ROOT / "sequence" / "solve.py"]
    shown = "import sys, fabplan.way.plan; print('ortools' in sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", shown], capture_output=True, text=True, check=True)
    assert loaded.stdout.strip() == "False"
