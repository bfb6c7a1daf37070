"""The bowser as a folder of bare drawings and tables comes together as it was built, with three questions at most."""

from itertools import product
from pathlib import Path

from fabplan.kit.propose import chosen
from fabplan.kit.seams import Stacks
from fabplan.way.assembly import assembled
from fabplan.way.bare import pieces_of
from fabplan.way.propose import begin
from tests.kits.bowser import bowser
from tests.unseamed.folder import ROWS, write_folder
from tests.unseamed.judge import stands, true_pose


def test_the_bowser_comes_together_right_from_its_bare_drawings(tmp_path: Path) -> None:
    """Its truth was built in space; answers that make it are sought among all, and `plan` is held against it."""
    known = bowser()
    for name in ("one", "two"):
        write_folder(known, tmp_path / name, ROWS)
    plain = begin(tmp_path / "one", {})
    assert plain.told.whole
    assert plain.told.bare == 0
    assert len({line.split("=")[0] for line in plain.questions if line.startswith("  ")}) <= 3
    _, parts, instances = pieces_of(plain.path)
    pieces = tuple(parts[one.part] for one in instances)
    true = [true_pose(known, one.mark) for one in instances]
    stacks = Stacks(pieces)
    right = [
        dict(enumerate(ways, 1))
        for ways in product(*(range(1, len(choice.ways) + 1) for choice in plain.told.choices))
        if stands(pieces, {**plain.told.poses, **chosen(plain.told, dict(enumerate(ways, 1)), stacks)}, true)
    ]
    assert len(right) == 1
    begun = begin(tmp_path / "two", right[0])
    assert begun.lines[-1] == "By these seams `plan` places all pieces as shown."
    placed = {i: pose for i, pose in enumerate(assembled(begun.path).placing.body.poses) if pose is not None}
    assert stands(pieces, placed, true)
