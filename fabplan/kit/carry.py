"""A part of a body that stands elsewhere: the first piece of it moves, and others go along."""

from collections.abc import Iterator, Sequence

from fabplan.geom.pose import compose, inverse
from fabplan.kit.stances import Stances


def carried(stances: Stances, placed: Sequence[int], places: Sequence[int], number: int) -> Iterator[tuple[int, ...]]:
    """Where some pieces stand once the first of them is in another place: with what hangs on it, without, or with all.

    Args:
        stances: all places.
        placed: of the pieces that stand still.
        places: of those that may move.
        number: where the first of these goes; none like it goes nowhere.
    """
    if stances.kind(places[0]) != stances.kind(number):
        return
    move = compose(stances.pose(number), inverse(stances.pose(places[0])))
    moved = [stances.after(move, one) for one in places]
    fouled = _fouled(stances, places, moved, {0})
    hung = _fouled(stances, places, moved, fouled | _hung(stances, placed, places, fouled))
    for goes in dict.fromkeys((frozenset(hung), frozenset(fouled), frozenset(range(len(places))))):
        yield tuple(moved[k] if k in goes else one for k, one in enumerate(places))


def _fouled(stances: Stances, places: Sequence[int], moved: Sequence[int], goes: set[int]) -> set[int]:
    """Some pieces that move, and those that must move with them for their metal."""
    goes, new = set(goes), list(goes)
    while new:
        one = moved[new.pop()]
        more = {k for k, place in enumerate(places) if k not in goes and stances.unsound(one, 1 << place)}
        goes |= more
        new += more
    return goes


def _hung(stances: Stances, placed: Sequence[int], places: Sequence[int], gone: set[int]) -> set[int]:
    """Of some pieces those that nothing holds to what stands once others are gone."""
    left, held = set(range(len(places))) - gone, list(placed)
    while held:
        one = held.pop()
        more = {k for k in left if stances.met(one, places[k])}
        left -= more
        held += [places[k] for k in more]
    return left
