"""The job file of a kit."""

from collections.abc import Iterator
from datetime import date
from itertools import chain

import numpy as np

from tests.kits.build import Array, Keys, Kit, Piece, Plate, Seam, Value


def job_text(kit: Kit) -> str:
    """The job file as text; of a pair, the piece that comes first speaks for both."""
    pieces = {_name(piece): piece for piece in reversed(kit.pieces)}
    order = dict.fromkeys(map(_name, kit.pieces))
    head = ["[job]", *_keys(kit.job), "", *_rivet(kit), ""]
    extra = [kit.extra, ""] if kit.extra else []
    parts = chain.from_iterable(_part(kit, name, pieces[name]) for name in order)
    return "\n".join([*head, *extra, *parts, *chain.from_iterable(map(_seam, kit.seams))])


def _name(piece: Piece) -> str:
    return piece.part or piece.mark


def _rivet(kit: Kit) -> list[str]:
    diameter, hole = kit.rivet
    ends: Keys = {"head": "round", "point": "round", "closing": "hot"}
    return ["[[rivet]]", *_keys({"mark": "R10", "diameter": diameter, "hole": hole, **ends})]


def _part(kit: Kit, name: str, piece: Piece) -> Iterator[str]:
    yield from ("[[part]]", f'mark = "{name}"')
    if isinstance(piece, Plate):
        stated: Keys = {"drawing": f"{name}.dxf", "thickness": piece.thickness}
        yield from _keys({**stated, **_how_many(kit, name), **piece.keys})
        yield from piece.form
    else:
        length: Keys = {} if piece.measured else {"length": piece.length}
        yield from _keys({"section": piece.section, **length, **_how_many(kit, name), **piece.keys})
        yield from piece.form
        rows = [_row(row, *holes, kit.rivet[1], piece.measured) for row, holes in piece.rows.items()]
        yield from ("rows = [", *rows, "]")
    yield ""


def _how_many(kit: Kit, name: str) -> Keys:
    """Hand and quantity of a piece mark that several pieces bear: "A1R" and "A1L", or "A1-1" and "A1-2"."""
    marks = [piece.mark.removeprefix(name) for piece in kit.pieces if piece.part == name]
    pair = any(mark.startswith("L") for mark in marks)
    each = len(marks) // 2 if pair else len(marks)
    return {**({"hand": "pair"} if pair else {}), **({"quantity": each} if each > 1 else {})}


def _seam(seam: Seam) -> list[str]:
    plies = ", ".join(f'"{mark}"' for mark in seam.plies)
    rivet = [] if "fastener" in seam.keys else ['rivet = "R10"']
    return ["[[seam]]", f'mark = "{seam.mark}"', f"parts = [{plies}]", *rivet, *_keys(seam.keys), ""]


def _keys(keys: Keys) -> list[str]:
    return [f"{key} = {_word(value)}" for key, value in keys.items()]


def _word(value: Value) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        return f"[{', '.join(f'{one:g}' for one in value)}]"
    return f"{value:g}"


def _row(row: str, leg: str, places: Array, diameter: float, by: str = "") -> str:
    """A row of a bar: by its ends where its spaces are equal, else hole by hole."""
    along, mark = np.sort(np.round(places[:, 0], 4)), float(np.round(places[0, 1], 4))
    if len(along) > 1 and np.ptp(np.diff(along)) < 1e-3:
        at = f"first = {along[0]:.10g}, last = {along[-1]:.10g}, count = {len(along)}"
    else:
        at = f"at = [{', '.join(f'{place:.10g}' for place in along)}]"
    how = f'by = "{by}", ' if by else ""
    return f'  {{ row = "{row}", leg = "{leg}", back_mark = {mark:g}, {how}{at}, diameter = {diameter:g} }},'
