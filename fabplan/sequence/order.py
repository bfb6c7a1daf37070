"""The order of work: erect, fit dry, square, rivet while everything can be reached, close, test."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from fabplan.model.arrays import BoolArray
from fabplan.model.body import Body, Stacks
from fabplan.model.finding import Finding
from fabplan.model.job import Job
from fabplan.model.sequence import Core, Sequence, Step
from fabplan.model.tables import Tables
from fabplan.sequence import spanners, tell, tool_entry
from fabplan.sequence.access import HAND_LENGTH, Site, site
from fabplan.sequence.bench import NO_BENCH, Bench, for_the_core, held_by, set_aside
from fabplan.sequence.foreman import broken, foreman
from fabplan.sequence.gates import gates
from fabplan.sequence.hanging import Aside, grounded, ties_of
from fabplan.sequence.near import near_upstands
from fabplan.sequence.orders import Order, orders
from fabplan.sequence.peel import Peeling, peel, plies
from fabplan.sequence.phases import HeldBack, Phase, held_back, phases
from fabplan.sequence.reach import Panels, Ways, panels_of, ways
from fabplan.sequence.scene import Scene, count_of
from fabplan.sequence.shifts import HOIST, RATES, Yard
from fabplan.sequence.solve import solver_there
from fabplan.sequence.standing import no_room
from fabplan.sequence.steps import make_steps
from fabplan.sequence.tools import POINT, seats, tool_words
from fabplan.sequence.ways_on import SET, Known, with_ways

IN = f"a rivet is put in by its head, its shank the grip and {POINT:g} d for the point (hand driving, from memory)"

NO_SOLVER = "better orders not looked for with CP-SAT, and no bounds: OR-Tools is not here (pip install '.[solve]')"


def order(
    job: Job, body: Body, stacks: Stacks, tables: Tables, bolted: Iterable[int]
) -> tuple[Sequence, tuple[Finding, ...]]:
    """The order of work of a body, and what cannot be reached or built.

    Args:
        job: settings of the shop, seams.
        body: placed pieces.
        stacks: its rivets.
        tables: tools and heads.
        bolted: rivets that have a service bolt in the dry fit.
    """
    solid = (not body.part_of(i).spec.formed for i in range(len(body.poses)))
    placed = np.array([one and pose is not None for one, pose in zip(solid, body.poses, strict=True)], dtype=np.bool_)
    marks = [instance.mark for instance in body.instances]
    if job.datum not in marks or not placed[marks.index(job.datum)] or len(stacks) == 0:
        nothing = Core(np.zeros(0, dtype=np.int64))
        return Sequence((), nothing, ("no order: there is no rivet between placed pieces",)), ()
    datum = marks.index(job.datum)
    panels = panels_of(body)
    reach = ways(job, body, stacks, panels, tables)
    yard = site(job, body, stacks, panels, reach)
    member = plies(stacks, len(marks))
    has_bolt = np.zeros(len(stacks), dtype=np.bool_)
    has_bolt[list(bolted)] = True
    scene = Scene(job, body, stacks, yard, has_bolt, datum, member, np.zeros_like(has_bolt))
    place = Yard(scene, seats(job, stacks, tables))
    peeling, rescued = _peeled(place, placed)
    done, back, asides = _states(place, placed, peeling, rescued)
    bolts = spanners.tightened(scene, tables, placed, done)
    scene = replace(scene, bolted=bolts.bolted, men=bolts.men)
    place = Yard(scene, place.seats)
    fixed = rescued.joined(set_aside(place, asides))
    weighed, steps, way_findings = _weighed(place, placed, (done, fixed), back)
    taken = weighed[0]
    spare = _spare(job, body, stacks, panels, tables) if np.any(peeling.round < 0) else None
    core, core_findings = tell.core(scene, placed, peeling, spare, rescued)
    found = (
        *core_findings,
        *tell.changed_sides(scene, steps),
        *tell.men_inside(scene, steps),
        *tell.heavy(scene, steps),
    )
    found = (*found, *tell.near(scene, near_upstands(scene, panels, tables, taken.phases), tables.near))
    found = (
        *found,
        *gates(scene, steps),
        *spanners.told(scene, bolts),
        *tool_entry.told(scene, tool_entry.too_wide(scene, place.seats, taken.phases)),
        *no_room(scene, taken.shifts),
        *way_findings,
        *(broken(scene, done) if job.order else ()),
    )
    went = count_of(len(bolts.moved), "service bolt")
    assumed = (*_assumptions(job, reach, yard, placed), *map(tool_words, bolts.tools))
    assumed += (f"{went} of the share stand in a hole nearby, where a spanner turns",) if bolts.moved else ()
    return Sequence(steps, core, assumed, tuple(one.tally for one in weighed), bolts.moved), found


def _peeled(yard: Yard, placed: BoolArray) -> tuple[Peeling, Bench]:
    """How far the body comes apart, and the sub-assemblies without which less of it would.

    Rivets that no order of the body drives are tried on the bench first; not where the job states its order.
    """
    scene = yard.scene
    peeling = peel(scene.site, scene.member, placed, scene.datum)
    if scene.job.order or not np.any(peeling.round < 0):
        return peeling, NO_BENCH
    bench = for_the_core(yard, placed, peeling)
    if not bench.units:
        return peeling, bench
    return peel(scene.site, held_by(scene.member, bench.units), placed, scene.datum, done=bench.driven), bench


def _states(
    yard: Yard, placed: BoolArray, peeling: Peeling, rescued: Bench
) -> tuple[tuple[Phase, ...], HeldBack, tuple[Aside, ...]]:
    """The phases of the body, what is held back, and what hangs on nothing before it is riveted together."""
    scene = yard.scene
    job, body, datum = scene.job, scene.body, scene.datum
    member = held_by(scene.member, rescued.units)
    if rescued.units:
        peeling = replace(peeling, round=np.where(rescued.driven, -1, peeling.round))
    done, back = phases(scene.site, member, peeling, held_back(body, scene.site, member, placed, datum))
    if job.order:  # the dry fit closes with what closes the body best, whenever the order puts it on
        marks = [instance.mark for instance in body.instances]
        done, why = foreman(job, marks, scene.site, member, scene.stacks.seam, (placed, datum))
        return done, replace(back, why=why), ()
    found, asides = grounded(scene.site, member, ties_of(job, body, member), done, datum)
    return found, back, asides


def _weighed(
    yard: Yard, placed: BoolArray, states: tuple[tuple[Phase, ...], Bench], back: HeldBack
) -> tuple[tuple[Order, ...], tuple[Step, ...], tuple[Finding, ...]]:
    """The orders, the steps of the one taken and what has no way on.

    Sub-assemblies that have none are not made, except those that nothing joins to what stands: `states` are the
    phases and the bench of these.
    """
    scene, apart, known = yard.scene, set[int](), Known()
    done, fixed = states
    while True:
        found = orders(yard, done, benches=not scene.job.order, apart=apart, fixed=fixed)
        bench = found[0].bench
        steps, findings = with_ways(scene, make_steps(scene, placed, found[0], back, known), bench, known)
        told = {one.where.part for one in findings}
        shut = {unit[0] for unit in bench.units[bench.must :] if scene.mark(unit[0]) in told}
        if not shut:
            return found, steps, findings
        apart |= shut


def _spare(job: Job, body: Body, stacks: Stacks, panels: Panels, tables: Tables) -> Ways | None:
    """The ways with the tools of the table too, where the shop counts its own alone."""
    if job.shop.assumed_tools:
        return None
    return ways(replace(job, shop=replace(job.shop, assumed_tools=True)), body, stacks, panels, tables)


def _assumptions(job: Job, reach: Ways, yard: Site, placed: BoolArray) -> tuple[str, ...]:
    unsaid = sum(not seam.faying for seam in job.seams)
    return (
        *(tool_words(tool) for tool in reach.tools),
        IN,
        *_sizes(job, yard),
        *_ground(job),
        f"ways on of pieces, {SET}; a turn on its seat is not followed",
        *(() if job.order or solver_there() else (NO_SOLVER,)),
        *((f"faying faces of {unsaid} seams: bare, painted or with compound, not stated",) if unsaid else ()),
    )


def _ground(job: Job) -> Iterator[str]:
    shop = job.shop
    yield (
        f"the work lies on trestles, open underneath, {shop.table_height:g} mm over the floor"
        if shop.table_height > 0.0
        else "the work lies on the floor"
    )
    lifted = f"up to {HOIST:g} kg (assumed)" if shop.hoist is None else f"up to {shop.hoist:g} kg"
    yield f"turned over by crane, {lifted}, {shop.turn_over_minutes:g} min each; {shop.lift_minutes:g} min a lift"
    yield RATES


def _sizes(job: Job, yard: Site) -> Iterator[str]:
    """What is taken for hands, arms and men, and how finely their ways are followed."""
    shop, space = job.shop, yard.space
    if not space.grid.shape[0]:
        yield "the body is too large for ways through it to be followed: only what lies outside its hull is reached"
        return
    yield (
        f"a hand passes {shop.hand_opening:g} mm, an arm {shop.arm_opening:g} mm; from a man to the tool's end they "
        f"reach {shop.reach_length:g} mm along their way, its last {HAND_LENGTH:g} mm a hand alone (assumed)"
    )
    yield f"a man passes an opening of {shop.man_opening:g} mm, in any posture (assumed)"
    yield (
        f"their ways are followed in steps of {space.grid.edge:.1f} mm and more: what is called open is open; an "
        f"opening less than {space.play:.0f} mm wider than asked, or a way up to an eighth too short, may count as shut"
    )
