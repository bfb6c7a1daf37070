"""Bowser and skip as folders of bare drawings and tables come together as built, with three questions at most."""

from itertools import product
from pathlib import Path

from fabplan.kit.fit import Fit
from fabplan.kit.propose import chosen
from fabplan.model.part import Part
from fabplan.model.pose import Pose
from fabplan.way.assembly import assembled
from fabplan.way.bare import pieces_of
from fabplan.way.propose import Begun, begin
from tests.kits.bowser import bowser
from tests.kits.build import Kit
from tests.kits.skip import skip
from tests.unseamed.folder import BARE, write_folder
from tests.unseamed.judge import stands, true_pose


def asked(begun: Begun) -> int:
    """How many questions are asked."""
    return len({line.split("=")[0] for line in begun.questions if line.startswith("  ")})


def as_built(known: Kit, begun: Begun) -> tuple[tuple[Part, ...], list[Pose]]:
    """The part of each piece that was read, and where the piece was built in space."""
    _, parts, instances = pieces_of(begun.path)
    return tuple(parts[one.part] for one in instances), [true_pose(known, one.mark) for one in instances]


def right(begun: Begun, parts: tuple[Part, ...], true: list[Pose]) -> list[dict[int, int]]:
    """The answers, of all that may be given, that make the body as it was built."""
    told, fit = begun.told, Fit(parts)
    every = product(*(range(1, len(choice.ways) + 1) for choice in told.choices))
    answers = [dict(enumerate(ways, 1)) for ways in every]
    return [one for one in answers if stands(parts, {**told.poses, **chosen(told, one, fit)}, true)]


def test_the_bowser_comes_together_right_from_its_bare_drawings(tmp_path: Path) -> None:
    """Answers that make it are sought among all, and `plan` is held against it."""
    known = bowser()
    for name in ("one", "two"):
        write_folder(known, tmp_path / name, BARE)
    plain = begin(tmp_path / "one", {})
    assert plain.told.whole
    assert plain.told.bare == 0
    assert asked(plain) <= 3
    parts, true = as_built(known, plain)
    answers = right(plain, parts, true)
    assert len(answers) == 1
    begun = begin(tmp_path / "two", answers[0])
    assert begun.lines[-1] == "By these seams `plan` places all pieces as shown."
    placed = {i: pose for i, pose in enumerate(assembled(begun.path).placing.body.poses) if pose is not None}
    assert stands(parts, placed, true)


def test_the_skip_comes_together_right_from_its_bare_drawings(tmp_path: Path) -> None:
    """Its holes leave too much open to tell; of the bodies that makers would build, three answers make the true one."""
    known = skip()
    write_folder(known, tmp_path / "skip", BARE)
    begun = begin(tmp_path / "skip", {})
    assert begun.told.whole
    assert begun.told.usual
    assert begun.told.bare == 0
    assert len(begun.told.choices) == asked(begun) == 3
    assert len(right(begun, *as_built(known, begun))) == 1
