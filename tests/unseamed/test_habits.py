"""What goes least against the habits of makers, counted hole by hole over all bodies; and both hands of a piece."""

from collections import defaultdict
from functools import cache

import numpy as np
import pytest

from fabplan.geom.pose import compose, inverse, to_outer, turned
from fabplan.geom.prism import thick
from fabplan.kit.alike import kinds_of
from fabplan.kit.clauses import Body
from fabplan.kit.habits import Habits, planes_of
from fabplan.kit.hands import Plane, between, hands_of
from fabplan.kit.search import Search
from fabplan.kit.stances import Stances, members
from fabplan.model.part import Part
from fabplan.model.pose import Pose
from tests.kits.build import Array
from tests.unseamed.campaign import bare_pieces
from tests.unseamed.folder import BARE
from tests.unseamed.judge import true_pose
from tests.unseamed.kits import kit
from tests.unseamed.shell import Shell

MANY = [("shell", 3, True), ("panel", 8, False)]
"""Kits of which all bodies can be listed, and whether all of these stand on one side of their datum."""


def middles(stances: Stances, place: int) -> Array:
    """The middles (n, 3) of the holes of the piece in a place."""
    shape = stances.kinds[stances.kind(place)].shape
    return to_outer(stances.pose(place), shape.faces.mean(axis=1))


def points(stances: Stances, place: int) -> Array:
    """Places (n, 3) of the piece in a place: the middles of its holes, and the corners of its metal."""
    boxes = stances.kinds[stances.kind(place)].shape.boxes.reshape(-1, 3)
    return np.vstack([middles(stances, place), to_outer(stances.pose(place), boxes)])


def on(one: Array, two: Array) -> bool:
    """Whether places fall on places, each on one."""
    apart = np.linalg.norm(one[:, None] - two[None], axis=2)
    return len(one) == len(two) and max(apart.min(axis=0).max(), apart.min(axis=1).max()) < 2.0


def against_alike(stances: Stances, body: Body, planes: list[Plane]) -> int:
    """Kinds, both hands together, of which a piece has no image in a plane, or whose pieces lie unlike."""
    hands = stances.hands
    groups: dict[int, list[int]] = defaultdict(list)
    for place in body:
        kind = stances.kind(place)
        hand = hands[kind]
        groups[min(kind, hand.kind) if hand else kind].append(place)
    total = 0
    for own, places in groups.items():
        alone = []
        for plane in planes if hands[own] else []:
            mirror = np.eye(3) - 2.0 * np.outer(plane.normal, plane.normal)
            images = [points(stances, place) @ mirror + 2.0 * plane.at * plane.normal for place in places]
            alone.append(not all(any(on(one, points(stances, other)) for other in places) for one in images))
        ways: list[Array] = []
        for place in places:
            spread = points(stances, place) - points(stances, place).mean(axis=0)
            seen = [spread]
            if hands[own] and planes:
                seen.append(spread @ (np.eye(3) - 2.0 * np.outer(planes[0].normal, planes[0].normal)))
            if stances.kind(place) != own:
                seen = seen[1:] or seen
            if not any(on(one, way) for one in seen for way in ways):
                ways.append(seen[0])
        mirrored = len(alone) > 1 and not alone[1]
        total += sum(alone) + (len(ways) > 1 and not mirrored)
    return total


