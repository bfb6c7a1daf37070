"""`fabplan new` on a folder of bare drawings and tables: seams proposed, shown, written; what is open asked."""

import re
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from fabplan.cli import root
from fabplan.errors import FabplanError, JobError, OutputError
from fabplan.geom.pose import to_outer
from fabplan.geom.prism import thick
from fabplan.job.read import read_job
from fabplan.kit.fit import Fit
from fabplan.kit.propose import chosen
from fabplan.kit.search import WORK
from fabplan.way import propose
from fabplan.way.assembly import assembled
from fabplan.way.bare import pieces_of
from fabplan.way.propose import HELD, begin
from tests.kits.build import Frame, Kit, Plate, Seam, drilled, line, minus, rectangle
from tests.unseamed.folder import BARE, ROWS, write_folder
from tests.unseamed.judge import same_body
from tests.unseamed.kits import kit
from tests.unseamed.lay import X, Y, Z, angle, job


def folder(at: Path, name: str, seed: int, layers: str = ROWS) -> Path:
    write_folder(kit(name, seed), at, layers)
    return at


def test_the_job_written_puts_the_true_body_together(tmp_path: Path) -> None:
    """The search that works from seams, in `fabplan.body`, places all pieces where they were built."""
    begun = begin(folder(tmp_path, "box", 1, BARE), {})
    assert begun.told.whole
    assert not begun.questions
    made = assembled(begun.path)
    body = made.placing.body
    assert None not in body.poses
    assert (made.placing.doubt, made.placing.faults) == (None, 0)
    assert same_body(kit("box", 1), body)
    assert len(made.job.seams) == len(kit("box", 1).seams)


def test_counts_reasons_and_a_picture_of_each_seam(tmp_path: Path) -> None:
    begun = begin(folder(tmp_path, "hopper", 0), {})
    page = (tmp_path / "seams.html").read_text("utf-8")
    assert page.count("<svg") == len(begun.told.seams) + sum(len(choice.ways) for choice in begun.told.choices)
    for seam in begun.told.seams:
        assert any(line.startswith(f"{seam.mark}: {len(seam.points)} holes meet") for line in begun.lines)
    assert {len(seam.points) for seam in begun.told.seams} == {len(seam.points) for seam in kit("hopper", 0).seams}
    assert "`" not in page


def test_the_ends_of_a_shell_without_layers_are_riveted_all_round(tmp_path: Path) -> None:
    """Each rivet of the kit, as it was laid out, is in a seam: those of its round rows too."""
    begun = begin(folder(tmp_path, "shell", 4, BARE), {})
    rivets = sum(len(seam.points) for seam in kit("shell", 4).seams)
    assert sum(len(seam.points) for seam in begun.told.seams) == rivets
    assert begun.told.unlisted == 0


def test_pictures_name_the_pieces_that_they_show(tmp_path: Path) -> None:
    """Of two pieces that change places the pictures are alike but for their names."""
    begun = begin(folder(tmp_path, "hopper", 0), {})
    job = read_job(begun.path)
    parts = (tmp_path / "seams.html").read_text("utf-8").split("<h2")
    for seam in job.seams:
        (own,) = (one for one in parts if one.startswith(f">Seam {seam.mark}:"))
        shown = re.findall(r"<text[^>]*>([^<]+)</text>", own)
        assert set(shown) == {ply.instance for ply in seam.plies}


def test_no_seam_bears_the_mark_of_a_piece(tmp_path: Path) -> None:
    """A strip whose mark is the letter B, on P1: what is riveted first is seam A, the next one C."""
    lower = Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(700.0, 300.0), 6.0)
    strips = [
        Plate(mark, Frame((x, 40.0, 6.0), X, Y), rectangle(260.0, 60.0), 6.0)
        for mark, x in (("B", 20.0), ("C2", 360.0))
    ]
    spots = [line((x, 70.0, 6.0), (x + 200.0, 70.0, 6.0), pitch) for x, pitch in ((40.0, 40.0), (390.0, 50.0))]
    seams = [
        Seam(mark, (one.mark, "P1"), at, (0.0, 0.0, -1.0)) for mark, one, at in zip("UV", strips, spots, strict=True)
    ]
    write_folder(drilled(Kit([lower, *strips], seams, job("strips", "P1"))), tmp_path, ROWS)
    assert [seam.mark for seam in read_job(begin(tmp_path, {}).path).seams] == ["A", "C"]


