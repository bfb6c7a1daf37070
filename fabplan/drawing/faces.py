"""Which face and which hand: marks for the face that is not marked, words against the job, pairs that nothing tells."""

import re
from collections.abc import Iterator

from fabplan.drawing.roles import role_of
from fabplan.drawing.say import NO_FIGURES, finding
from fabplan.drawing.symmetry import same_turned_over
from fabplan.model.drawing import Drawing
from fabplan.model.finding import Finding, Where
from fabplan.model.job import PartSpec, Supplier

_OTHER_FACE = re.compile(r"\b(back|rear|under|underside|far|other|reverse)\b", re.IGNORECASE)
_LOOKS = re.compile(
    r"\b(?:marked|this|drawn)\s+face(?:\s+(?:is|looks|faces|to|towards))*(?:\s+the)?\s+(inside|outside)\b"
    r"|\b(?:seen|viewed|drawn)\s+from(?:\s+the)?\s+(inside|outside)\b",
    re.IGNORECASE,
)


def marks_on_other_face(drawing: Drawing, supplier: Supplier | None) -> Iterator[Finding]:
    """Marks whose layer says the other face, where the supplier does not say that he marks both."""
    if supplier is not None and supplier.marking == "both faces":
        return
    far = [line for line in drawing.marks if _OTHER_FACE.search(_plain(line.name))]
    if far:
        who = supplier.name if supplier is not None and supplier.marking else "a cutter, as a rule,"
        what = f"marks on layer {far[0].name} belong on the other face; {who} marks the face that is drawn"
        x, y = far[0].points[0].tolist()
        where = Where(drawing=drawing.name, handles=tuple(line.handle for line in far), xy=(x, y))
        yield finding("wrong-face", what, "Mark that face in the shop, or send the piece mirrored.", where, NO_FIGURES)


def _plain(name: str) -> str:
    return name.replace("_", " ").replace("-", " ")


def words_against_job(drawing: Drawing, spec: PartSpec) -> Iterator[Finding]:
    """A text that says where the drawn face looks, other than the job does."""
    for label in drawing.labels if spec.marked else ():
        found = _LOOKS.search(label.text)
        said = (found[1] or found[2]).lower() if found else spec.marked
        if said != spec.marked:
            what = f'the drawing says "{label.text[:60]}", the job says that its marked face looks {spec.marked}'
            where = Where(drawing=drawing.name, handles=(label.handle,), xy=label.xy)
            yield finding("wrong-face", what, "Correct the text, or `marked` in the job.", where, NO_FIGURES)


def hand_not_told(
    drawing: Drawing, supplier: Supplier | None, spec: PartSpec, roles: tuple[tuple[str, str], ...]
) -> Iterator[Finding]:
    """A pair without a mark on the steel, line or text: turned over, one hand is the other."""
    marked = _on_steel(drawing, supplier, roles)
    if spec.hand != "pair" or drawing.outline is None or marked or same_turned_over(drawing):
        return
    what = f"{spec.mark} is a pair, and nothing on the steel tells right from left: turned over, one is the other"
    x, y = drawing.outline.vertices[0].tolist()
    where = Where(drawing=drawing.name, handles=drawing.outline.handles, xy=(x, y))
    yield finding("hand-not-told", what, "Draw a mark with its hand on the layer MARK.", where, NO_FIGURES)


def _on_steel(drawing: Drawing, supplier: Supplier | None, roles: tuple[tuple[str, str], ...]) -> bool:
    """True where a line or a text is marked onto the steel."""
    if supplier is not None and supplier.marking == "none":
        return False
    return bool(drawing.marks) or any(role_of(label.layer, roles).name == "MARK" for label in drawing.labels)
