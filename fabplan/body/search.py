"""The search for bodies: which face, which direction, which side, for every piece, so that all loops close.

    domain      what is still possible for a piece that hangs on placed ones: poses with the faults they bring
    faults      how many seams a choice leaves open (see `fit.faults`), clashes and faces that look elsewhere
    budget      the faults that the whole body may have; 0 first, more only when no body closes

The piece with the fewest choices goes next, so that a contradiction shows early. A branch ends as soon as the faults so
far and the least that every open piece must bring exceed the budget.
"""

from collections.abc import Iterator, Mapping
from itertools import product

from fabplan.body.costs import BARE_FAULT, CLASH_FAULT, Costs
from fabplan.body.fit import FAR
from fabplan.body.kit import Kit, height
from fabplan.model.pose import Pose

BUDGETS = (0, 1, 2)
NO_BUDGET = 10**6
STEPS = 400  # choices tried in one search; a body of 60 pieces with clear seams takes about 60
BAD_PIECE = 2 * FAR  # a piece that brings no more than this is the one at fault; no need to try the others
SUSPECTS = 24  # pieces left out in turn where no body closes
BODIES = 3  # bodies wanted: more than one is a finding, and three show the pattern
LEVEL = 1e-6  # mm, under which the centre of a body counts as below its datum

Places = Mapping[int, int]  # number of the pose of each placed instance
Choice = tuple[int, int]  # faults it brings, number of its pose
Domains = Mapping[int, tuple[Choice, ...]]


def bodies(kit: Kit, start: Mapping[int, Pose]) -> tuple[list[dict[int, Pose]], int]:
    """Up to `BODIES` different bodies with the fewest faults, best first, and how many faults they have.

    Of bodies as good, those that stand on the datum's own side are taken, and their mirror images through the datum
    are not. Pieces that no link reaches from `start` are left out.
    """
    costs = Costs(kit)
    first = {instance: costs.number(instance, pose) for instance, pose in start.items()}
    closing = _closing(costs, first)
    if closing is not None:
        return closing
    spent, places = _nearest(costs, first)
    return [_poses(costs, places)], spent


def closing_bodies(kit: Kit, start: Mapping[int, Pose]) -> tuple[list[dict[int, Pose]], int] | None:
    """The same for a kit that closes but for single holes, thicknesses or sides; None for one that does not."""
    costs = Costs(kit)
    return _closing(costs, {instance: costs.number(instance, pose) for instance, pose in start.items()})


def _closing(costs: Costs, first: Places) -> tuple[list[dict[int, Pose]], int] | None:
    for budget in BUDGETS:
        search = _Search(costs, budget)
        found = search.run(first)
        if found:
            least = min(spent for spent, _ in found)
            best = [_poses(costs, places) for places in _clear(costs, [one for spent, one in found if spent == least])]
            return [places for places in best if height(costs.kit, places) >= -LEVEL][:BODIES] or best[:BODIES], least
        if search.steps > STEPS:
            break  # a search that gave up within a small budget would give up within a larger one
    return None


def _clear(costs: Costs, found: list[dict[int, int]]) -> list[dict[int, int]]:
    """Of several bodies those whose pieces lie into one another least: a plate on the wrong side of a bend bites it."""
    if len(found) < 2:
        return found
    slight = [costs.slight(places) for places in found]
    return [places for places, bites in zip(found, slight, strict=True) if bites == min(slight)]


def _nearest(costs: Costs, first: Places) -> tuple[int, dict[int, int]]:
    """A body for a kit that does not close: each piece where it fits best.

    One wrong piece, placed early, leads all that hang on it astray. So each piece is left out in turn, those with
    open seams first; where the others then close, it goes where it fits best, in whichever way they close without it.
    """
    best = _Search(costs, NO_BUDGET).run(first)[0]
    suspects = [i for i in (*costs.astray(best[1]), *best[1]) if i not in first]
    marks = list(dict.fromkeys(costs.kit.parts[i].spec.mark for i in suspects))[:SUSPECTS]
    for budget, mark in product((BUDGETS[0], BUDGETS[-1]), marks):
        left_out = frozenset(i for i, part in enumerate(costs.kit.parts) if part.spec.mark == mark)
        brought: list[int] = []
        for spent, places in _Search(costs, budget, left_out).run(first):
            added, whole = _Search(costs, NO_BUDGET).run(places)[0]
            best = min(best, (spent + added, whole), key=lambda body: body[0])
            brought.append(added)
        if brought and brought[0] <= BAD_PIECE * len(left_out):
            return best
    return best


def _poses(costs: Costs, places: Places) -> dict[int, Pose]:
    return {instance: costs.stance(instance, number).pose for instance, number in places.items()}