def test_what_holes_cannot_tell_is_asked_at_most_three_times_and_answered_by_options(tmp_path: Path) -> None:
    begun = begin(folder(tmp_path / "one", "plating", 2), {})
    assert 0 < sum(line.startswith("which way") for line in begun.questions) <= 3
    (choice,) = begun.told.choices
    answered = begin(folder(tmp_path / "two", "plating", 2), {1: 2})
    assert not answered.questions
    job = read_job(answered.path)
    assert len(job.places) == len(choice.pieces)
    with pytest.raises(FabplanError, match="to no open choice"):
        begin(folder(tmp_path / "three", "plating", 2), {7: 1})


def test_answers_that_do_not_go_together_are_refused_and_nothing_is_left(tmp_path: Path) -> None:
    """Rows end to end with 140 mm between them; each strip is 30 mm longer than its row at one end, 105 at the other.

    Each may turn its long end inwards, on either face. Both on one face cannot: 105 + 105 > 140 > 105 + 30.
    """
    plate = Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(700.0, 200.0), 6.0)
    one = Plate("D1", Frame((35.0, 75.0, 5.0), X, Y), rectangle(255.0, 50.0), 5.0)
    two = Plate("D2", Frame((370.0, 75.0, 5.0), X, Y), rectangle(246.0, 50.0), 5.0)
    seams = [
        Seam("A", ("P1/a", "D1/r"), line((140.0, 100.0, 0.0), (260.0, 100.0, 0.0), 40.0), Z),
        Seam("B", ("P1/b", "D2/r"), line((400.0, 100.0, 0.0), (511.0, 100.0, 0.0), 37.0), Z),
    ]
    known = drilled(Kit([plate, one, two], seams, job("Strips", "P1")))
    write_folder(known, tmp_path / "open", ROWS)
    begun = begin(tmp_path / "open", {})
    _, parts, instances = pieces_of(begun.path)
    pieces = tuple(parts[own.part] for own in instances)
    refused = 0
    for ways in product(*(range(1, len(choice.ways) + 1) for choice in begun.told.choices)):
        answers, at = dict(enumerate(ways, 1)), tmp_path / "".join(map(str, ways))
        write_folder(known, at, ROWS)
        body = {**begun.told.poses, **chosen(begun.told, answers, Fit(pieces))}
        (low, high), (other_low, other_high) = (
            (ends.min(axis=0), ends.max(axis=0))
            for ends in (to_outer(body[i], thick(pieces[i].panels[0]).corners) for i in (1, 2))
        )
        if np.all(np.minimum(high, other_high) - np.maximum(low, other_low) > 1.0):
            refused += 1
            with pytest.raises(FabplanError, match="do not go together: D1 and D2 would be in one another's way"):
                begin(at, answers)
            assert not (at / "job.toml").exists()
        else:
            begin(at, answers)
    assert refused > 0
    begun.path.unlink()
    with pytest.raises(FabplanError, match="to no open choice"):
        begin(tmp_path / "open", {99: 1})
    assert not begun.path.exists()


