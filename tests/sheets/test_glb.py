"""The 3D file read back by trimesh: the same pieces and rivets, the same volumes."""

import json
from math import pi
from pathlib import Path

import numpy as np
import pytest
import trimesh

from fabplan.geom.mesh import panel_mesh, turned_about_z
from fabplan.geom.profile import circle
from fabplan.model.panel import Panel
from fabplan.model.plan import Plan
from fabplan.model.profile import Profile
from fabplan.sheets.glb import write_glb
from fabplan.sheets.record import plan_record

SQUARE = Profile(np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0]]), np.zeros(4))


def read(plan: Plan, folder: Path) -> trimesh.Scene:
    write_glb(plan, folder / "body.glb")
    return trimesh.load_scene(folder / "body.glb")


def test_lap_volumes(lap_plan: Plan, tmp_path: Path) -> None:
    """Two plates 400x200x6 with ten 11 mm holes; a rivet fills 12 mm of hole and has two caps of 797 mm3.

    The cap is the handbook's volume of a DIN 124 head of 10 mm, rounded to 1 mm3; its chords cost under 1 %.
    """
    scene = read(lap_plan, tmp_path)
    shapes = scene.geometry
    assert all(shape.is_watertight and shape.is_winding_consistent for shape in shapes.values())
    for mark in ("P1", "P2"):
        assert shapes[mark].volume == pytest.approx(6.0 * (400.0 * 200.0 - 10 * pi * 5.5**2), rel=1e-6)
    assert shapes["R10 grip 12"].volume == pytest.approx(12.0 * pi * 5.5**2 + 2 * 797.0, rel=0.01)
    assert sum(scene.graph[node][1] == "R10 grip 12" for node in scene.graph.nodes_geometry) == 10


def test_bowser_volumes_and_places(bowser_plan: Plan, tmp_path: Path) -> None:
    """Each piece holds the metal that its mass says; each rivet stands where plan.json says, in metres and y up."""
    scene = read(bowser_plan, tmp_path)
    assert bowser_plan.body is not None
    for part in bowser_plan.body.parts:
        shape = scene.geometry[part.mark]
        assert shape.is_watertight
        if part.section is None:
            assert shape.volume == pytest.approx(part.mass / (7850.0 * 1e-9), rel=1e-4)
    record = json.loads(json.dumps(plan_record(bowser_plan)))
    y_up = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]]) / 1000.0
    for rivet in record["rivets"]:
        place, shape = scene.graph[rivet["number"]]
        axis = y_up @ np.array(rivet["axis"])
        assert np.allclose(place[:3, 2], axis, atol=1e-9)
        to_faying = y_up @ np.array(rivet["point"]) - place[:3, 3]
        assert np.linalg.norm(np.cross(to_faying, axis)) < 1e-9
        assert 0.0 < to_faying @ axis * 1e6 < rivet["grip"]
    for piece in record["parts"]:
        place, _ = scene.graph[piece["mark"]]
        pose = np.array(piece["pose"]).reshape(4, 4)
        assert np.allclose(place[:3], np.column_stack([y_up @ pose[:3, :3], y_up @ pose[:3, 3]]), atol=1e-9)


def test_opening_and_hole_over_the_edge() -> None:
    """A square of 100 mm with a round opening of 40 mm, and a hole of 20 mm half over its edge."""
    panel = Panel("flat", SQUARE, 5.0, cutouts=(circle((50.0, 50.0), 20.0),))
    mesh = panel_mesh(panel, np.array([[50.0, 0.0]]), np.array([20.0]), 256)
    skin = trimesh.Trimesh(mesh.vertices, mesh.triangles)
    assert skin.is_watertight
    assert skin.volume == pytest.approx(5.0 * (100.0**2 - pi * 20.0**2 - pi * 10.0**2 / 2.0), rel=1e-4)


def test_plate_eaten_up() -> None:
    """A hole larger than the plate leaves no skin."""
    mesh = panel_mesh(Panel("flat", SQUARE, 5.0), np.array([[50.0, 50.0]]), np.array([400.0]), 16)
    assert len(mesh.triangles) == 0


def test_cone() -> None:
    """A cone of 30 mm across and 20 mm high: a third of base times height."""
    mesh = turned_about_z(np.array([0.0, 15.0, 0.0]), np.array([0.0, 0.0, 20.0]), 12)
    skin = trimesh.Trimesh(mesh.vertices, mesh.triangles)
    assert skin.is_watertight
    assert skin.volume == pytest.approx(pi * 15.0**2 * 20.0 / 3.0)