class _Search:
    """One depth-first search within a budget; holds only its counters."""

    def __init__(self, costs: Costs, budget: int, left_out: frozenset[int] = frozenset()) -> None:
        self.costs, self.kit, self.budget, self.steps = costs, costs.kit, budget, 0
        self.greedy = budget >= NO_BUDGET
        self.left_out = left_out

    def run(self, start: Places) -> list[tuple[int, dict[int, int]]]:
        """Bodies found, with their faults."""
        found: list[tuple[int, dict[int, int]]] = []
        domains: Domains = {}
        for instance in start:
            domains = self._after(start, domains, instance)
        for spent, places in self._complete(dict(start), domains, 0):
            found.append((spent, places))
            self.budget = min(self.budget, spent)
            if len(found) >= (1 if self.greedy else 2 * BODIES):
                break
        return found

    def _complete(self, places: dict[int, int], domains: Domains, spent: int) -> Iterator[tuple[int, dict[int, int]]]:
        if not domains:
            yield spent, places
            return
        instance = min(domains, key=lambda i: (*self._doubt(domains[i]), -len(self._held(places, i)), i))
        rest = {i: choices for i, choices in domains.items() if i != instance}
        for cost, number in domains[instance]:
            if spent + cost > self.budget or (self.steps > STEPS and not self.greedy):
                break  # the choices after it cost no less
            self.steps += 1
            grown = {**places, instance: number}
            following = self._after(grown, rest, instance)
            if spent + cost + _least(following) <= self.budget:
                yield from self._complete(grown, following, spent + cost)

    def _doubt(self, choices: tuple[Choice, ...]) -> tuple[int, int]:
        """Fewest choices first; without a budget, the pieces that fit, so that a wrong one leads none astray."""
        return choices[0][0] if self.greedy else 0, len(choices)

    def _held(self, places: Places, instance: int) -> list[int]:
        """The links of a piece to placed ones."""
        return [link for link in self.kit.links.get(instance, ()) if self._other(link, instance) in places]

    def _other(self, link: int, instance: int) -> int:
        one = self.kit.every[link]
        return one.b if one.a == instance else one.a

    def _after(self, places: Places, domains: Domains, newest: int) -> Domains:
        """The domains once `newest` stands: new neighbours join, choices that foul it grow dearer."""
        following = dict(domains)
        joined: dict[int, list[int]] = {}
        for link in self.kit.links.get(newest, ()):
            if self._other(link, newest) not in places and self._other(link, newest) not in self.left_out:
                joined.setdefault(self._other(link, newest), []).append(link)
        alone = {newest: places[newest]}
        for instance, choices in domains.items():
            links = joined.get(instance, [])
            dearer = [(cost + self._cost(alone, (instance, number), links), number) for cost, number in choices]
            following[instance] = tuple(sorted(dearer, key=lambda choice: self._rank(instance, choice)))
        for instance, new in joined.items():
            if instance not in domains or self.budget > 0:
                following[instance] = self._hang(places, (instance, newest), new, following.get(instance, ()))
        kept = {i: tuple(choice for choice in following[i] if choice[0] <= self.budget) for i in sorted(following)}
        # without a budget a piece that no seam can hold is left out, not the whole body with it
        return {i: choices for i, choices in kept.items() if choices or not self.greedy}

    def _hang(
        self, places: Places, pair: tuple[int, int], new: list[int], known: tuple[Choice, ...]
    ) -> tuple[Choice, ...]:
        """The choices of a piece, first of the pair, that `new` links tie to the newest, beside those known."""
        instance, newest = pair
        links, costs = self._held(places, instance), self.costs
        different = {costs.stance(instance, number).sign: (cost, number) for cost, number in known}
        numbers = (number for link in new for number in costs.hung(link, newest, places[newest]))
        for number in dict.fromkeys(numbers):
            stance = costs.stance(instance, number)
            cost = stance.face_fault + self._cost(places, (instance, number), links)
            choice = (cost, number)
            if cost <= self.budget:
                best = min(different.get(stance.sign, choice), choice, key=lambda one: self._rank(instance, one))
                different[stance.sign] = best
        return tuple(sorted(different.values(), key=lambda choice: self._rank(instance, choice)))

    def _cost(self, places: Places, piece: tuple[int, int], links: list[int]) -> int:
        """Faults that a piece (instance, number of its pose) brings: `links` left open, and clashes with `places`."""
        instance, number = piece
        cost = 0
        for link in links:
            one = self.kit.every[link]
            own = one.a == instance
            pair = (number, places[one.b]) if own else (places[one.a], number)
            cost += self.costs.open(link, *pair)
            if cost > self.budget:
                return cost
        for other, place in places.items():
            fouls = self.costs.foul(instance, number, other, place)
            cost += CLASH_FAULT if fouls else BARE_FAULT * self.costs.bare(instance, number, other, place)
            if cost > self.budget:
                break
        return cost

    def _rank(self, instance: int, choice: Choice) -> tuple[object, ...]:
        """Fewest faults first, then as `Stance.rank` says."""
        cost, number = choice
        return cost, self.costs.stance(instance, number).rank


def _least(domains: Domains) -> int:
    """The least faults that the open pieces bring together; past any budget where one has no choice left."""
    return sum(choices[0][0] if choices else NO_BUDGET * 2 for choices in domains.values())


def bodies_without(costs: Costs, start: Mapping[int, Pose], left_out: frozenset[int]) -> list[dict[int, Pose]]:
    """Up to `BODIES` bodies that close without faults when some instances are left out."""
    first = {instance: costs.number(instance, pose) for instance, pose in start.items()}
    return [_poses(costs, places) for _, places in _Search(costs, 0, left_out).run(first)[:BODIES]]