def test_an_answer_that_sets_the_body_on_the_back_of_its_datum_is_told_so(tmp_path: Path) -> None:
    """An angle of 100 mm along a plate of 60 by 6, on either face of it: most of the metal is over the plate or under.

    Its heel is clear of the plate, so that it may also lie on the far face with its other leg past the edge.
    """
    plate = Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(420.0, 60.0), 6.0)
    bar = angle("A1", Frame((10.0, -25.0, 0.0), X, Y), (100.0, 100.0, 10.0), 400.0)
    row = line((40.0, 30.0, 0.0), (340.0, 30.0, 0.0), 50.0)
    known = drilled(Kit([plate, bar], [Seam("A", ("P1", "A1/a"), row, minus(Z))], job("Angle", "P1")))
    write_folder(known, tmp_path / "open", ROWS)
    (choice,) = begin(tmp_path / "open", {}).told.choices
    told = []
    for way in range(1, len(choice.ways) + 1):
        write_folder(known, tmp_path / str(way), ROWS)
        begun = begin(tmp_path / str(way), {1: way})
        body = assembled(begun.path).placing.body
        pose = body.poses[1]
        assert pose is not None
        middle = np.mean([to_outer(pose, thick(panel).middle)[2] for panel in body.part_of(1).panels])
        told.append(any("marked face of P1 looks away" in line for line in begun.lines))
        assert told[-1] == (middle < 0.0)
    assert {*told} == {True, False}


def test_a_piece_that_the_seams_leave_in_doubt_gets_a_place(tmp_path: Path) -> None:
    """Two plates butt under a strap with two rows each: either may lie on its other face."""
    one = Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(400.0, 300.0), 6.0)
    two = Plate("P2", Frame((400.0, 0.0, 0.0), X, Y), rectangle(400.0, 300.0), 6.0)
    strap = Plate("T1", Frame((320.0, 0.0, 5.0), X, Y), rectangle(160.0, 300.0), 5.0)
    rows = zip("ABCD", ("P1/a", "P1/b", "P2/a", "P2/b"), (340.0, 375.0, 425.0, 460.0), strict=True)
    seams = [
        Seam(mark, (plate, f"T1/{mark}"), line((x, 30.0, 0.0), (x, 270.0, 0.0), 40.0), Z) for mark, plate, x in rows
    ]
    write_folder(drilled(Kit([one, two, strap], seams, job("Butt", "T1"))), tmp_path, ROWS)
    begun = begin(tmp_path, {})
    assert HELD in begun.path.read_text("utf-8")
    assert assembled(begun.path).placing.doubt is None
    assert begun.lines[-1] == "By these seams `plan` places all pieces as shown."


def test_holes_for_which_the_one_rivet_of_the_job_is_not_are_told(tmp_path: Path) -> None:
    """Twelve holes of 11 mm and five of 12: the job is begun with a rivet for those of 11."""
    plate = Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(400.0, 200.0), 6.0)
    strips = [
        Plate(f"D{k}", Frame((0.0, y, 5.0), X, Y), rectangle(400.0, 60.0), 5.0) for k, y in ((1, 20.0), (2, 120.0))
    ]
    seams = [
        Seam("A", ("P1/a", "D1/r"), line((60.0, 50.0, 0.0), (300.0, 50.0, 0.0), 40.0), Z),
        Seam("B", ("P1/b", "D2/r"), line((60.0, 150.0, 0.0), (260.0, 150.0, 0.0), 50.0), Z),
    ]
    known = drilled(Kit([plate, *strips], seams, job("Sizes", "P1")))
    write_folder(known, tmp_path / "one", ROWS)
    assert not any("[[rivet]]" in line for line in begin(tmp_path / "one", {}).lines)
    strips[1].hole = 12.0
    write_folder(known, tmp_path / "two", ROWS)
    (told,) = (line for line in begin(tmp_path / "two", {}).lines if "[[rivet]]" in line)
    assert told.startswith("All seams are written with a rivet for holes of 11 mm: for those of 12 mm state")


