"""Proposed seams on the screen: one page that opens from disk, a picture and a reason for each seam and each choice."""

import re
from collections.abc import Sequence
from html import escape

import numpy as np

from fabplan.model.body import Body
from fabplan.model.choice import Choice
from fabplan.model.page import Arc, Page, Stroke, Text
from fabplan.model.proposal import Proposal
from fabplan.sheets.isometric import Scene, isometric, places, scene
from fabplan.sheets.locator import along, label
from fabplan.sheets.pen import Box, box
from fabplan.sheets.svg import page_svg

SIZE = (150.0, 105.0)  # mm, of a picture
DOT = 0.7  # mm, radius of a rivet
STYLE = (
    "body{font-family:sans-serif;max-width:60em;margin:1em auto}svg{max-width:100%;height:auto;border:1px solid #ccc}"
    "h2,h3{break-after:avoid}h2+p{break-after:avoid}svg{break-inside:avoid}"
)


def proposals_page(
    title: str,
    told: Proposal,
    body: Body,
    words: Sequence[str],
    shown: Sequence[Sequence[Body]],
    ways: Sequence[Sequence[str]],
) -> str:
    """The page as HTML.

    Args:
        title: of the job.
        told: what is proposed.
        body: the proposed body.
        words: sentences on the whole.
        shown: of each choice the bodies of its first ways, that which is proposed the first.
        ways: of each choice all its ways in words.
    """
    marks = [instance.mark for instance in body.instances]
    view = scene(body)
    parts = [f"<h1>{escape(title)}: proposed seams</h1>", *(f"<p>{_prose(line)}</p>" for line in words)]
    heads = [f"Open {number}: {choice_words(choice, marks)}" for number, choice in enumerate(told.choices, 1)]
    parts += [f"<p><a href='#open{number}'>{escape(head)}</a></p>" for number, head in enumerate(heads, 1)]
    for seam in told.seams:
        pieces = [instance for instance, _ in seam.rows]
        plies = ", ".join(f"{marks[instance]}/{row}" for instance, row in seam.rows)
        parts += [
            f"<h2>Seam {seam.mark}: {escape(plies)}</h2>",
            f"<p>{escape(seam_reason(told, seam.mark, marks))}</p>",
        ]
        parts.append(_picture(view, body, pieces, seam.points, f"seam {seam.mark}"))
    for number, choice in enumerate(told.choices, 1):
        parts.append(f"<h2 id='open{number}'>{escape(heads[number - 1])}</h2>")
        told_ways = [f"{number}={way}: {escape(what)}" for way, what in enumerate(ways[number - 1], 1)]
        for way, seen in enumerate(shown[number - 1], 1):
            parts += [
                f"<h3>{told_ways[way - 1]}</h3>",
                _picture(scene(seen), seen, choice.pieces, np.zeros((0, 3)), f"way {way}"),
            ]
        if len(told_ways) > way:
            parts.append(f"<p>Not drawn:</p><ul>{''.join(f'<li>{one}</li>' for one in told_ways[way:])}</ul>")
    head = f"<meta charset='utf-8'><title>{escape(title)}</title><style>{STYLE}</style>"
    return f"<!doctype html><html lang='en'><head>{head}</head><body>{''.join(parts)}</body></html>\n"


def _prose(words: str) -> str:
    """A sentence as HTML, what stands between backticks as code."""
    return re.sub("`([^`]+)`", r"<code>\1</code>", escape(words))


def seam_reason(told: Proposal, mark: str, marks: Sequence[str]) -> str:
    """Why rows are taken to belong together, with their counts."""
    seam = next(one for one in told.seams if one.mark == mark)
    count = len(seam.points)
    of = "; ".join(
        f"{count} of {all_of} of {marks[i]}/{row}" for (i, row), all_of in zip(seam.rows, seam.of, strict=True)
    )
    if seam.open:
        stands = f"Not in all ways of open {', '.join(map(str, seam.open))}"
    elif told.whole:
        only = "the body that is left" if told.usual else "the only body that fits"
        stands = "It stands whatever is chosen" if told.choices else f"It stands in {only}"
    else:
        stands = "It stands in the best body found so far"
    meet = "1 hole meets" if count == 1 else f"{count} holes meet"
    return f"{meet}, face on face, axis on axis within 1 mm: {of}. {stands}."


def choice_words(choice: Choice, marks: Sequence[str]) -> str:
    """An open choice in words."""
    pieces = ", ".join(marks[i] for i in choice.pieces)
    return f"{pieces}: {len(choice.ways)} ways fit as well; in each as many holes meet and no metal runs into metal"


def _picture(view: Scene, body: Body, pieces: Sequence[int], points: "np.typing.NDArray[np.float64]", name: str) -> str:
    room = (4.0, 4.0, SIZE[0] - 4.0, SIZE[1] - 4.0)
    items: list[Stroke | Arc | Text] = [*isometric(view, room, pieces, range(len(body.instances)))]
    texts: list[Box] = []
    dots: list[Box] = []
    if len(points):
        at, _ = places(view, room, points)
        items += [Arc((float(x), float(y)), DOT, width=0.0, fill=0.0) for x, y in at]
        dots += [(float(x) - DOT, float(y) - DOT, float(x) + DOT, float(y) + DOT) for x, y in at]
    for piece in pieces:
        spots = along(body, piece)
        mark, at = body.instances[piece].mark, places(view, room, spots)[0] if len(spots) else spots[:, :2]
        own = label(mark, at, [*texts, *dots], room, bold=False) or label(mark, at, [*texts], room, bold=False)
        texts += [box(one) for one in own]
        items += own
    return page_svg(Page(name, *SIZE, tuple(items)))
