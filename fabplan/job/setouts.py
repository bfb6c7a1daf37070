"""Faults of [[setout]]: seams, pieces and legs that are not there, or that cannot be set out."""

from collections import Counter
from collections.abc import Iterator

from fabplan.errors import Fault
from fabplan.job.pieces import Pieces, no_piece
from fabplan.job.words import nearest
from fabplan.model import job as model
from fabplan.model.legs import LEGS
from fabplan.model.lookup import section_kind
from fabplan.model.setout import SetoutSpec


def setout_faults(job: model.Job, pieces: Pieces, seams: list[str]) -> Iterator[Fault]:
    """All faults of [[setout]]; `seams` are the marks of all seams, those with faults included."""
    often = Counter(spec.seam for spec in job.setouts)
    for spec in job.setouts:
        if often[spec.seam] > 1:
            yield Fault(f"{spec.place}: seam", f'the seam "{spec.seam}" is set out twice', "Set each seam out once.")
        for place, mark in ((f"{spec.place}: seam", spec.seam), *_mirrored(spec)):
            if mark not in seams:
                yield Fault(place, f'there is no seam "{mark}"', nearest(mark, seams) or "Add a [[seam]].")
        seam = next((one for one in job.seams if one.mark == spec.seam), None)
        if spec.mirror is not None and spec.mirror.seam == spec.seam:
            yield Fault(f"{spec.place}: mirror", "a seam mirrored in itself", "Name the seam of the other side.")
        if spec.on:
            yield from no_piece(f"{spec.place}: on", spec.on, pieces)
        if spec.on in pieces.known and seam is not None:
            yield from _on_faults(spec, [ply.instance for ply in seam.plies], pieces.known[spec.on])


def _mirrored(spec: SetoutSpec) -> Iterator[tuple[str, str]]:
    if spec.mirror is not None:
        yield f"{spec.place}: mirror", spec.mirror.seam


def _on_faults(spec: SetoutSpec, plies: list[str], part: model.PartSpec) -> Iterator[Fault]:
    place = f"{spec.place}: on"
    if spec.on not in plies:
        yield Fault(place, f"seam {spec.seam} does not list {spec.on}", f"It lists {', '.join(plies)}.")
    legs = LEGS.get(section_kind(part.section), ()) if part.section else ()
    if spec.leg and spec.leg not in legs:
        mend = f"Its legs: {', '.join(legs)}." if legs else "A plate has none; leave it out."
        yield Fault(place, f'{spec.on} has no leg "{spec.leg}"', mend)
    if not part.section and spec.back_mark is not None:
        yield Fault(f"{spec.place}: back_mark", f"{spec.on} is a plate and has no back mark", "Leave it out.")
