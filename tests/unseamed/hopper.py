"""Hoppers of four sloped sheets: two with flanges lapped outside the others, all with a rim, gussets on its corners.

The inner faces of the sheets are planes through a lower and an upper level rectangle. A flange is folded about the
line in which the inner face of its sheet meets the outer face of the next, so that its angle is that of these planes.
"""

from itertools import product

import numpy as np

from tests.kits.bent import Arc, Formed, Limb, mirrored
from tests.kits.build import Array, Frame, Kit, Piece, Plate, Ring, Seam, Vector, drilled, minus
from tests.unseamed.lay import BACKS, L40, Layout, X, Y, angle, checked, job, vector

BEND = 10.0  # inside radius of all folds
FLANGE, RIM = 50.0, 60.0  # flats of the flanges and of the rim
SHORT = 24.0  # by which a flange and the rim stop short of the ends of their fold
GUSSET = 122.0  # of a gusset along either rim


class Sheet:
    """A sheet at the positive end of x or y: its frame at the foot, inner face marked."""

    def __init__(self, axis: int, sizes: tuple[Array, Array, float], t: float) -> None:
        """Axis 0 for the sheet at +x, 1 for that at +y; sizes are the half sides below and above, and the height."""
        low, top, high = sizes
        run = float(top[axis] - low[axis])
        self.axis, self.high, self.t = axis, high, t
        self.up, self.out = np.zeros(3), np.zeros(3)
        self.up[axis], self.up[2] = run, high
        self.out[axis], self.out[2] = high, -run
        self.up, self.out = (v / np.hypot(run, high) for v in (self.up, self.out))
        self.c = float(self.out[axis] * low[axis])
        self.along = minus(Y) if axis == 0 else X
        foot = np.zeros(3)
        foot[axis] = low[axis]
        self.frame = Frame(vector(foot), self.along, vector(self.up))
        self.rim = float(np.degrees(np.arctan2(self.up[2], self.up[axis])))
        self.set_back = (BEND + t) * float(np.tan(np.radians(self.rim) / 2.0))

    def edge(self, line: tuple[Array, Array], back: float) -> tuple[Array, Array]:
        """Foot and head (2,) of the right edge on the flat, `back` inside a line (two points of the body)."""
        first, last = (np.array([abs(u), v]) for u, v in self.frame.own(np.array(line))[:, :2])
        way = (last - first) / np.linalg.norm(last - first)
        start = first - back * np.array([way[1], -way[0]])
        level = self.high / self.up[2] - self.set_back
        return start - way * start[1] / way[1], start + way * (level - start[1]) / way[1]