def test_a_piece_without_holes_keeps_nothing_else_back(tmp_path: Path) -> None:
    """A doubling that is to be welded on: its place is asked for, the seams of the others are written."""
    plate = Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(600.0, 300.0), 6.0)
    strap = Plate("S1", Frame((50.0, 50.0, 6.0), X, Y), rectangle(300.0, 60.0), 6.0)
    pad = Plate("N1", Frame((50.0, 150.0, 6.0), X, Y), rectangle(200.0, 60.0), 6.0)
    seam = Seam("A", ("P1", "S1"), line((80.0, 80.0, 0.0), (320.0, 80.0, 0.0), 40.0), Z)
    write_folder(drilled(Kit([plate, strap, pad], [seam], job("Pad", "P1"))), tmp_path, ROWS)
    begun = begin(tmp_path, {})
    assert "No holes tell where N1 should stand: state it by [[place]]." in begun.lines
    assert begun.lines[-1] == "By these seams `plan` places all other pieces as shown."
    assert len(read_job(begun.path).seams) == 1


def test_it_says_that_it_is_unsure_rather_than_guess(tmp_path: Path) -> None:
    begun = begin(folder(tmp_path, "box", 1), {}, longer=60 / WORK)
    assert not begun.told.whole
    assert any(line.startswith("Not sure") for line in begun.lines)
    assert any("--longer" in line for line in begun.lines)
    assert read_job(begun.path).seams == ()


def test_bodies_too_many_to_list_are_said_to_be_so(tmp_path: Path) -> None:
    """They are drawn, not told one by one: the page claims no more."""
    all_told = begin(folder(tmp_path / "few", "plating", 2), {})
    assert any(line.startswith("All ways were looked at") for line in all_told.lines)
    begun = begin(folder(tmp_path / "many", "panel", 8), {})
    assert not any(line.startswith("All ways were looked at") for line in begun.lines)
    assert any("of 60 more that were drawn" in line and "others may be missing" in line for line in begun.lines)


