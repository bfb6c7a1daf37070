"""What lies between the plies: bare, painted or with compound; whether it suits the rivets and their time."""

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from fabplan.geom.tolerance import FIGURE
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Finding, Where
from fabplan.model.joints import RivetSpec, SeamSpec
from fabplan.model.sequence import SeamWork, Step
from fabplan.sequence.scene import Scene

THIN = 5.0  # mm: outer plies under it are not caulked tight
THIN_SOURCE = "plate under 5 mm is not caulked: compound in the joint (common practice)"
STRIPPED = 100.0  # mm round each hole that is cleared of paint before hot rivets (common practice)
FACES = {
    "bare": "faying faces bare and clean",
    "painted": "faying faces painted, dry",
    "compound": "compound over both faying faces, squeezed out all along",
}


def counts_of(work: Sequence[SeamWork]) -> dict[int, int]:
    """How many rivets of each seam are driven in a step, seams in the order of its work."""
    many: dict[int, int] = {}
    for run in work:
        many[run.seam] = many.get(run.seam, 0) + len(run.rivets)
    return many


def face_words(scene: Scene, many: Mapping[int, int]) -> Iterator[str]:
    """A check for the faces of each kind that is stated between the plies of seams, with how much goes into each."""
    alike: dict[str, list[str]] = {}
    for number, count in many.items():
        seam = scene.job.seams[number] if number >= 0 else None
        if seam is not None and seam.faying:
            words = FACES[seam.faying]
            if seam.faying == "compound":
                words += f"; {_time(scene, count)}"
            if seam.faying == "painted" and _rivet(scene, seam).closing == "hot":
                words += f", stripped {STRIPPED:g} mm round each hole that is riveted hot"
            alike.setdefault(words, []).append(seam.mark)
    for words, marks in alike.items():
        yield f"{', '.join(dict.fromkeys(marks))}: {words}"


def gates(scene: Scene, steps: Sequence[Step]) -> Iterator[Finding]:
    """Queries about compound: wanted, under hot rivets, or dry before its rivets are in."""
    for number, seam in enumerate(scene.job.seams):
        own = np.nonzero(scene.stacks.seam == number)[0]
        if not len(own):
            continue
        where = Where(seam=seam.mark)
        thin = min(float(scene.stacks.ply_thickness[scene.stacks.first[own]].min()),
                   float(scene.stacks.ply_thickness[scene.stacks.first[own + 1] - 1].min()))  # fmt: skip
        if seam.tight and seam.faying != "compound" and not thin >= THIN - FIGURE:
            what = f"seam {seam.mark} is to hold water, and its outer ply of {thin:g} mm is too thin to be caulked"
            mend = 'Put compound into the joint and say so: `faying = "compound"`.'
            yield _query("compound-wanted", what, where, (thin, THIN, "mm"), THIN_SOURCE, mend)
        if seam.faying == "compound" and _rivet(scene, seam).closing == "hot":
            what = f"seam {seam.mark}: compound under rivets that are driven hot"
            mend = (
                "Ask its maker whether it stands the heat; it fumes and burns out at the rivets: extract, fire watch."
            )
            yield _query("compound-hot", what, where, (None, None, ""), "common practice", mend)
    yield from _too_slow(scene, steps)


def _too_slow(scene: Scene, steps: Sequence[Step]) -> Iterator[Finding]:
    """Seams with compound whose rivets of one step take longer than it stays open."""
    limit = scene.job.shop.compound_minutes
    for step in steps if limit is not None else ():
        of_seam = counts_of(step.work)
        for index in scene.stacks.seam[list(step.fitted)].tolist():
            of_seam[index] = of_seam.get(index, 0) + 1
        for index, rivets in of_seam.items():
            seam = scene.job.seams[index] if index >= 0 else None
            takes = _minutes(scene, rivets)
            if seam is not None and seam.faying == "compound" and not takes <= (limit or 0.0) + FIGURE:
                what = f"seam {seam.mark}, step {step.number}: {_time(scene, rivets)}"
                mend = "Part the seam in stretches, put more gangs on it, or take a compound that stays open longer."
                source = "[shop] compound_minutes and rivets_per_hour"
                yield _query("compound-dries", what, Where(seam=seam.mark), (takes, limit, "min"), source, mend)


def _minutes(scene: Scene, rivets: int) -> float:
    return 60.0 * rivets / scene.job.shop.rivets_per_hour


def _time(scene: Scene, rivets: int) -> str:
    """How long so many rivets take, and how long the compound stays open."""
    shop = scene.job.shop
    limit = shop.compound_minutes
    stays = "its open time is not stated: ask" if limit is None else f"it stays open {limit:g} min"
    return f"{rivets} fasteners at {shop.rivets_per_hour:g} an hour take {_minutes(scene, rivets):.0f} min, {stays}"


def _rivet(scene: Scene, seam: SeamSpec) -> RivetSpec:
    return next(rivet for rivet in scene.job.rivets if rivet.mark == seam.rivet)


def _query(
    check: str, what: str, where: Where, figures: tuple[float | None, float | None, str], source: str, mend: str
) -> Finding:
    return Finding(check, CHECKS[check].level, what, where, *figures, source, mend)
