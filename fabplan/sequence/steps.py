"""Steps of work, one sheet each, with reasons, checks and cautions."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from fabplan.geom.profile import bounds
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray
from fabplan.model.joints import LevelSpec
from fabplan.model.sequence import Step
from fabplan.sequence.bench_steps import bench_steps
from fabplan.sequence.erect import LIFTING, erection
from fabplan.sequence.footing import GOES_OVER, going_over
from fabplan.sequence.formed import formed_step
from fabplan.sequence.joining import dummy_step, plug_step, weld_step
from fabplan.sequence.man_inside import INSIDE, way_words
from fabplan.sequence.orders import Order
from fabplan.sequence.parting import parting
from fabplan.sequence.phases import HeldBack
from fabplan.sequence.riveting import riveting
from fabplan.sequence.scene import Scene, count_of, indices
from fabplan.sequence.ways_on import Known

MEASURED = 4  # plates measured across
SQUARE = 3.0  # mm, greatest difference of diagonals before riveting (common practice)
WATER = "Water test: 1 t for each cubic metre, blocks under the floor, vent open; never air in its place."


def make_steps(scene: Scene, placed: BoolArray, order: Order, back: HeldBack, known: Known) -> tuple[Step, ...]:
    """All steps, numbered; `known` are ways on that were found."""
    shifts = order.shifts
    off = np.nonzero(placed & ~shifts[0].phase.present)[0].tolist() if shifts else []
    driven = sum(len(shift.rivets) + (len(shift.phase.fitted) if shift.ends else 0) for shift in shifts)
    driven += int(order.bench.driven.sum())
    erected = tuple(erection(scene, placed, back, off, known))
    fitted = [i for step in erected for i in step.parts]
    drafts = [
        *erected,
        _dry_fit(scene, placed),
        _squaring(scene, placed),
        *weld_step(scene, placed, "before riveting"),
        *_templates(scene, placed),
        *weld_step(scene, placed, "before riveting", fitted=True),
        *parting(scene, order, fitted),
        *bench_steps(scene, order, fitted),
        *riveting(scene, order, back, fitted),
        *formed_step(scene, placed),
        *weld_step(scene, placed, "after riveting"),
        *plug_step(scene, placed),
        *dummy_step(scene, placed),
        *(_test(scene, placed) if driven == len(scene.stacks) else ()),
    ]
    return tuple(replace(step, number=number) for number, step in enumerate(drafts, start=1))


def _dry_fit(scene: Scene, placed: BoolArray) -> Step:
    bolts = scene.bolts_through(indices(placed))
    over = going_over(scene, indices(placed), ())
    total, men = sum(count for _, count in bolts), int((scene.bolted & scene.men).sum())
    return Step(
        0,
        "dry-fit",
        "Dry fit of the whole body",
        "no rivet goes in before every hole of every joint is good",
        present=indices(placed),
        bolts=bolts,
        checks=(
            f"{total} service bolts in, both ends of every row, then tightened from the middle outwards",
            *((f"{count_of(men, 'bolt')} of them wanted from inside; {way_words(scene, placed)}",) if men else ()),
            *((over,) if over else ()),
            "unfair holes listed: seam, number, how far out",
            "every hole of a joint passes a pin of rivet diameter, or is reamed through all plies",
        ),
        cautions=(
            *((GOES_OVER,) if over else ()),
            *((INSIDE,) if men else ()),
            LIFTING,
            "A drift brings holes together; it never enlarges one.",
        ),
    )


def _templates(scene: Scene, placed: BoolArray) -> Iterator[Step]:
    """The fit of what is formed to template, when its mates stand true: its holes are taken from them."""
    own = [i for i, instance in enumerate(scene.body.instances) if scene.body.parts[instance.part].spec.formed]
    if not own:
        return
    marks = {scene.mark(i) for i in own}
    mates = {
        seam.mark: [ply.instance for ply in seam.plies if ply.instance not in marks]
        for seam in scene.job.seams
        if marks & {ply.instance for ply in seam.plies}
    }
    yield Step(
        0,
        "template",
        f"Fit what is formed to template: {scene.marks(own)}",
        "its holes are taken from its mates, which stand true now; its rivets are driven when it goes on again",
        parts=tuple(own),
        present=tuple(sorted({*indices(placed), *own})),
        checks=(
            "a first-off proved against its mates before the others are formed",
            *(f"seam {mark}: holes marked through from {', '.join(found)}" for mark, found in mates.items()),
            "taken off, drilled, burr off both faces, trimmed to its edges, and bolted on again",
        ),
        cautions=(LIFTING,),
        lift=scene.lift(own),
    )


def _squaring(scene: Scene, placed: BoolArray) -> Step:
    plates = [i for i in indices(placed) if not scene.body.part_of(i).section and scene.body.part_of(i).panels]
    plates.sort(key=lambda i: (i != scene.datum, -scene.mass(i), i))
    diagonals = [(i, _diagonal(scene, i)) for i in plates]
    checks = [
        f"{scene.mark(i)}: both diagonals {diagonal:.0f} mm, apart by no more than {SQUARE:g} mm (common practice)"
        for i, diagonal in diagonals
        if diagonal > 0.0
    ]
    return Step(
        0,
        "square",
        "Square and true the body",
        "what is riveted crooked stays crooked",
        present=indices(placed),
        checks=(
            *checks[:MEASURED],
            *map(_level, scene.job.levels),
            "wind: sighted over two straight edges at the ends, found value noted",
        ),
        cautions=(LIFTING,),
    )


def _level(level: LevelSpec) -> str:
    """A level as it is measured."""
    rows = ", ".join(f"{row.instance}/{row.row}" for row in level.rows)
    height = "level with one another" if level.height is None else f"at z {level.height:g} mm over the datum's frame"
    return f"level {level.mark}: {rows} {height}, within {level.within:g} mm, packed where they are not"


def _diagonal(scene: Scene, instance: int) -> float:
    """Diagonal of a flat plate with four square corners, mm; 0 of any other: it has no corners to measure from."""
    panel, *bent = scene.body.part_of(instance).panels
    if bent:
        return 0.0
    outline = panel.outline
    x0, y0, x1, y1 = bounds(outline).tolist()
    corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    away = np.abs(outline.vertices[:, None] - corners[None]).max(axis=2).min(axis=0)
    return float(np.hypot(x1 - x0, y1 - y0)) if (away <= FIGURE).all() else 0.0


def _test(scene: Scene, placed: BoolArray) -> Iterator[Step]:
    tight = [seam.mark for seam in scene.job.seams if seam.tight]
    if tight:
        yield Step(
            0,
            "test",
            "Caulk, then leak test with water",
            f"{len(tight)} seams are to hold water; before paint inside or out",
            present=indices(placed),
            checks=(
                "edges caulked from the outside; plate under 5 mm wants compound in the joint (common practice)",
                "filled to the working head, held 1 to 24 hours (from memory); weeps marked on a sketch",
                "emptied below the leak before it is caulked again; never a ring weld round a rivet",
            ),
            cautions=(WATER, "Only static head: anything under more pressure is outside this plan."),
        )
