"""What each piece of a drawing is for: by the role of its layer, or by its form where no layer has one."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from fabplan.drawing.circles import EVEN, piece_circle
from fabplan.drawing.pieces import DIMENSIONS, FILLS, TEXTS, Piece
from fabplan.drawing.roles import Role, role_of
from fabplan.model.drawing import Entry, Intake

HOLES = ("RIVET", "BOLT")
FATES_BY_WEIGHT = ("reported", "used", "set aside")  # of an entity of several pieces the first that occurs


@dataclass(slots=True)
class Sorting:
    """Pieces by what they are for.

    Attributes:
        cut: pieces of the cut layers.
        round: circles of the hole layers, with their roles.
        loose: other lines of the hole layers, by role: they may yet chain to circles.
        lines: pieces that are drawn and not cut, by role.
        labels: texts.
        entries: the account, an entry for each entity.
        troubles: check and piece for each that cannot be used.
        roleless: pieces by layer, of the layers without a role.
        hidden: pieces that are not seen and would be cut or drilled if they were, by layer and why.
        bare: True where no layer has a role: closed geometry is cut geometry.
    """

    cut: list[Piece] = field(default_factory=list)
    round: list[tuple[Piece, Role]] = field(default_factory=list)
    loose: dict[Role, list[Piece]] = field(default_factory=dict)
    lines: dict[str, list[Piece]] = field(default_factory=lambda: {"MARK": [], "FOLD": [], "ROLL": []})
    labels: list[Piece] = field(default_factory=list)
    entries: list[Entry] = field(default_factory=list)
    troubles: list[tuple[str, Piece]] = field(default_factory=list)
    roleless: dict[str, list[Piece]] = field(default_factory=dict)
    hidden: dict[tuple[str, str], list[Piece]] = field(default_factory=dict)
    bare: bool = False


def sort_pieces(found: Sequence[list[Piece]], intake: Intake) -> Sorting:
    """Sort the pieces of all entities, one list an entity, and open the account."""
    roles = {layer: role_of(layer, intake.roles) for layer in {piece.layer for own in found for piece in own}}
    sorting = Sorting(bare=not any(role.name for role in roles.values()))
    for own in found:
        fates = [_sort(piece, roles[piece.layer], sorting) for piece in own]
        fate, reason = min(fates, key=lambda pair: FATES_BY_WEIGHT.index(pair[0]))
        sorting.entries.append(Entry(own[0].handle, own[0].entity or own[0].kind, own[0].layer, fate, reason))
    _other_levels(sorting)
    return sorting


def _sort(piece: Piece, role: Role, sorting: Sorting) -> tuple[str, str]:
    """Put one piece where it belongs; its fate and the reason."""
    if piece.trouble == "account-open":
        sorting.troubles.append((piece.trouble, piece))
        return "reported", piece.why
    if piece.hidden:
        if role.name != "NOTE" and piece.kind not in TEXTS and piece.kind not in DIMENSIONS:
            sorting.hidden.setdefault((piece.layer, piece.hidden), []).append(piece)
        return "set aside", piece.hidden
    on_cut = role.name == "CUT" or role.name in HOLES
    if piece.kind in TEXTS or piece.kind in DIMENSIONS:
        return _sort_words(piece, on_cut, sorting)
    if role.name == "NOTE":
        return "set aside", "note layer"
    if piece.trouble or (piece.kind in FILLS and on_cut):
        sorting.troubles.append((piece.trouble or "unsupported-entity", piece))
        return "reported", piece.why or "cannot be part of a flat profile"
    if piece.kind in FILLS:
        return "set aside", "fill, point or picture"
    if role.name in sorting.lines:
        sorting.lines[role.name].append(piece)
        return "used", f"{role.name.lower()} line"
    if role.name in HOLES:
        return _sort_hole(piece, role, sorting)
    if role.name == "CUT" or sorting.bare:
        sorting.cut.append(piece)
        return "used", "cut"
    sorting.roleless.setdefault(piece.layer, []).append(piece)
    return "reported", "its layer has no role"


def _sort_words(piece: Piece, on_cut: bool, sorting: Sorting) -> tuple[str, str]:
    if piece.text:
        sorting.labels.append(piece)
    if on_cut:
        sorting.troubles.append(("text-on-cut-layer", piece))
        return "reported", "text or dimension on a layer that is cut"
    return "set aside", "text" if piece.kind in TEXTS else "dimension"


def _sort_hole(piece: Piece, role: Role, sorting: Sorting) -> tuple[str, str]:
    if piece_circle(piece, EVEN) is None:
        sorting.loose.setdefault(role, []).append(piece)
    else:
        sorting.round.append((piece, role))
    return "used", f"{role.name.lower()} hole" + (f" of row {role.row}" if role.row else "")


def _other_levels(sorting: Sorting) -> None:
    """Pieces to be cut or drilled that lie on another level than most are not flat."""
    pieces = [*sorting.cut, *(piece for piece, _ in sorting.round)]
    levels = Counter(round(piece.level, 2) for piece in pieces)
    if len(levels) > 1:
        common = min(levels, key=lambda level: (-levels[level], abs(level)))
        off = {id(piece) for piece in pieces if abs(piece.level - common) > 0.011}
        sorting.troubles += [("not-flat", piece) for piece in pieces if id(piece) in off]
        sorting.cut = [piece for piece in sorting.cut if id(piece) not in off]
        sorting.round = [pair for pair in sorting.round if id(pair[0]) not in off]
