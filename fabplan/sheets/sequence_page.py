"""The order of work on the screen: the body in 3D, stepped by slider and keys, each step's words beside it.

One file that opens from disk; three.js (MIT, licence in `fabplan/licences/three.txt`) draws it. The body is that of
the 3D file, packed; where it is larger than `MOST_BYTES`, or a browser draws no 3D, the words stand alone and say so.
"""

import base64
import gzip
import json
import re
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from fabplan.model.plan import Plan
from fabplan.model.sequence import Step
from fabplan.sheets.caution import PLANNING_AID, stopped
from fabplan.sheets.glb import body_glb
from fabplan.sheets.locator import stands
from fabplan.sheets.markup import Markup, element, joined, listed, row, table
from fabplan.sheets.offline import data, document
from fabplan.sheets.row import size_words
from fabplan.sheets.step_tables import step_tables
from fabplan.sheets.table import Table

MOST_BYTES = 60_000_000  # of the unpacked body, some 20,000 rivets: the page then weighs about 30 MB
WIDE = 200.0  # mm, of the tables that are read here for their words alone
EXPORTED = re.compile(r"export\s*\{([^{}]*)\};?\s*$")
KEYS = (
    "Left and right arrow keys or the slider: step. Drag: turn. Shift and drag, or two fingers: move. Wheel: nearer. "
    "Click a rivet or a piece: what it is."
)
NO_VIEW = (
    "No pictures: they want a browser with scripts switched on and WebGL 2. The steps stand here in words; other "
    "programs show body.glb."
)
LEGEND = (("new", "comes in"), ("old", "stands"), ("driven", "rivets driven now"), ("done", "rivets driven before"))


def sequence_page(plan: Plan) -> str:
    """The whole page.

    Args:
        plan: with a body, its stacks and an order of work.
    """
    assert plan.sequence is not None
    subject = f"{plan.job.number} {plan.job.title}".strip()
    body = body_glb(plan)
    shown = len(body) <= MOST_BYTES
    steps = plan.sequence.steps
    top = [element("h1", f"Order of work: {subject}"), _stated(plan), *_struck(plan)]
    top.append(element("p", PLANNING_AID, class_="caution"))
    words = element("div", joined(_step(plan, step) for step in steps), class_="steps")
    main = element("main", joined([_view(len(steps)) if shown else _too_large(len(body)), words]), class_="order")
    packed = [_packed(body), _told(plan)] if shown else []
    style = Markup(data("report.css") + data("sequence.css"))
    parts = [element("header", joined(top)), main, *packed]
    return document(f"Order of work: {subject}", parts, style, _script(), module=True)


def _stated(plan: Plan) -> Markup:
    told = [("revision", plan.job.revision), ("date", plan.job.date), ("kit", plan.fingerprint[:8])]
    return element("p", ", ".join(f"{name} {value}" for name, value in told if value), class_="quiet")


def _struck(plan: Plan) -> list[Markup]:
    words = stopped(sum(finding.blocks for finding in plan.findings))
    return [element("p", element("strong", words, class_="struck"))] if words else []


def _view(count: int) -> Markup:
    slider = Markup(f'<input type="range" min="1" max="{count}" value="1" step="1" id="at" aria-label="step">')
    buttons = [
        element("button", "\u2190", type="button", id="back", aria_label="step back"),
        slider,
        element("button", "\u2192", type="button", id="on", aria_label="next step"),
        element("output", f"step 1 of {count}", id="which"),
        element("label", Markup('<input type="checkbox" id="clear"> see through')),
        element("button", "fit", type="button", id="fit", aria_label="show the whole body"),
    ]
    keys = joined((element("span", element("i", "", class_=name) + told) for name, told in LEGEND), " ")
    inside = [
        element("div", "", id="body", role="img", tabindex="0", aria_label="the body at this step"),
        element("div", joined(buttons), class_="tools"),
        element("p", "", id="picked", role="status"),
        element("figcaption", joined([keys, element("span", KEYS)]), class_="keys"),
        element("p", NO_VIEW, class_="struck undrawn"),
    ]
    return element("figure", joined(inside), class_="picture")


def _too_large(size: int) -> Markup:
    words = (
        f"The body takes {size / 1e6:.0f} MB, more than the {MOST_BYTES / 1e6:.0f} MB that this page shows: "
        "open body.glb beside it. The steps stand here in words."
    )
    return element("p", words, class_="struck")


def _step(plan: Plan, step: Step) -> Markup:
    parts = [element("h2", f"{step.number}: {step.title}"), element("p", step.reason)]
    parts += [element("p", words, class_="caution") for words in step.cautions]
    parts += [_table(one) for one in step_tables(plan, step, WIDE) if any(map(any, one.rows))]
    return element("article", joined(parts), id=f"step-{step.number}")


def _table(one: Table) -> Markup:
    """A table of the paper sheet without its boxes to write in; sentences as a list."""
    if len(one.heads) == 1:
        return listed(cells[0] for cells in one.rows)
    kept = [k for k in range(len(one.heads)) if k not in one.boxed]
    heads = [one.heads[k] for k in kept]
    return table(one.title.split(";")[0], heads, [row(heads, [cells[k] for k in kept]) for cells in one.rows])


def _packed(body: bytes) -> Markup:
    text = base64.b64encode(gzip.compress(body, 9, mtime=0)).decode()
    return element("script", Markup(text), type="application/octet-stream", id="packed")


def _told(plan: Plan) -> Markup:
    """Which pieces stand and come in at each step, when each rivet is driven, and through which, for the script."""
    assert plan.sequence is not None
    assert plan.stacks is not None
    driven = np.zeros(len(plan.stacks), dtype=np.int64)
    for step in plan.sequence.steps:
        for work in step.work:
            driven[work.rivets] = step.number
    stacks, sizes = plan.stacks, [size_words(line) for line in plan.supply.rivets]
    ends = stacks.first.tolist()
    held = [tuple(sorted(set(stacks.ply_instance[a:b].tolist()))) for a, b in pairwise(ends)]
    kinds = {plies: number for number, plies in enumerate(dict.fromkeys(held))}
    told = {
        "steps": [_standing(plan, step) for step in plan.sequence.steps],
        "rivets": {
            number: [int(at), line, kinds[plies]]
            for number, at, line, plies in zip(stacks.number, driven, _lines(plan), held, strict=True)
        },
        "held": [_marks(plan, plies) for plies in kinds],
        "sizes": sizes,
    }
    text = json.dumps(told, separators=(",", ":"))  # only ASCII; no tag may open or close in it
    safe = text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
    return element("script", Markup(safe), type="application/json", id="told")


def _standing(plan: Plan, step: Step) -> dict[str, list[str]]:
    return {"new": _marks(plan, step.parts), "stands": _marks(plan, stands(step))}


def _marks(plan: Plan, instances: Sequence[int]) -> list[str]:
    assert plan.body is not None
    return [plan.body.instances[i].mark for i in instances]


def _lines(plan: Plan) -> list[int]:
    assert plan.stacks is not None
    return list(plan.supply.rivet_line) or [-1] * len(plan.stacks)


def _script() -> Markup:
    """three.js with its list of exports turned into one name, and the page's own script after it."""
    drawing = data("three.module.min.js")
    exports = EXPORTED.search(drawing)
    assert exports is not None, "three.module.min.js ends with its exports"
    names = (one.split(" as ") for one in exports.group(1).split(","))
    listed_names = ",".join(f"{pair[-1].strip()}:{pair[0].strip()}" for pair in names)
    return Markup(f"{drawing[: exports.start()]}\nconst THREE = {{{listed_names}}};\n{data('sequence.js')}")
