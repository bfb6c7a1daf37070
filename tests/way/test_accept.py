"""Findings that somebody answers for: they no longer stop, and stand again when the geometry changes."""

import json
from pathlib import Path

import pytest

from fabplan.drawing.read import read_drawing
from fabplan.model.drawing import Intake
from fabplan.model.finding import Level
from fabplan.way.look import Outcome, Wanted, look
from fabplan.way.plan import plan
from tests.drawing.faults import FOLDER

DRAWING = FOLDER / "least-edge-distance.dxf"
OF_6_MM = read_drawing(DRAWING, Intake(thickness=6.0))
ACCEPT = """
[[accept]]
check = "{check}"
{where}
fingerprint = "{fingerprint}"
by = "the inspector"
date = 2026-11-03
reason = "the edge is dressed after riveting"
"""
JOB = """
[job]
rules = "en1993-1-8-2005"
exposed = true
[[rivet]]
mark = "R10"
diameter = 10
hole = 11
[[part]]
mark = "P1"
drawing = "least-edge-distance.dxf"
thickness = 6
"""


def folder(tmp_path: Path, check: str, fingerprint: str, where: str = 'drawing = "least-edge-distance.dxf"') -> Path:
    (tmp_path / DRAWING.name).write_bytes(DRAWING.read_bytes())
    accept = ACCEPT.format(check=check, fingerprint=fingerprint, where=where)
    (tmp_path / "job.toml").write_text(JOB + accept, "utf-8")
    return tmp_path


def levels(outcome: Outcome) -> dict[str, tuple[Level, bool]]:
    return {finding.check: (finding.level, bool(finding.accepted)) for finding in outcome.findings}


def test_accepted_for_this_geometry(tmp_path: Path) -> None:
    here = folder(tmp_path, "least-edge-distance", OF_6_MM.fingerprint[:8])
    outcome = look(Wanted(here))
    assert levels(outcome) == {"least-edge-distance": (Level.STOP, True)}
    assert "the inspector, 2026-11-03: the edge is dressed" in outcome.findings[0].accepted
    assert not any(finding.blocks for finding in outcome.findings)


def test_lapses_with_the_geometry(tmp_path: Path) -> None:
    outcome = look(Wanted(folder(tmp_path, "least-edge-distance", "0123abcd")))
    assert levels(outcome) == {
        "least-edge-distance": (Level.STOP, False),
        "acceptance-lapsed": (Level.QUERY, False),
    }


def test_nothing_to_accept_is_told(tmp_path: Path) -> None:
    outcome = look(Wanted(folder(tmp_path, "least-pitch", OF_6_MM.fingerprint[:8])))
    assert levels(outcome)["acceptance-unused"] == (Level.NOTE, False)
    assert levels(outcome)["least-edge-distance"] == (Level.STOP, False)


@pytest.mark.parametrize(("holes", "blocks"), [('["nowhere 1"]', True), (None, False)])
def test_only_the_holes_named(tmp_path: Path, holes: str | None, blocks: bool) -> None:
    found = look(Wanted(folder(tmp_path, "least-pitch", "0123abcd"))).findings
    named = holes or json.dumps(list(found[0].where.holes))
    where = f'drawing = "least-edge-distance.dxf"\nholes = {named}'
    again = folder(tmp_path, "least-edge-distance", OF_6_MM.fingerprint, where)
    assert any(finding.blocks for finding in look(Wanted(again)).findings) == blocks


def test_a_finding_on_the_whole_is_bound_to_the_kit(tmp_path: Path) -> None:
    """A plate that no seam holds is a stop of the kit; another thickness is another kit."""
    here = folder(tmp_path, "not-placed", "00000000", "")
    text = (here / "job.toml").read_text("utf-8")
    text = text.replace(
        "[[accept]]", '[[part]]\nmark = "P2"\ndrawing = "least-edge-distance.dxf"\nthickness = 6\n[[accept]]'
    )
    job = here / "job.toml"
    job.write_text(text, "utf-8")
    first = plan(job)
    assert any(finding.check == "not-placed" and finding.blocks for finding in first.findings)
    job.write_text(text.replace("00000000", first.fingerprint[:8]), "utf-8")
    assert not any(finding.check == "not-placed" and finding.blocks for finding in plan(job).findings)
    job.write_text(text.replace("00000000", first.fingerprint[:8]).replace("thickness = 6", "thickness = 7"), "utf-8")
    assert any(finding.check == "not-placed" and finding.blocks for finding in plan(job).findings)
