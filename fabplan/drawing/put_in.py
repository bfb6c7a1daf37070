"""New holes and marks put into a copy of a drawing; the drawing itself, and all that is in it, stays as it is."""

from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from fabplan.drawing.names import refused
from fabplan.drawing.read import read_drawing
from fabplan.drawing.roles import Role, role_of
from fabplan.drawing.source import open_source
from fabplan.errors import OutputError, SetoutError
from fabplan.model.drawing import Drawing, Intake
from fabplan.model.setout import PutIn

R12 = "AC1009"
LONGEST = 31  # signs of a layer's name in R12
DAMAGED = ("damaged-drawing", "unreadable-drawing", "empty-drawing", "account-open")


def put_in(source: Path, target: Path, drawing: Drawing, added: PutIn, intake: Intake) -> Drawing:
    """Write a copy of a drawing with more in it, and read it back.

    Args:
        source: the drawing.
        target: the copy, not there yet or to be replaced.
        drawing: the source as read.
        added: what is put in.
        intake: what the reader is told.

    Raises:
        SetoutError: no layer can bear the name of a row.
        OutputError: what was read back is not what was there and what was put in.
    """
    from ezdxf.filemanagement import readfile

    document: Any = readfile(source, encoding=open_source(source).words.override)
    space, scale = document.modelspace(), drawing.scale
    level = _level(space)
    for row, xy, diameter in added.rows:
        layer = _layer(document, Role("RIVET", row), intake.roles)
        for x, y in (xy / scale).tolist():
            space.add_circle((x, y, level), diameter / 2.0 / scale, dxfattribs={"layer": layer})
    for handle, row in added.named:
        document.entitydb[handle].dxf.layer = _layer(document, Role("RIVET", row), intake.roles)
    marked = {"layer": _layer(document, Role("MARK"), intake.roles)} if added.marks or added.letters else {}
    for line in added.marks:
        start, end = (line / scale).tolist()
        space.add_line((*start, level), (*end, level), dxfattribs=marked)
    for text, (x, y), height in added.letters:
        space.add_text(text, height=height / scale, dxfattribs={**marked, "insert": (x / scale, y / scale, level)})
    _write(document, target)
    again = read_drawing(target, intake)
    _compare(drawing, again, added)
    return again


def fit_to_take(drawing: Drawing, roles: tuple[tuple[str, str], ...], row: str) -> None:
    """Look whether a drawing can take holes of a row.

    Raises:
        SetoutError: it is damaged, no layer of it has a role, or none can bear the name of the row.
    """
    if refused(f"RIVET {row}"):
        raise SetoutError(f'no layer can be named "RIVET {row}"', "Give the row another name: letters and figures.")
    damage = next((one for one in drawing.findings if one.check in DAMAGED), None)
    if damage is not None:
        raise SetoutError(f"{drawing.name} is damaged: {damage.what}", "Mend the drawing first.")
    if not any(role_of(entry.layer, roles).name for entry in drawing.account):
        what = (
            f"no layer of {drawing.name} has a role, and a layer RIVET beside them would make them all be passed over"
        )
        raise SetoutError(what, 'Say in [layers] what is cut: "0" = "CUT".')


def _layer(document: Any, role: Role, roles: Sequence[tuple[str, str]]) -> str:
    """The layer of a role: one that is there, else a new one."""
    for layer in document.layers:
        known = role_of(str(layer.dxf.name), tuple(roles))
        if (known.name, known.row.casefold()) == (role.name, role.row.casefold()):
            if layer.is_off() or layer.is_frozen():
                what = f"layer {layer.dxf.name} of {Path(document.filename).name} is off or frozen"
                raise SetoutError(f"{what}: new holes and marks on it would not be read", "Make it visible first.")
            return str(layer.dxf.name)
    name = f"{role.name} {role.row}".strip()
    if document.dxfversion == R12:
        name = name.replace(" ", "_")
    if refused(name) or (document.dxfversion == R12 and len(name) > LONGEST) or role_of(name, tuple(roles)) != role:
        mend = "Give the row another name: letters, figures and blanks."
        raise SetoutError(f'no layer can be named "{name}" for the row', mend)
    document.layers.add(name)
    return name


def _level(space: Any) -> float:
    """The level on which most of a drawing lies."""
    levels: Counter[float] = Counter()
    for entity in space:
        if entity.dxftype() in ("CIRCLE", "ARC"):
            levels[round(float(entity.dxf.center.z), 6)] += 1
        elif entity.dxftype() == "LINE":
            levels[round(float(entity.dxf.start.z), 6)] += 1
        elif entity.dxftype() == "LWPOLYLINE":
            levels[round(float(entity.dxf.elevation), 6)] += 1
    return min(levels, key=lambda level: (-levels[level], abs(level)), default=0.0)


def _write(document: Any, target: Path) -> None:
    """Write a drawing so that the same drawing gives the same bytes: without the time and the writer's version."""
    if document.dxfversion > R12:
        for name in ("ACDBPLACEHOLDER", "LAYOUT"):  # else in the order of a set
            document.classes.add_class(name)
    with _without_time():
        document.saveas(target)


@contextmanager
def _without_time() -> Iterator[None]:
    from ezdxf._options import options

    kept, options.write_fixed_meta_data_for_testing = options.write_fixed_meta_data_for_testing, True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = kept


def _compare(old: Drawing, new: Drawing, added: PutIn) -> None:
    """Hold what was read back against what was there and what was put in."""
    kinds = Counter(entry.kind for entry in new.account) - Counter(entry.kind for entry in old.account)
    wanted = Counter(CIRCLE=sum(len(xy) for _, xy, _ in added.rows))
    wanted += Counter(LINE=len(added.marks), TEXT=len(added.letters))
    lost = {entry.handle for entry in old.account} - {entry.handle for entry in new.account}
    if kinds != wanted or lost or len(new.account) != len(old.account) + wanted.total():
        what = f"{new.name} does not read back as it was written: {len(lost)} entities lost"
        raise OutputError(what, "Save the drawing anew in the program that drew it, and set out again.")