class Hopper:
    """One hopper while it is laid out: x and y across, z up; sheets P at both ends of x bear flanges, Q do not."""

    def __init__(self, seed: int, *, uniform: bool) -> None:
        """Choose the sizes."""
        self.lay = Layout.of(seed, uniform=uniform)
        lay = self.lay
        self.t = float(lay.rng.choice([5.0, 6.0]))
        low = np.array([lay.length(160, 240), lay.length(160, 240)]) / 2.0
        self.top = low + np.array([lay.length(120, 200), lay.length(120, 200)])
        sizes = low, self.top, lay.length(420, 620)
        self.p, self.q = (Sheet(axis, sizes, self.t) for axis in (0, 1))
        self.stiff, self.gussets = int(lay.rng.integers(1, 3)), lay.chance(0.8)
        edge = np.cross(self.p.out, self.q.out)
        self.way = edge / np.linalg.norm(edge) * np.sign(edge[2])  # up a corner
        self.on = np.cross(self.way, self.q.out)
        self.on *= -np.sign(self.on[0])  # on the sheet Q, off the corner
        off = np.cross(self.way, self.p.out)
        off *= np.sign(off[1])  # on the sheet P, over the corner
        self.theta = float(np.degrees(np.arccos(off @ self.on)))
        self.tangent = BEND * float(np.tan(np.radians(self.theta) / 2.0))
        self.pieces: list[Piece] = []
        self.seams: list[Seam] = []

    def made(self) -> Kit:
        """The whole hopper."""
        corner = self._meet(0.0), self._meet(self.p.high)
        self.edge_p = self.p.edge(corner, self.tangent)
        inner = tuple(np.array(point) - self.t * np.array(self.q.out) for point in corner)
        self.edge_q = self.q.edge((inner[0], inner[1]), self.tangent + 4.0)
        for sheet, edge, name in ((self.p, self.edge_p, "P"), (self.q, self.edge_q, "Q")):
            self._twice(self._sheet(sheet, edge, name))
        self._corner_seams()
        for sheet, name in ((self.p, "P"), (self.q, "Q")):
            self._stiffeners(sheet, name)
        if self.gussets:
            self._gussets()
        return drilled(Kit(checked(self.pieces), self.seams, job("Hopper", "P-1")))

    def _meet(self, z: float) -> Array:
        """Where the inner face of P meets the outer face of Q, at a height."""
        x = (self.p.c - self.p.out[2] * z) / self.p.out[0]
        y = (self.q.c + self.t - self.q.out[2] * z) / self.q.out[1]
        return np.array([x, y, z])

    def _twice(self, piece: Piece) -> None:
        """A piece and its like on the other side, turned half round about z; its mark ends in 1."""
        self.pieces += [
            piece,
            type(piece)(**{**piece.__dict__, "mark": f"{piece.mark[:-1]}2", "frame": _half(piece.frame), "rows": {}}),
        ]

    def _sheet(self, sheet: Sheet, edge: tuple[Array, Array], name: str) -> Formed:
        (foot, head), t = edge, self.t
        run = float(np.linalg.norm(head - foot))
        way = (head - foot) / run
        out = np.array([way[1], -way[0]])
        rim_half, (u, v) = float(head[0]) - 30.0, head.tolist()
        top = Limb((0.0, v), (0.0, 1.0), -rim_half, rim_half, (Arc(-sheet.rim, BEND, ("FOLD rim",)), RIM))
        half, limbs = [foot - out], [top]
        if name == "P":
            low, high = SHORT, run - SHORT
            right = Limb(_pair(foot), _pair(out), low, high, (Arc(self.theta, BEND, ("FOLD right",)), FLANGE))
            mirror = foot * [-1.0, 1.0], out * [-1.0, 1.0]
            limbs.append(right)
            limbs.append(
                Limb(_pair(mirror[0]), _pair(mirror[1]), -high, -low, (Arc(self.theta, BEND, ("FOLD left",)), FLANGE))
            )
            reach = right.length(t)
            half += [right.on_blank(x, w) for x, w in ((-1.0, low), (reach, low), (reach, high), (-1.0, high))]
        half += [head - out - way, np.array([rim_half, v - 1.0]), np.array([rim_half, v + top.length(t)])]
        ring: Ring = [(float(x), float(y), 0.0) for x, y in half]
        ring += [(-x, y, 0.0) for x, y, _ in ring[::-1]]
        plate = Formed(f"{name}-1", sheet.frame, ring, t, part=name)
        plate.base = [(-foot[0], foot[1], 0.0), (foot[0], foot[1], 0.0), (u, v, 0.0), (-u, v, 0.0)]
        plate.limbs = tuple(limbs)
        return plate

    def _corner_seams(self) -> None:
        """Flanges of P on the outer faces of Q: two corners alike, the other two alike."""
        foot, head = self.edge_p
        run = float(np.linalg.norm(head - foot))
        inset = (head - foot) / run
        start = self.tangent * -inset[0] / inset[1]  # along the corner, where the fold begins at the foot
        for name, sides in (("A", ((1.0, 1.0), (-1.0, -1.0))), ("B", ((1.0, -1.0), (-1.0, 1.0)))):
            s = start + SHORT + self.lay.along(run - 2.0 * SHORT, 20.0)
            points = self._meet(0.0) + np.outer(s, self.way) + (self.tangent + FLANGE / 2.0) * self.on
            for n, (x, y) in enumerate(sides, 1):
                q = "Q-1" if y > 0.0 else "Q-2"
                flip = np.array([x, y, 1.0])
                self.seams.append(
                    Seam(f"{name}{n}", (f"{q}/{name}", f"P-{n}/{name}"), points * flip, vector(self.q.out * flip))
                )

    def _stiffeners(self, sheet: Sheet, name: str) -> None:
        """Level angles outside, between the flanges."""
        edge = self.edge_p if name == "P" else self.edge_q
        clear = 30.0 if name == "P" else 85.0
        long = float(np.linalg.norm(edge[1] - edge[0]))
        for k in range(1, self.stiff + 1):
            v = long * (0.9 if k == 1 else 0.55)
            half = float(edge[0][0] + (edge[1][0] - edge[0][0]) * (v - 45.0) / long) - clear
            along, up = np.array(sheet.along), sheet.up
            heel = np.array(sheet.frame.origin) + v * up + self.t * sheet.out
            bar = angle(
                f"H{name}{k}-1",
                Frame(vector(heel - half * along), sheet.along, vector(-up)),
                L40,
                2.0 * half,
                f"H{name}{k}",
            )
            self._twice(bar)
            places = heel + np.outer(self.lay.along(2.0 * half) - half, along) - BACKS[40.0] * up
            for n, flip in ((1, np.ones(3)), (2, np.array([-1.0, -1.0, 1.0]))):
                plies = f"{name}-{n}/h{k}", f"H{name}{k}-{n}/sheet"
                self.seams.append(Seam(f"H{name}{k}{n}", plies, places * flip, vector(sheet.out * flip)))

    def _gussets(self) -> None:
        """Plates on the corners of the rim: of either hand two."""
        z, (x, y) = self.p.high, self.top.tolist()
        past_p, past_q = x + self.p.set_back, y + self.q.set_back
        end_p, end_q = float(self.edge_p[1][0]) - 30.0, float(self.edge_q[1][0]) - 30.0
        corners = [
            (end_q - GUSSET, past_q), (past_p, end_p - GUSSET), (past_p + RIM, end_p - GUSSET),
            (past_p + RIM, past_q + RIM), (end_q - GUSSET, past_q + RIM),
        ]  # fmt: skip
        ring: Ring = [(a - end_q, b - end_p, 0.0) for a, b in corners]
        gusset = self.lay.plate(Plate("DR-1", Frame((end_q, end_p, z + 6.0), X, Y), ring, 6.0, part="D"))
        others = [_renamed(gusset, "DR-2", _half(gusset.frame))]
        left = mirrored(gusset, "DL-1")
        self.pieces += [gusset, *others, left, _renamed(left, "DL-2", _half(left.frame))]
        pitch = self.lay.one or 34.0
        spaces = np.array([18.0, 18.0 + pitch, 18.0 + 2.0 * pitch])
        odd = spaces if self.lay.one else spaces - [0.0, 4.0, 0.0]
        rows = {
            "P": np.column_stack([np.full(3, past_p + RIM / 2.0), end_p - spaces, np.full(3, z)]),
            "Q": np.column_stack([end_q - odd, np.full(3, past_q + RIM / 2.0), np.full(3, z)]),
        }
        for (name, points), (x, y) in product(rows.items(), product((1.0, -1.0), repeat=2)):
            side = (x if name == "P" else y) > 0.0
            corner = f"D{'R' if x == y else 'L'}-{1 if x > 0.0 else 2}"
            sheet = f"{name}-{1 if side else 2}/{'g' if x == y else 'k'}"
            self.seams.append(
                Seam(f"G{corner}{name}", (f"{corner}/{name}", sheet), points * [x, y, 1.0], (0.0, 0.0, -1.0))
            )


def _half(frame: Frame) -> Frame:
    """A frame turned half round about z."""

    def turned(v: Vector) -> Vector:
        return -v[0], -v[1], v[2]

    return Frame(turned(frame.origin), turned(frame.x), turned(frame.y))


def _renamed(piece: Piece, mark: str, frame: Frame) -> Piece:
    made: Piece = type(piece)(**{**piece.__dict__, "mark": mark, "frame": frame, "rows": {}})
    return made


def _pair(v: Array) -> tuple[float, float]:
    return float(v[0]), float(v[1])


def hopper(seed: int, *, uniform: bool) -> Kit:
    """A hopper of 8 to 16 pieces."""
    return Hopper(seed, uniform=uniform).made()
