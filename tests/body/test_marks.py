"""A seam and a piece of one mark: told once, with all such seams; the demos, whose marks differ, pass."""

from dataclasses import replace
from pathlib import Path

from fabplan.body.marks import check_marks
from fabplan.model.finding import Level
from tests.body.made import made
from tests.kits.bowser import bowser
from tests.kits.skip import skip


def test_the_marks_of_seams_are_asked_for_where_pieces_bear_them(tmp_path: Path) -> None:
    """A seam named as the plate S1, another as the left hand of a pair, which no part is listed as."""
    result = made(bowser(), tmp_path)
    assert list(check_marks(result.job, result.body)) == []
    names = {"As": "S1", "Cs": "A1L"}
    seams = tuple(replace(seam, mark=names.get(seam.mark, seam.mark)) for seam in result.job.seams)
    (found,) = check_marks(replace(result.job, seams=seams), result.body)
    assert (found.check, found.level, found.where.seam) == ("one-mark", Level.QUERY, "S1")
    assert found.what == "2 seams bear marks of pieces: S1, A1L; both are written on the steel"
    assert found.mend.startswith("Give seams marks of their own")


def test_the_demos_have_no_mark_twice() -> None:
    for kit in (bowser(), skip()):
        pieces = {piece.mark for piece in kit.pieces}
        assert not pieces & {seam.mark for seam in kit.seams}