def against_in_line(stances: Stances, body: Body) -> int:
    """Planes of the legs of bars, and axes of openings."""
    known: list[Array] = []
    for place in body:
        part, pose = stances.kinds[stances.kind(place)].shape.part, stances.pose(place)
        rows = []
        if part.section is not None:
            solids = [thick(panel) for panel in part.panels]
            ways = np.array([turned(pose, solid.frame.rotation[:, 2]) for solid in solids])
            ways = np.array([way * np.sign(way[np.abs(way).argmax()]) for way in ways])
            at = np.array([to_outer(pose, solid.frame.origin) for solid in solids])
            keys = np.column_stack([100.0 * ways, np.einsum("ni,ni->n", ways, at)])
            area = np.array([solid.face.area for solid in solids])
            for key in keys:
                if area[np.abs(keys - key).max(axis=1) < 1.0].sum() >= 0.3 * area.sum():
                    rows.append(np.append(key, [0.0, 0.0, 0.0]))
        for hole in [k for k, purpose in enumerate(part.holes.holes.purpose) if purpose == "open"]:
            frame = part.panels[part.holes.panel[hole]].frame
            way = turned(pose, frame.rotation[:, 2])
            way = way * np.sign(way[np.abs(way).argmax()])
            at = to_outer(pose, to_outer(frame, np.array([*part.holes.holes.xy[hole], 0.0])))
            rows.append(np.concatenate([100.0 * way, [1e6], at - (at @ way) * way]))
        for row in rows:
            if not any(np.abs(row - other).max() < 2.0 for other in known):
                known.append(row)
    return len(known)


def against_outside(stances: Stances, body: Body, depth: dict[int, int], middle: Array) -> int:
    """Pieces that lie on the inner side of one nearer to the datum, at the first hole where they meet."""
    count = 0
    for place in body:
        kind = stances.kind(place)
        inner = False
        for other in body:
            met = members(stances.met(place, other)) if other != place else np.zeros(0, dtype=np.int64)
            if len(met) and depth[kind] > depth[stances.kind(other)]:
                here = middles(stances, place)[met].mean(axis=0)
                there = middles(stances, other)[members(stances.met(other, place))].mean(axis=0)
                out = turned(stances.pose(place), stances.kinds[kind].shape.out[met])
                signs = np.sign(np.einsum("ni,ni->n", middles(stances, place)[met] - middle, out))
                inner |= float((here - there) @ (signs[:, None] * out).mean(axis=0)) < -1e-9
        count += inner
    return count


def depths(stances: Stances, body: Body) -> dict[int, int]:
    """By kind the fewest pieces between it and the datum."""
    depth = {body[0]: 0}
    while len(depth) < len(body):
        near = {two for one in depth for two in body if two not in depth and stances.met(one, two)}
        depth |= {two: 1 + min(depth[one] for one in depth if stances.met(one, two)) for two in near}
    return {k: min(depth[place] for place in body if stances.kind(place) == k) for k in map(stances.kind, body)}


def middle(stances: Stances, body: Body) -> Array:
    """The middle of the box around all metal."""
    corners = [
        to_outer(stances.pose(place), stances.kinds[stances.kind(place)].shape.boxes.reshape(-1, 3)) for place in body
    ]
    every = np.vstack(corners)
    return np.asarray((every.min(axis=0) + every.max(axis=0)) / 2.0)


@pytest.mark.parametrize(("name", "seed", "outside"), MANY)
def test_of_all_bodies_those_are_kept_that_go_least_against_each_habit_in_turn(
    name: str, seed: int, outside: bool
) -> None:
    parts, _ = bare_pieces(kit(name, seed), BARE)
    kinds = kinds_of(parts)
    stances = Stances(kinds)
    number = max(range(len(kinds)), key=lambda k: (kinds[k].shape.part.section is None, len(kinds[k].shape)))
    stances.datum = stances.number(number, Pose())
    search = Search(kinds, stances)
    every = search.run()
    assert every.whole
    assert len(every.bodies) > 1
    kept = search.usual(every.bodies, outside=outside)
    planes, depth, inside = planes_of(stances, every.bodies), depths(stances, kept[0]), middle(stances, kept[0])
    costs = {
        body: (
            against_alike(stances, body, planes),
            against_outside(stances, body, depth, inside) if outside else 0,
            against_in_line(stances, body),
        )
        for body in {stances.canonical(body): body for body in (*every.bodies, *kept)}.values()
    }
    left = [body for body, cost in costs.items() if cost == min(costs.values())]
    assert {stances.canonical(body) for body in kept} == {stances.canonical(body) for body in left}
    assert len(left) < len(costs)
    assert {body for body in costs if search.allows(body)} == set(left)


