"""README's real output, filled in between its marks: `python -m tests.readme`; with `--pictures` its pictures too.

Pictures want poppler's `pdftoppm`.
"""

import json
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from fabplan.job import form, joint_form, part_form, setout_form, works_form
from fabplan.model.checks import CHECKS
from fabplan.rules.sets import read_rule_set, rule_set_names
from tests.setout.strip import stripped

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
PICTURES = ROOT / "examples" / "pictures"
FAULTY = ("drawings/faulty/tight-pitch.dxf", "drawings/faulty/open-profile.dxf")
LAP = ROOT / "examples" / "first-lap" / "job.toml"
SETOUT = """\
[[place]]                     # nothing else holds P2 while the seam has no holes
part = "P2"
origin = [0, 160, 6]
x = [1, 0, 0]
y = [0, 1, 0]

[[setout]]
seam = "A"
"""
BOWSER, SKIP = "examples/bowser/job.toml", "examples/skip/job.toml"
SHOWN = {
    "check-sheet": ("faulty.pdf", 1),
    "sequence": ("out/sequence.pdf", 25),
    "rivet-order": ("out/rivet-order.pdf", 1),
    "skip": ("skip/sequence.pdf", 6),
}


def blocks() -> dict[str, str]:
    """The text of each block of README by its name."""
    with tempfile.TemporaryDirectory() as folder:
        told = _fabplan("plan", BOWSER, "--out", str(Path(folder) / "out")).splitlines()
        _fabplan("plan", "examples/first-lap/job.toml", "--out", str(Path(folder) / "lap"))
        record = json.loads((Path(folder) / "lap" / "plan.json").read_text("utf-8"))
        laid = _fabplan("setout", str(stripped(LAP, Path(folder) / "bare", ["A"], SETOUT))).replace(
            f"{folder}/bare/", ""
        )
    shown = [line for line in told if line[:1].isdigit() or line.startswith("No fault")]
    shown[-1] = shown[-1].rsplit(" in ", 1)[0] + " in out"
    return {
        "check": _code("".join(f"$ fabplan check {path}\n{_fabplan('check', path)}\n" for path in FAULTY)),
        "plan": _code(f"$ fabplan plan {BOWSER} --out out\n...\n" + "\n".join(shown)),
        "setout": f"{_code(SETOUT, 'toml')}\n\n{_code(f'$ fabplan setout job.toml{chr(10)}{laid}')}",
        "job": _code((ROOT / "examples" / "first-lap" / "job.toml").read_text("utf-8"), "toml"),
        "keys": "\n".join(_keys()),
        "checks": "\n".join(_checks()),
        "rules": "; ".join(f"`{name}` ({read_rule_set(name).title})" for name in rule_set_names()),
        "records": _code(_records(record), "json"),
    }


def filled(text: str) -> str:
    """README with each block filled in."""
    for name, content in blocks().items():
        begin, end = f"<!-- begin {name} -->", f"<!-- end {name} -->"
        before, rest = text.split(begin)
        inline = "\n" if "\n" in rest.split(end)[0] else ""
        text = f"{before}{begin}{inline}{content}{inline}{end}{rest.split(end, 1)[1]}"
    return text


def _fabplan(*words: str) -> str:
    done = subprocess.run([sys.executable, "-m", "fabplan", *words], capture_output=True, text=True, cwd=ROOT)
    if done.returncode > 1:
        raise RuntimeError(done.stderr)
    return done.stdout


def _code(text: str, language: str = "text") -> str:
    return f"```{language}\n{text.rstrip()}\n```"


def _keys() -> list[str]:
    """A row for each table of the job file."""
    tables = [(f"[{name}]", one) for name, one in form.SINGLE.items()]
    tables += [(f"[[{name}]]", one) for name, one in form.LISTS.items()]
    tables += [("rows = [{ }]", part_form.RowForm), ("folds = [{ }]", part_form.FoldForm)]
    tables += [
        ("rolls = [{ }]", part_form.RollForm),
        ("roll = { }", part_form.WholeRollForm),
        ("joggles = [{ }]", part_form.JoggleForm),
        ("cone = { }", part_form.ConeForm),
        ("ring = { }", part_form.RingForm),
        ("ends = [{ }]", part_form.EndForm),
        ("measured = { }", part_form.MeasuredForm),
        ("a table of measured holes", part_form.MeasuredHoleForm),
        ("a table of tape sizes", part_form.TapeForm),
        ("over = { }", part_form.OverForm),
        ("a table of sizes of the dry fit", part_form.SizeForm),
        ("provenance = { }", part_form.ProvenanceForm),
        ("options = [{ }]", joint_form.OptionForm),
        ("circle = { }", setout_form.CircleForm),
        ("mirror = { }", setout_form.MirrorForm),
    ]
    tables += [("bends = [{ }]", works_form.BendForm)]
    rows = ["| table | keys |", "|---|---|"]
    for name, table in tables:
        named = [(field.alias or key, field) for key, field in table.model_fields.items()]
        keys = (f"**{key}**" if field.is_required() else key for key, field in named)
        rows.append(f"| `{name}` | {', '.join(keys)} |")
    return [*rows, "| `[layers]` | a layer's name = its role |"]


def _checks() -> list[str]:
    rows = ["| check | level | looks for | needs | limit from |", "|---|---|---|---|---|"]
    for check in CHECKS.values():
        rows.append(f"| {check.name} | {check.level} | {check.about} | {', '.join(check.needs)} | {check.source} |")
    return rows


def _records(record: dict[str, Any]) -> str:
    """The first record of each list, a line each key."""
    lines = []
    for name, value in record.items():
        one = value[:1] if isinstance(value, list) else value
        if name == "supply":
            one = {key: rows[:1] if isinstance(rows, list) else rows for key, rows in value.items()}
        lines.append(f'"{name}": {json.dumps(one)}')
    return "{" + ",\n ".join(lines) + "}"


def pictures() -> None:
    """Pages of real papers as pictures."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        _fabplan("check", FAULTY[0], "--sheet", str(folder / "faulty.pdf"))
        _fabplan("plan", BOWSER, "--out", str(folder / "out"))
        _fabplan("plan", SKIP, "--out", str(folder / "skip"))
        PICTURES.mkdir(exist_ok=True)
        for picture, (paper, page) in SHOWN.items():
            only = ["-png", "-gray", "-r", "80", "-f", str(page), "-l", str(page), "-singlefile"]
            subprocess.run(["pdftoppm", *only, folder / paper, PICTURES / picture], check=True)


if __name__ == "__main__":
    if "--pictures" in sys.argv:
        pictures()
    README.write_text(filled(README.read_text("utf-8")), "utf-8")
