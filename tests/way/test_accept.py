"""Findings that somebody answers for: they no longer stop, and stand again when the geometry changes."""

import json
from pathlib import Path

import pytest

from fabplan.drawing.read import read_drawing
from fabplan.errors import JobError
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


@pytest.mark.parametrize("share", [8, 9, 40, 63])
def test_a_slip_in_the_later_signs_is_told_with_its_place(share: int, tmp_path: Path) -> None:
    """What is right in its first eight signs alone was neither taken nor told."""
    true = OF_6_MM.fingerprint
    wrong = true[:share] + ("0" if true[share] != "0" else "1") + true[share + 1 :]
    outcome = look(Wanted(folder(tmp_path, "least-edge-distance", wrong)))
    assert levels(outcome)["least-edge-distance"] == (Level.STOP, False)
    (told,) = [one for one in outcome.findings if one.check == "acceptance-lapsed"]
    assert f"in the first {share} signs only, the next should be {true[share]}" in told.what
    assert told.mend.endswith(f"{true[:8]}.")


@pytest.mark.parametrize(
    ("name", "nearest"), [("least-edge-distanse.dxf", "least-edge-distance.dxf"), ("x.dxf (F2)", "")]
)
def test_a_drawing_that_is_not_there_is_a_fault_of_the_job(name: str, nearest: str, tmp_path: Path) -> None:
    here = folder(tmp_path, "least-edge-distance", OF_6_MM.fingerprint[:8], f'drawing = "{name}"')
    with pytest.raises(JobError) as caught:
        look(Wanted(here))
    (fault,) = caught.value.faults
    assert fault.what == f'there is no drawing "{name}"'
    assert fault.place.endswith("[[accept]] 1: drawing")
    assert nearest in fault.mend


def test_a_drawing_beside_the_parts_may_be_accepted_and_the_plan_says_that_it_has_none(tmp_path: Path) -> None:
    here = folder(tmp_path, "least-edge-distance", OF_6_MM.fingerprint[:8], 'drawing = "spare.dxf"')
    (here / "spare.dxf").write_bytes(DRAWING.read_bytes())
    alone = {one.drawing.name: one for one in look(Wanted(here)).checked}["spare.dxf"]
    assert [one.check for one in alone.findings if "acceptance" in one.check] == ["acceptance-lapsed"]
    told = [one for one in plan(here / "job.toml").findings if one.check == "acceptance-unused"]
    assert ["no part of the job has that drawing" in one.what for one in told] == [True]


def test_every_acceptance_ends_in_one_way(tmp_path: Path) -> None:
    """Used, lapsed, with a slip, for nothing: of each exactly one word, on the short road and the whole."""
    here, true = folder(tmp_path, "least-edge-distance", OF_6_MM.fingerprint), OF_6_MM.fingerprint
    job = here / "job.toml"
    where = 'drawing = "least-edge-distance.dxf"'
    others = [("least-edge-distance", "0" * 64), ("least-edge-distance", true[:20] + "0" * 44), ("least-pitch", true)]
    more = "".join(ACCEPT.format(check=one, where=where, fingerprint=mark) for one, mark in others)
    job.write_text(job.read_text("utf-8") + more, "utf-8")
    for findings in (look(Wanted(here)).findings, plan(job).findings):
        told = [one.check for one in findings if one.check.startswith("acceptance")]
        assert sorted(told) == ["acceptance-lapsed", "acceptance-lapsed", "acceptance-unused"]
        assert sum(bool(one.accepted) for one in findings) == 1
