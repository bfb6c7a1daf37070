"""Write the committed demos anew: `python -m tests.kits.write`."""

from pathlib import Path

from tests.kits.bowser import bowser
from tests.kits.draw import Style, write_drawings
from tests.kits.first_lap import first_lap
from tests.kits.job_file import job_text
from tests.kits.skip import skip

ROOT = Path(__file__).parents[2]


def write(root: Path) -> None:
    """Drawings and job files of all demos below `root`."""
    tank = bowser()
    write_drawings(tank, root / "drawings" / "bowser")
    _job(root / "examples" / "bowser" / "job.toml", "The tank of a dust-laying bowser for a quarry.", job_text(tank))
    tipper = skip()
    write_drawings(tipper, root / "drawings" / "skip")
    text = "A side-tipping quarry skip on its frame, bolted to its seat."
    _job(root / "examples" / "skip" / "job.toml", text, job_text(tipper))
    lap = first_lap()
    write_drawings(lap, root / "examples" / "first-lap", (Style("R2000", "loose"), Style("R2010", "light")))
    _job(root / "examples" / "first-lap" / "job.toml", "Two plates and one lap seam.", job_text(lap))


def _job(path: Path, title: str, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(f"# {title}\n{text}", "utf-8")


if __name__ == "__main__":
    write(ROOT)
