"""The body as one binary glTF 2.0 file: pieces by their marks, rivets as instances of a few shapes, seam by seam.

Source of the format: Khronos glTF 2.0 specification (ISO/IEC 12113:2022).
"""

import json
import struct
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from fabplan.geom.heads import sink_depth
from fabplan.geom.mesh import Mesh, joined, panel_mesh, turned_about_z
from fabplan.geom.pose import matrix, to_outer
from fabplan.model.arrays import FloatArray
from fabplan.model.lookup import find_head
from fabplan.model.part import Part
from fabplan.model.plan import Plan
from fabplan.model.tables import HeadForm
from fabplan.sheets.caution import stopped

HOLE_SIDES, RIVET_SIDES, CAP_STEPS = 16, 16, 6
METRES_Y_UP = (
    0.001,
    0,
    0,
    0,
    0,
    0,
    -0.001,
    0,
    0,
    0.001,
    0,
    0,
    0,
    0,
    0,
    1,
)  # column by column: mm, z up, to the format's
PLATE, RIVET = 0, 1
MATERIALS = [
    {"name": "plate", "pbrMetallicRoughness": {"baseColorFactor": [0.62, 0.66, 0.7, 1], "metallicFactor": 0.2}},
    {"name": "rivet", "pbrMetallicRoughness": {"baseColorFactor": [0.3, 0.3, 0.32, 1], "metallicFactor": 0.2}},
]
GLTF, JSON_CHUNK, BINARY_CHUNK = 0x46546C67, 0x4E4F534A, 0x004E4942
VERTICES, INDICES = (34962, 5126), (34963, 5125)  # target of the buffer, type of its numbers: float, unsigned int


@dataclass(slots=True)
class _File:
    """The parts of a glTF file as they grow."""

    nodes: list[dict[str, Any]] = field(default_factory=list)
    meshes: list[dict[str, Any]] = field(default_factory=list)
    accessors: list[dict[str, Any]] = field(default_factory=list)
    views: list[dict[str, Any]] = field(default_factory=list)
    binary: bytearray = field(default_factory=bytearray)

    def node(self, name: str, **content: Any) -> int:
        """Add a node; its number."""
        self.nodes.append({"name": name, **content})
        return len(self.nodes) - 1

    def mesh(self, name: str, mesh: Mesh, material: int) -> int:
        """Add a mesh; its number."""
        vertices = np.asarray(mesh.vertices, dtype="<f4")
        extent = {"min": vertices.min(axis=0).tolist(), "max": vertices.max(axis=0).tolist()}
        places = self._accessor(vertices, VERTICES, "VEC3", **extent)
        triangles = self._accessor(np.asarray(mesh.triangles, dtype="<u4").ravel(), INDICES, "SCALAR")
        primitive = {"attributes": {"POSITION": places}, "indices": triangles, "material": material}
        self.meshes.append({"name": name, "primitives": [primitive]})
        return len(self.meshes) - 1

    def _accessor(self, table: Any, use: tuple[int, int], kind: str, **extent: Any) -> int:
        content = table.tobytes()
        self.views.append({"buffer": 0, "byteOffset": len(self.binary), "byteLength": len(content), "target": use[0]})
        self.binary += content
        view = len(self.views) - 1
        self.accessors.append(
            {"bufferView": view, "componentType": use[1], "count": len(table), "type": kind, **extent}
        )
        return len(self.accessors) - 1

    def encoded(self, root: int, extras: dict[str, str]) -> bytes:
        """The whole file."""
        words = {
            "asset": {"version": "2.0", "generator": "fabplan", "extras": extras},
            "scene": 0,
            "scenes": [{"nodes": [root]}],
            "nodes": self.nodes,
            "meshes": self.meshes,
            "materials": MATERIALS,
            "accessors": self.accessors,
            "bufferViews": self.views,
            "buffers": [{"byteLength": len(self.binary)}],
        }
        text = json.dumps(words, separators=(",", ":")).encode()
        chunks = [(JSON_CHUNK, text + b" " * (-len(text) % 4)), (BINARY_CHUNK, bytes(self.binary))]
        body = b"".join(struct.pack("<II", len(content), kind) + content for kind, content in chunks)
        return struct.pack("<III", GLTF, 2, 12 + len(body)) + body


def write_glb(plan: Plan, path: Path) -> None:
    """Write the body of a plan into a file."""
    path.write_bytes(body_glb(plan))


@lru_cache(maxsize=1)
def body_glb(plan: Plan) -> bytes:
    """The placed pieces and the rivets of a plan when all is done; kept, as the page of the order packs it too.

    Each piece is a node with its mark; each rivet a node with its number, under a node of its seam. Pieces without a
    place or a known form are left out; so are stacks whose rivet is not known.
    """
    file = _File()
    children = [*_pieces(plan, file), *_seams(plan, file)]
    title = f"{plan.job.number} {plan.job.title}".strip()
    root = file.node(title, matrix=METRES_Y_UP, children=children)
    struck = stopped(sum(finding.blocks for finding in plan.findings))
    extras = {"job": title, "revision": plan.job.revision, "date": plan.job.date, "issue": struck}
    return file.encoded(root, extras)


