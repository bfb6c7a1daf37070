"""Findings that somebody answers for: marked where the geometry is still the one that was accepted."""

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from fabplan.model.checks import BODY, CHECKS, PART
from fabplan.model.drawing import Drawing
from fabplan.model.finding import Finding, Where
from fabplan.model.job import AcceptSpec, Job, PartSpec
from fabplan.model.joints import SeamSpec

SHORTEST = 8  # signs of a fingerprint that a job may state
KIT = ""  # the kit's own place among the fingerprints


@dataclass(frozen=True, slots=True)
class Geometry:
    """Fingerprints that acceptances are bound to: of each drawing by file name, of the kit under `KIT`."""

    prints: Mapping[str, str]

    def of(self, finding: Finding) -> str:
        """The fingerprint that a finding rests on: of its drawing, or of the kit where that tells it too.

        What a body or a measured piece shows may change while the drawing stays.
        """
        needs = CHECKS[finding.check].needs
        if BODY in needs or needs == (PART,):
            return self.prints[KIT]
        return self.prints.get(finding.where.drawing, self.prints[KIT]) if finding.where.drawing else self.prints[KIT]


def geometry(job: Job, drawings: Iterable[Drawing]) -> Geometry:
    """Fingerprints of drawings and of the kit: SHA-256 over the drawings' own, pieces as ordered, seams and places."""
    prints = {drawing.name: drawing.fingerprint for drawing in drawings}
    lines = sorted(_stated(part, prints) for part in job.parts)
    lines += sorted(_joined(seam) for seam in job.seams)
    lines += [repr((job.datum, *((one.part, one.origin, one.x, one.y) for one in job.places)))]
    lines += sorted(repr((rivet.mark, rivet.diameter, rivet.hole, rivet.head, rivet.point)) for rivet in job.rivets)
    lines += sorted(repr((one.name, one.bends)) for one in job.suppliers if one.bends)
    lines += [repr(one.sizes) for one in job.dry_fits]
    return Geometry(prints | {KIT: hashlib.sha256("\n".join(lines).encode()).hexdigest()})


def _joined(seam: SeamSpec) -> str:
    some = tuple((ply.instance, ply.numbers) for ply in seam.plies if ply.numbers)
    return repr((seam.mark, seam.plies, seam.rivet, seam.head, seam.instead, *((some,) if some else ())))


def _stated(part: PartSpec, prints: Mapping[str, str]) -> str:
    sizes = (part.section, part.length, part.rows, part.thickness, part.folds, part.rolls, part.marked)
    further = (part.ring, part.bender, part.joggles, part.cone, part.formed, part.ends, part.measured)
    stated = tuple(one for one in further if one)
    drawn = prints.get(f"{part.drawing} ({part.mark})", prints.get(part.drawing, ""))
    return repr((part.mark, part.quantity, part.hand, drawn, *sizes, *stated))


def accepted(job: Job, findings: Iterable[Finding], shapes: Geometry) -> tuple[Finding, ...]:
    """The findings, those that somebody answers for marked so."""
    return tuple(_marked(job.accepted, finding, shapes.of(finding)) for finding in findings)


def _marked(stated: Sequence[AcceptSpec], finding: Finding, own: str) -> Finding:
    for one in stated:
        if _meant(one, finding) and own.startswith(one.fingerprint):
            return replace(finding, accepted=f"accepted by {one.by}, {one.date}: {one.reason}")
    return finding


def _meant(one: AcceptSpec, finding: Finding) -> bool:
    """True where an acceptance speaks of a finding, whatever the geometry."""
    where = finding.where
    return (
        one.check == finding.check
        and (not one.drawing or one.drawing == where.drawing)
        and (not one.part or one.part == where.part)
        and (not one.seam or one.seam == where.seam)
        and (not one.holes or (bool(where.holes) and set(where.holes) <= set(one.holes)))
    )


def left_over(job: Job, findings: Sequence[Finding], shapes: Geometry) -> tuple[Finding, ...]:
    """Acceptances that lapsed with their geometry, or that no finding asks for.

    Args:
        job: the job, with its acceptances.
        findings: all findings of the road, marked or not.
        shapes: the fingerprints of today.
    """
    found = []
    for one in job.accepted:
        meant = [finding for finding in findings if _meant(one, finding)]
        if not meant:
            known = {"", *shapes.prints, *(part.drawing for part in job.parts)}
            what = "no such finding stands today" if one.drawing in known else "no part of the job has that drawing"
            found.append(_told("acceptance-unused", one, what, "Take it out of the job."))
        today = sorted({shapes.of(finding) for finding in meant})
        if meant and not any(own.startswith(one.fingerprint) for own in today):
            found.append(_told("acceptance-lapsed", one, *_lapsed(one.fingerprint, today)))
    return tuple(found)


def _lapsed(stated: str, today: Sequence[str]) -> tuple[str, str]:
    """Why a fingerprint holds no longer, and what to do: a slip in its later signs is no new geometry."""
    nearest = max(today, key=lambda own: _alike(own, stated))
    same = _alike(nearest, stated)
    if same >= SHORTEST:
        what = f"its fingerprint is today's in the first {same} signs only, the next should be {nearest[same]}"
        return what, f"Correct it: the first {SHORTEST} signs are enough, {nearest[:SHORTEST]}."
    what = f"it was accepted for the geometry {stated[:SHORTEST]}, today's is "
    what += ", ".join(own[:SHORTEST] or "none" for own in today)
    return what, "Look again; accept it anew with today's fingerprint."


def _alike(one: str, other: str) -> int:
    """How many first signs two fingerprints share."""
    unlike = (k for k, (a, b) in enumerate(zip(one, other, strict=False)) if a != b)
    return next(unlike, min(len(one), len(other)))


def _told(check: str, one: AcceptSpec, what: str, mend: str) -> Finding:
    row = CHECKS[check]
    words = f"{one.check}, accepted by {one.by} on {one.date}: {what}"
    where = Where(drawing=one.drawing, part=one.part, seam=one.seam, holes=one.holes)
    return Finding(check, row.level, words, where, source=row.source, mend=mend)
