"""Many findings of one mistake of the job are one; others stay as they are."""

from fabplan.model.finding import Finding, Level, Where
from fabplan.way.fold import folded


def of(check: str, part: str, measured: float = 11.0) -> Finding:
    return Finding(check, Level.STOP, f"{part} is wrong", Where(part=part), measured, 10.5, mend="Mend the job.")


def test_a_wrong_hole_of_the_job_is_told_once() -> None:
    alone = (of("hole-for-rivet", "A"), of("hole-for-rivet", "B", 12.0))
    assert folded(alone) == alone
    many = [
        *(of("hole-for-rivet", mark) for mark in ("A", "B", "C")),
        of("hole-for-rivet", "D"),
        of("hole-for-rivet", "E", 12.0),
        *(of("misfit", mark) for mark in "ABCDE"),
    ]
    told = folded(many)
    assert [one.check for one in told] == ["hole-for-rivet", "hole-for-rivet", *["misfit"] * 5]
    assert told[0].what == "A is wrong; the same 3 times more: B, C, D"
    assert told[1] == many[4]


def test_two_and_three_read_as_people_say_it() -> None:
    """Both plates of a lap, all of the body: one mistake of the job, not two."""
    two, three = ([of("hole-for-rivet", f"P{k}") for k in range(count)] for count in (2, 3))
    assert [one.what for one in folded(two)] == ["P0 is wrong; the same once more: P1"]
    assert [one.what for one in folded(three)] == ["P0 is wrong; the same twice more: P1, P2"]


def test_only_so_many_places_are_named() -> None:
    (told,) = folded([of("hole-for-rivet", f"P{k}") for k in range(12)])
    assert told.what.endswith("the same 11 times more: P1, P2, P3, P4, P5, P6, P7, P8 and 3 more")