def _pieces(plan: Plan, file: _File) -> list[int]:
    assert plan.body is not None
    body, meshes, nodes = plan.body, {}, []
    skins = {k: _skin(part) for k, part in enumerate(body.parts)}
    for instance, pose in zip(body.instances, body.poses, strict=True):
        skin = skins[instance.part]
        if pose is None or not len(skin.triangles):
            continue
        if instance.part not in meshes:
            meshes[instance.part] = file.mesh(body.parts[instance.part].mark, skin, PLATE)
        place = matrix(pose).T.ravel().tolist()
        nodes.append(file.node(instance.mark, mesh=meshes[instance.part], matrix=place))
    return nodes


def _skin(part: Part) -> Mesh:
    """All panels of a part with their holes, in the part's frame; round openings are cut-outs of a panel already."""
    skins = []
    holes = part.holes.holes
    small = np.array([purpose != "open" for purpose in holes.purpose], dtype=np.bool_)
    for number, panel in enumerate(part.panels):
        own = small & (part.holes.panel == number)
        mesh = panel_mesh(panel, holes.xy[own], holes.diameter[own], HOLE_SIDES)
        skins.append(Mesh(to_outer(panel.frame, mesh.vertices), mesh.triangles))
    return joined(skins)


def _seams(plan: Plan, file: _File) -> list[int]:
    """A node for each seam, with a node for each of its rivets."""
    assert plan.stacks is not None
    stacks, shapes = plan.stacks, {}
    seams: dict[int, list[int]] = {}
    for i in np.nonzero(stacks.rivet >= 0)[0].tolist():
        kind = (int(stacks.rivet[i]), round(float(stacks.grip[i]), 3), round(float(stacks.hole[i]), 3))
        if kind not in shapes:
            rivet = plan.job.rivets[kind[0]]
            ends = [find_head(plan.tables, rivet, form) for form in (rivet.head, rivet.point)]
            shapes[kind] = file.mesh(f"{rivet.mark} grip {kind[1]:g}", _rivet(ends, *kind[1:]), RIVET)
        place = {"translation": stacks.head_face[i].tolist(), "rotation": _turn(stacks.axis[i])}
        node = file.node(stacks.number[i], mesh=shapes[kind], **place)
        seams.setdefault(int(stacks.seam[i]), []).append(node)
    names = [f"seam {seam.mark}" for seam in plan.job.seams] + ["rivets of no seam"]
    return [file.node(names[seam], children=nodes) for seam, nodes in sorted(seams.items())]


def _turn(axis: FloatArray) -> list[float]:
    """The quaternion (x, y, z, w) that carries z to a unit vector."""
    x, y, z = axis.tolist()
    half = np.array([-y, x, 0.0, 1.0 + z]) if z > -1.0 + 1e-12 else np.array([1.0, 0.0, 0.0, 0.0])
    turned: list[float] = (half / np.linalg.norm(half)).tolist()
    return turned


def _rivet(ends: list[HeadForm | None], grip: float, hole: float) -> Mesh:
    """A driven rivet: the hole filled from z = 0, where the made head sits, to the grip; both heads."""
    below, above = (_half_section(end, grip, hole) for end in ends)
    radius = np.concatenate([below[0], above[0][::-1]])
    height = np.concatenate([below[1], grip - above[1][::-1]])
    return turned_about_z(radius, height, RIVET_SIDES)


def _half_section(head: HeadForm | None, grip: float, hole: float) -> tuple[FloatArray, FloatArray]:
    """One end of a rivet from its tip to its shank: radii (n,) and heights (n,) over the face of the plate, mm.

    A head that no table lists is left off.
    """
    if head is None:
        return np.array([0.0, hole / 2.0]), np.array([0.0, 0.0])
    half = head.head_diameter / 2.0
    if head.form == "countersunk":
        depth = min(sink_depth(head, hole), grip / 2.0)  # cones of both ends never run into one another
        return np.array([0.0, half, hole / 2.0]), np.array([0.0, 0.0, depth])
    ball = (half**2 + head.head_height**2) / (2.0 * head.head_height)
    angle = np.linspace(0.0, np.arcsin(min(half / ball, 1.0)), CAP_STEPS + 1)
    if head.head_height > ball:
        angle = np.linspace(0.0, np.pi - np.arcsin(half / ball), CAP_STEPS + 1)
    rise = head.head_height - ball * (1.0 - np.cos(angle))
    return np.append(ball * np.sin(angle), hole / 2.0), np.append(-rise, 0.0)
