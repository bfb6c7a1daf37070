"""What does not change a plate does not change what is read of it: order, version, blocks, splits, place, hand."""

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import Any

import ezdxf.filemanagement
import numpy as np
import pytest
from ezdxf import transform
from ezdxf.math import Matrix44
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from fabplan.drawing.check import check_drawing
from fabplan.drawing.hand import other_hand
from fabplan.drawing.read import read_drawing
from fabplan.geom.profile import area, length
from fabplan.model.drawing import Drawing, Intake
from tests.drawing.faults import FAULTS
from tests.drawing.plates import Draft, bracket, cover, disc, gusset, strip

PLATES: dict[str, Callable[[Draft], Draft]] = {
    "gusset": gusset,
    "bracket": bracket,
    "cover": cover,
    "disc": disc,
    "strip": strip,
}
KNOWN = Intake(hole_diameters=(11.0,), thickness=6.0)
OWN = sorted(
    name
    for name, fault in FAULTS.items()
    if fault.spoil is str and not fault.stated and not name.startswith(("least-", "greatest-", "tight", "stagger"))
)
several = settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def read(document: Any, folder: Path) -> Drawing:
    path = folder / "plate.dxf"
    document.saveas(path)
    return read_drawing(path, KNOWN)


def faults(drawing: Drawing) -> list[str]:
    return [finding.check for finding in (*drawing.findings, *check_drawing(drawing, None, 6.0))]


def shuffled(document: Any, random: Random) -> Any:
    """The same entities in another order, under other handles, in a new file."""
    copy = ezdxf.filemanagement.new("R2010", units=4)
    entities = list(document.modelspace())
    random.shuffle(entities)
    for entity in entities:
        copy.modelspace().add_foreign_entity(entity)
    return copy


def split(document: Any, random: Random) -> Any:
    """Each line and arc of the cut layer in two, at a random place; closed polylines exploded first."""
    space = document.modelspace()
    for entity in list(space.query("LWPOLYLINE")):
        entity.explode()
    for entity in list(space.query('LINE ARC[layer=="CUT"]')):
        share = random.uniform(0.2, 0.8)
        attribs = {"layer": entity.dxf.layer}
        if entity.dxftype() == "LINE":
            middle = entity.dxf.start.lerp(entity.dxf.end, share)
            space.add_line(middle, entity.dxf.end, dxfattribs=attribs)
            entity.dxf.end = middle
        else:
            turn = entity.dxf.start_angle + share * ((entity.dxf.end_angle - entity.dxf.start_angle) % 360.0)
            space.add_arc(entity.dxf.center, entity.dxf.radius, turn, entity.dxf.end_angle, dxfattribs=attribs)
            entity.dxf.end_angle = turn
    return document


@several
@given(st.sampled_from(sorted(PLATES)), st.randoms(use_true_random=False))
def test_order_version_and_handles_change_nothing(tmp_path: Path, name: str, random: Random) -> None:
    plain = read(PLATES[name](Draft()).doc, tmp_path)
    other = read(shuffled(PLATES[name](Draft()).doc, random), tmp_path)
    assert (plain.findings, other.findings) == ((), ())
    assert other.fingerprint == plain.fingerprint
    assert other.holes.number == plain.holes.number
    assert np.array_equal(other.holes.xy, plain.holes.xy)
    assert (plain.dxf_version, other.dxf_version) == ("AC1015", "AC1024")


@several
@given(st.sampled_from(sorted(PLATES)), st.randoms(use_true_random=False))
def test_split_lines_are_the_same_plate(tmp_path: Path, name: str, random: Random) -> None:
    plain = read(PLATES[name](Draft()).doc, tmp_path)
    other = read(split(PLATES[name](Draft()).doc, random), tmp_path)
    assert faults(other) == faults(plain) == []
    assert other.fingerprint == plain.fingerprint


@several
@given(name=st.sampled_from(OWN), random=st.randoms(use_true_random=False))
@example(name="drawn-in-chords.polygon", random=Random(0))
def test_split_and_shuffled_faults_are_the_same_faults(tmp_path: Path, name: str, random: Random) -> None:
    plain = faults(read(FAULTS[name].draw().doc, tmp_path))
    if name != "zero-length":
        assert faults(read(split(FAULTS[name].draw().doc, random), tmp_path)) == plain
    if name not in ("empty-drawing", "text-on-cut-layer"):
        assert faults(read(shuffled(FAULTS[name].draw().doc, random), tmp_path)) == plain


@several
@given(st.sampled_from(OWN), st.floats(0.0, 360.0), st.floats(-2000.0, 2000.0), st.floats(-2000.0, 2000.0))
def test_turned_and_shifted_faults_are_the_same_faults(
    tmp_path: Path, name: str, turn: float, x: float, y: float
) -> None:
    plain = faults(read(FAULTS[name].draw().doc, tmp_path))
    document = FAULTS[name].draw().doc
    transform.inplace(
        document.modelspace(), Matrix44.chain(Matrix44.z_rotate(math.radians(turn)), Matrix44.translate(x, y, 0.0))
    )
    assert faults(read(document, tmp_path)) == plain