@pytest.mark.parametrize("where", ["assembled", "write_as_shown", "proposals_page"])
def test_what_is_broken_off_leaves_no_job_behind(where: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Else the next `fabplan new` would refuse, and `fabplan check` take a job without seams for the user's own."""

    def broken_off(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(propose, where, broken_off)
    with pytest.raises(KeyboardInterrupt):
        begin(folder(tmp_path, "box", 1), {})
    assert not (tmp_path / "job.toml").exists()


def test_a_job_that_is_there_is_left_alone(tmp_path: Path) -> None:
    (folder(tmp_path, "plating", 2) / "job.toml").write_text("", "utf-8")
    with pytest.raises(OutputError, match="already there"):
        begin(tmp_path, {})


FORMLESS = [
    ("P00,P00.dxf,,", 'parts.csv: part "P00": its thickness is not stated. State `thickness`, in mm.'),
    ("P00,P00.dxf,6,template", "it is formed to template"),
]


@pytest.mark.parametrize(("row", "words"), FORMLESS)
def test_a_piece_without_a_form_is_named_and_nothing_is_left(row: str, words: str, tmp_path: Path) -> None:
    folder(tmp_path, "plating", 2)
    (tmp_path / "rows.csv").unlink()
    (tmp_path / "parts.csv").write_text(f"mark,drawing,thickness,formed\n{row}\nP10,P10.dxf,6,\n", "utf-8")
    with pytest.raises(JobError, match=re.escape(words)):
        begin(tmp_path, {})
    assert not (tmp_path / "job.toml").exists()


def test_drawings_that_no_row_names_are_told(tmp_path: Path) -> None:
    folder(tmp_path, "plating", 2)
    (tmp_path / "parts.csv").write_text("mark,drawing,thickness\nP00,P00.dxf,6\nP10,P10.dxf,6\n", "utf-8")
    (tmp_path / "rows.csv").unlink()
    names = sorted(one.name for one in tmp_path.glob("*.dxf") if one.name not in ("P00.dxf", "P10.dxf"))
    begun = begin(tmp_path, {})
    assert f"Not named in parts.csv, and not looked at: {', '.join(names)}." in begun.lines


def test_the_command_line_takes_answers_from_a_file(tmp_path: Path) -> None:
    folder(tmp_path / "kit", "plating", 2)
    (tmp_path / "answers").write_text("# ways\n1 = 1\n", "utf-8")
    ran = CliRunner().invoke(root, ["new", str(tmp_path / "kit"), "--answers", str(tmp_path / "answers")])
    assert ran.exit_code == 0, ran.output
    assert "which way" not in ran.output
    assert "job.toml: look at" in ran.output
    no_job = folder(tmp_path / "more", "plating", 2)
    assert CliRunner().invoke(root, ["new", str(no_job), "--longer", "2"]).exit_code == 0
    wrong = CliRunner().invoke(root, ["new", str(tmp_path / "kit"), "--answer", "left"])
    assert isinstance(wrong.exception, FabplanError)


def test_a_line_that_meets_several_pieces_is_parted_by_its_holes_and_plan_agrees(tmp_path: Path) -> None:
    """A flat bar along three plates, with a strap under each joint: no count differs, all stand as they are shown."""
    begun = begin(folder(tmp_path, "plating", 7), {})
    assert begun.lines[-1] == "By these seams `plan` places all pieces as shown."
    made = assembled(begun.path)
    assert (made.placing.doubt, made.placing.faults) == (None, 0)
    taken: dict[tuple[str, str], list[int]] = {}
    for ply in (ply for seam in made.job.seams for ply in seam.plies if ply.numbers):
        taken.setdefault((ply.instance, ply.row), []).extend(ply.numbers)
    count = made.placing.body.part_of([one.mark for one in made.placing.body.instances].index("F11"))
    assert sorted(taken["F11", "r1"]) == list(range(1, len(count.holes.holes.row) + 1))
    assert all(len(own) == len(set(own)) for own in taken.values())


def test_several_answers_at_once_and_what_is_left_as_proposed(tmp_path: Path) -> None:
    """Choices of the panel: two answered, the others written as proposed and named so; the page tells each way."""
    plain = begin(folder(tmp_path / "one", "panel", 8), {})
    choices = plain.told.choices
    free = [k for k, one in enumerate(choices, 1) if len(one.ways) > 2 and not {*one.pieces} & {*choices[0].pieces}]
    many = free[0]
    begun = begin(folder(tmp_path / "two", "panel", 8), {1: 2, many: 3})
    assert begun.lines[-1] == "By these seams `plan` places all pieces as shown."
    text = begun.path.read_text("utf-8")
    assert "# Open 1, as answered: 1=2." in text
    assert f"# Open {many}, as answered: {many}=3." in text
    assert "as proposed, not yet answered." in text
    numbered = [line for line in begun.questions if line.startswith("open ")]
    left = [k for k in range(1, len(begun.told.choices) + 1) if k not in (1, many)]
    assert [line.split(":")[0] for line in numbered] == [f"open {k}" for k in left]
    page = (tmp_path / "two" / "seams.html").read_text("utf-8")
    for number, choice in enumerate(begun.told.choices, 1):
        assert all(f"{number}={way}: " in page for way in range(1, len(choice.ways) + 1))
    before, after = (assembled(one.path).placing.body.poses for one in (plain, begun))
    off = {
        plain_one.mark
        for plain_one, a, b in zip(assembled(plain.path).placing.body.instances, before, after, strict=True)
        if a is not None and b is not None and not np.allclose(a.origin, b.origin, atol=0.1)
    }
    asked = {i for number in (1, many) for i in begun.told.choices[number - 1].pieces}
    assert off == {one.mark for i, one in enumerate(assembled(begun.path).placing.body.instances) if i in asked}


def test_seams_are_those_of_the_body_as_answered(tmp_path: Path) -> None:
    """Stiffeners that change places meet other rows of their panel: the job that is written closes all the same."""
    plain = begin(folder(tmp_path / "one", "panel", 8), {})
    other = min(k for seam in plain.told.seams for k in seam.open)
    begun = begin(folder(tmp_path / "two", "panel", 8), {other: 2})
    assert begun.lines[-1] == "By these seams `plan` places all pieces as shown."
    assert {one.rows for one in begun.told.seams} != {one.rows for one in plain.told.seams}
    assert all(other not in one.open for one in begun.told.seams)
