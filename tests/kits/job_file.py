"""The job file of a kit."""

from collections.abc import Iterator
from datetime import date
from itertools import chain

import numpy as np

from tests.kits.build import Angle, Array, Keys, Kit, Piece, Plate, Seam, Value


def job_text(kit: Kit) -> str:
    """The job file as text; of a pair, the piece that comes first speaks for both."""
    pieces = {_name(piece): piece for piece in reversed(kit.pieces)}
    order = dict.fromkeys(map(_name, kit.pieces))
    head = ["[job]", *_keys(kit.job), "", *_rivet(kit), ""]
    extra = [kit.extra, ""] if kit.extra else []
    parts = chain.from_iterable(_part(kit, name, pieces[name]) for name in order)
    return "\n".join([*head, *extra, *parts, *chain.from_iterable(map(_seam, kit.seams))])


def _name(piece: Piece) -> str:
    return piece.part if isinstance(piece, Angle) and piece.part else piece.mark


def _rivet(kit: Kit) -> list[str]:
    diameter, hole = kit.rivet
    ends: Keys = {"head": "round", "point": "round", "closing": "hot"}
    return ["[[rivet]]", *_keys({"mark": "R10", "diameter": diameter, "hole": hole, **ends})]


def _part(kit: Kit, name: str, piece: Piece) -> Iterator[str]:
    yield from ("[[part]]", f'mark = "{name}"')
    if isinstance(piece, Plate):
        yield from _keys({"drawing": f"{piece.mark}.dxf", "thickness": piece.thickness, **piece.keys})
    else:
        pair: Keys = {"hand": "pair"} if piece.part else {}
        yield from _keys({"section": piece.section, "length": piece.length, **pair, **piece.keys})
        yield from ("rows = [", *(_row(row, *holes, kit.rivet[1]) for row, holes in piece.rows.items()), "]")
    yield ""


def _seam(seam: Seam) -> list[str]:
    plies = ", ".join(f'"{mark}"' for mark in seam.plies)
    return ["[[seam]]", f'mark = "{seam.mark}"', f"parts = [{plies}]", 'rivet = "R10"', *_keys(seam.keys), ""]


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


def _row(row: str, leg: str, places: Array, diameter: float) -> str:
    """A row of a bar: by its ends where its spaces are equal, else hole by hole."""
    along, mark = np.sort(np.round(places[:, 0], 4)), float(np.round(places[0, 1], 4))
    if len(along) > 1 and np.ptp(np.diff(along)) < 1e-3:
        at = f"first = {along[0]:.10g}, last = {along[-1]:.10g}, count = {len(along)}"
    else:
        at = f"at = [{', '.join(f'{place:.10g}' for place in along)}]"
    return f'  {{ row = "{row}", leg = "{leg}", back_mark = {mark:g}, {at}, diameter = {diameter:g} }},'
