"""The search against all bodies of small kits, laid piece by piece in every way and counted hole by hole."""

from collections.abc import Iterator

import pytest

from fabplan.kit.alike import kinds_of
from fabplan.kit.search import COST, Search
from fabplan.kit.stances import Stances, members
from fabplan.kit.tears import Rows
from fabplan.model.pose import Pose
from tests.unseamed.campaign import bare_pieces
from tests.unseamed.folder import BARE
from tests.unseamed.kits import kit

SMALL = [("plating", 2), ("plating", 8), ("plating", 11), ("plating", 18), ("plating", 19), ("panel", 9)]


def laid(
    stances: Stances, body: frozenset[int], left: tuple[int, ...], seen: set[frozenset[int]]
) -> Iterator[frozenset[int]]:
    """All bodies that grow from one: any piece that is left, in any place where it meets one that stands."""
    if body in seen:
        return
    seen.add(body)
    if not any(left):
        yield body
    some = 0
    for place in body:
        for places in stances.cover(place):
            some |= places
    for place in members(some).tolist():
        kind = stances.kind(place)
        if left[kind] and place not in body and stances.sound((*body, place)):
            rest = tuple(count - (number == kind) for number, count in enumerate(left))
            yield from laid(stances, body | {place}, rest, seen)


def cost(stances: Stances, rows: tuple[Rows, ...], body: frozenset[int]) -> int:
    """Holes without a mate that could have one, and rows of whose other holes no one piece meets all."""
    total = 0
    for place in body:
        own = rows[stances.kind(place)]
        cover = stances.cover(place)
        met = {other: {h for h, places in enumerate(cover) if places >> other & 1} for other in body - {place}}
        bare = set(members(own.holes).tolist()) - set().union(*met.values())
        total += len(bare)
        for row in own.rows:
            whole = set(members(row).tolist())
            possible = any(all(cover[h] >> k & 1 for h in whole) for k in range(len(stances)))
            total += possible and not any(whole - bare <= holes for holes in met.values())
    return total


@pytest.mark.parametrize(("name", "seed"), SMALL)
def test_the_search_finds_the_cheapest_of_all_bodies_and_no_other(name: str, seed: int) -> None:
    parts, _ = bare_pieces(kit(name, seed), BARE)
    kinds = kinds_of(parts)
    stances = Stances(kinds)
    number = max(range(len(kinds)), key=lambda k: len(kinds[k].shape))
    stances.datum = stances.number(number, Pose())
    rows = tuple(Rows.of(stances, k) for k in range(len(kinds)))
    left = tuple(len(kind.instances) - (k == number) for k, kind in enumerate(kinds))
    every = {body: cost(stances, rows, body) for body in laid(stances, frozenset([stances.datum]), left, set())}
    least = min(every.values())
    assert least <= COST
    total = sum(len(kind.shape) * len(kind.instances) for kind in kinds)
    bare = {body: total - stances.holes_met(sorted(body)) for body, own in every.items() if own == least}
    wanted = {stances.canonical(sorted(body)) for body, own in bare.items() if own == min(bare.values())}
    found = Search(kinds, stances).run()
    assert found.whole
    assert found.bare == min(bare.values())
    assert {stances.canonical(body) for body in found.bodies} == wanted
    assert len(found.bodies) == len(wanted)


@pytest.mark.parametrize(("name", "seed"), [*SMALL, ("box", 1), ("shell", 3)])
def test_a_place_is_beside_another_as_that_is_beside_it(name: str, seed: int) -> None:
    """On that rests that a piece which hangs on the datum can be reached from it, place by place."""
    parts, _ = bare_pieces(kit(name, seed), BARE)
    kinds = kinds_of(parts)
    stances = Stances(kinds)
    stances.datum = stances.number(max(range(len(kinds)), key=lambda k: len(kinds[k].shape)), Pose())
    held = {place for body in Search(kinds, stances).run().bodies for place in body}
    assert len(held) >= len(kinds)
    for place in held:
        for other in members(stances.around([place])).tolist():
            assert stances.around([other]) >> place & 1