@cache
def drum() -> tuple[Stances, tuple[Part, ...], dict[str, Pose]]:
    """A shell of one pitch, built alike from either end: its pieces, and where they stand by mark."""
    known = Shell(14, uniform=True).made()
    parts, marks = bare_pieces(known, BARE)
    return Stances(kinds_of(parts)), parts, {mark: true_pose(known, mark) for mark in marks}


@pytest.mark.parametrize(("steps", "image"), [(0.0, True), (1.0, True), (12.0, True), (33.0, True), (0.5, False)])
def test_an_end_is_the_image_of_the_other_one_whichever_of_its_holes_is_on_top(steps: float, image: bool) -> None:
    """It is turned by spaces of its row."""
    stances, parts, true = drum()
    kinds, poses, marks = stances.kinds, dict(true), list(true)
    angle = 2.0 * np.pi * steps / len(parts[marks.index("E2")].holes.holes)
    turn = np.array([[1.0, 0.0, 0.0], [0.0, np.cos(angle), -np.sin(angle)], [0.0, np.sin(angle), np.cos(angle)]])
    poses["E2"] = compose(Pose(turn, np.zeros(3)), poses["E2"])
    homes = {mark: next(k for k, kind in enumerate(kinds) if i in kind.instances) for i, mark in enumerate(marks)}
    body = tuple(
        stances.number(homes[mark], compose(poses[mark], inverse(kinds[homes[mark]].moved[id(part)])))
        for mark, part in zip(marks, parts, strict=True)
    )
    stances.datum = body[0]
    clauses = Search(kinds, stances).clauses
    clauses.in_use.update(body)
    clauses = clauses.closed()
    against = []
    for one in Habits(stances, clauses, [body]).alike(body):
        clauses.bounds = [-one]
        against.append(not clauses.allows(8, 1_000_000, body))
    rings = 1  # cut 0.4 degrees short at one end: they have no images, and lie four ways
    assert (sum(against) == rings) is image


def test_both_hands_are_images_in_the_plane_between_them() -> None:
    """Where each was built in space tells the plane; the image is held against holes mirrored place by place."""
    seed = next(k for k in range(20) if any(piece.mark == "A1L" for piece in kit("box", k).pieces))
    known = kit("box", seed)
    parts, marks = bare_pieces(known, BARE)
    kinds = kinds_of(parts)
    hands = hands_of(kinds)
    right, left = marks.index("A1R"), marks.index("A1L")
    one, two = (next(k for k, kind in enumerate(kinds) if i in kind.instances) for i in (right, left))
    hand = hands[one]
    assert hand is not None
    assert hand.kind == two
    at = {i: true_pose(known, marks[i]) for i in (right, left)}
    plane = between(at[right], at[left], hand)
    assert plane is not None
    wide = float(at[left].origin[1] - at[right].origin[1])
    np.testing.assert_allclose(np.abs(plane.normal), [0.0, 1.0, 0.0], atol=1e-6)
    np.testing.assert_allclose(plane.at * plane.normal[1], at[right].origin[1] + wide / 2.0, atol=0.01)
    holes = [to_outer(at[i], kinds[k].shape.faces.mean(axis=1)) for i, k in ((right, one), (left, two))]
    mirrored = holes[0] * [1.0, -1.0, 1.0] + [0.0, 2.0 * at[right].origin[1] + wide, 0.0]
    assert on(mirrored, holes[1])
    image = plane.image(at[right], hand)
    assert on(to_outer(image, kinds[two].shape.faces.mean(axis=1)), mirrored)
    assert np.linalg.det(image.rotation) == pytest.approx(1.0)