@several
@given(st.sampled_from(sorted(PLATES)), st.floats(1.0, 359.0), st.floats(-2000.0, 2000.0))
def test_a_turned_plate_has_the_same_sizes_and_another_fingerprint(
    tmp_path: Path, name: str, turn: float, x: float
) -> None:
    plain = read(PLATES[name](Draft()).doc, tmp_path)
    document = PLATES[name](Draft()).doc
    move = Matrix44.chain(Matrix44.z_rotate(math.radians(turn)), Matrix44.translate(x, 17.0, 0.0))
    transform.inplace(document.modelspace(), move)
    other = read(document, tmp_path)
    assert plain.outline is not None
    assert other.outline is not None
    assert area(other.outline) == pytest.approx(area(plain.outline), rel=1e-9)
    assert length(other.outline) == pytest.approx(length(plain.outline), rel=1e-9)
    assert sorted(other.holes.row) == sorted(plain.holes.row)
    assert other.fingerprint != plain.fingerprint


@pytest.mark.parametrize("name", sorted(PLATES))
def test_the_other_hand_is_the_drawing_drawn_mirrored(name: str, tmp_path: Path) -> None:
    """Reference: ezdxf mirrors the entities, x -> -x, about the drawing's own y axis."""
    plain = read(PLATES[name](Draft()).doc, tmp_path)
    document = PLATES[name](Draft()).doc
    transform.inplace(document.modelspace(), Matrix44.scale(-1.0, 1.0, 1.0))
    drawn, made = read(document, tmp_path), other_hand(plain)
    assert faults(drawn) == []
    assert made.fingerprint == drawn.fingerprint
    assert made.outline is not None
    assert area(made.outline) > 0.0
    assert all(area(cutout) < 0.0 for cutout in made.cutouts)
    assert made.holes.number == plain.holes.number
    assert np.array_equal(made.holes.xy, plain.holes.xy * [-1.0, 1.0])
    assert other_hand(made).fingerprint == plain.fingerprint


def test_blocks_are_the_same_holes(tmp_path: Path) -> None:
    plain = read(strip(Draft()).doc, tmp_path)
    document = strip(Draft()).doc
    document.blocks.new("HOLE").add_circle((3.0, 0.0), 1.0)
    space = document.modelspace()
    for number, circle in enumerate(list(space.query("CIRCLE"))):
        flip = -1.0 if number % 2 else 1.0
        x, y, _ = circle.dxf.center
        attribs = {"layer": circle.dxf.layer, "xscale": 5.5 * flip, "yscale": 5.5}
        space.add_blockref("HOLE", (x - 16.5 * flip, y), dxfattribs=attribs)
        space.delete_entity(circle)
    assert read(document, tmp_path).fingerprint == plain.fingerprint


def test_a_moved_hole_changes_the_fingerprint(tmp_path: Path) -> None:
    plain = read(strip(Draft()).doc, tmp_path)
    document = strip(Draft()).doc
    circle = document.modelspace().query("CIRCLE")[5]
    for move, differs in ((0.0004, False), (0.002, True)):
        circle.dxf.center = (255.0 + move, 30.0)
        assert (read(document, tmp_path).fingerprint != plain.fingerprint) == differs


def test_without_roles_the_rows_are_found_by_their_lines(tmp_path: Path) -> None:
    plain = read(gusset(Draft()).doc, tmp_path)
    document = gusset(Draft()).doc
    for entity in document.modelspace():
        entity.dxf.layer = "WORDS" if entity.dxftype() == "TEXT" else "0"
    bare = read(document, tmp_path)
    assert faults(bare) == []
    assert {(row, count) for row in set(bare.holes.row) if (count := bare.holes.row.count(row))} == {
        ("r1", 5),
        ("r2", 4),
    }
    assert sorted(map(tuple, bare.holes.xy.tolist())) == sorted(map(tuple, plain.holes.xy.tolist()))
    assert set(bare.holes.purpose) == {"rivet"}


def test_layers_named_by_the_job(tmp_path: Path) -> None:
    plain = read(strip(Draft()).doc, tmp_path)
    document = strip(Draft()).doc
    names = {"CUT": "Contour", "RIVET lap": "Bohrung 11", "NOTE": "Texte"}
    for entity in document.modelspace():
        entity.dxf.layer = names[entity.dxf.layer]
    path = tmp_path / "named.dxf"
    document.saveas(path)
    roles = (("contour", "CUT"), ("BOHRUNG 11", "RIVET lap"), ("Texte", "NOTE"))
    named = read_drawing(path, replace(KNOWN, roles=roles))
    assert (named.findings, named.fingerprint) == ((), plain.fingerprint)
