"""The public names, and what they load."""

import subprocess
import sys

import fabplan


def test_every_public_name_is_there() -> None:
    assert len(fabplan.__all__) <= 15
    for name in fabplan.__all__:
        assert getattr(fabplan, name).__module__.startswith("fabplan.")


def test_paths_may_be_plain_words() -> None:
    root = __file__.rsplit("/tests/", 1)[0]
    assert fabplan.plan(f"{root}/examples/first-lap/job.toml").fingerprint
    assert fabplan.read_job(f"{root}/examples/first-lap/job.toml").datum == "P1"
    assert len(fabplan.read_drawing(f"{root}/examples/first-lap/P1.dxf").holes)
    assert fabplan.look(fabplan.Wanted(f"{root}/examples/first-lap/P1.dxf")).checked


def test_looking_at_one_drawing_loads_no_heavy_library() -> None:
    """Neither scipy nor pydantic nor reportlab, which cost more than the look."""
    code = (
        "import sys, fabplan\n"
        "from pathlib import Path\n"
        "fabplan.look(fabplan.Wanted(Path('drawings/bowser/F1.dxf'), thickness=6.0))\n"
        "print([name for name in ('scipy', 'pydantic', 'reportlab', 'networkx') if name in sys.modules])"
    )
    root = __file__.rsplit("/tests/", 1)[0]
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=root)
    assert done.stdout.strip() == "[]"
