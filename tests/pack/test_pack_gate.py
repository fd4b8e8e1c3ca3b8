"""The gate: what must pass passes, and each fault is caught by the finding that names it."""

from __future__ import annotations

from pathlib import Path

import manifold3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from pack.pack_designs import rounded32

from lossfill.errors import BooleanError
from lossfill.mesh import Mesh, rounding_mm3
from lossfill.pack.gate import (
    check_piece,
    count_parts,
    is_watertight,
    require_passed,
)
from lossfill.pack.stl import stl_bytes
from lossfill.pack.threemf import write_3mf

SPHERE = rounded32(manifold3d.Manifold.sphere(10.0, 48))
FAR_BODY = manifold3d.Manifold.cube([5, 5, 5]).translate([40, 0, 0])


def check(mesh: Mesh, folder: Path, body=FAR_BODY):
    path = folder / "piece.stl"
    path.write_bytes(stl_bytes(mesh, "piece"))
    return check_piece(path, body)


def test_a_sound_piece_passes(tmp_path: Path):
    found = check(SPHERE, tmp_path)
    assert found.passed
    assert (found.watertight, found.outward, found.one_part, found.clash_mm3) == (
        True,
        True,
        True,
        0.0,
    )
    # An inscribed ball is always the smaller one, by no more than a 48-gon's sagitta allows.
    ball = 4 / 3 * np.pi * 10**3
    assert 0.98 * ball < found.volume_mm3 < ball
    require_passed(found, "piece 1")


def test_a_hole_is_caught(tmp_path: Path):
    found = check(Mesh(SPHERE.vertices, SPHERE.faces[1:]), tmp_path)
    assert not found.watertight
    assert not found.passed
    with pytest.raises(BooleanError, match="not closed"):
        require_passed(found, "piece 1")


def test_faces_inwards_are_caught(tmp_path: Path):
    found = check(Mesh(SPHERE.vertices, SPHERE.faces[:, ::-1]), tmp_path)
    assert found.watertight
    assert not found.outward
    assert not found.passed
    assert found.volume_mm3 < 0
    with pytest.raises(BooleanError, match="inwards"):
        require_passed(found, "piece 1")


def test_one_turned_triangle_is_caught(tmp_path: Path):
    faces = np.array(SPHERE.faces)
    faces[7] = faces[7, ::-1]
    assert not check(Mesh(SPHERE.vertices, faces), tmp_path).watertight


def test_a_doubled_triangle_is_caught(tmp_path: Path):
    faces = np.vstack([SPHERE.faces, SPHERE.faces[:1]])
    assert not check(Mesh(SPHERE.vertices, faces), tmp_path).watertight


def test_a_collapsed_triangle_is_caught():
    assert not is_watertight(Mesh(SPHERE.vertices, np.vstack([SPHERE.faces, [[3, 3, 5]]])))


@pytest.mark.parametrize("gap_mm", [1.0, 0.0])
def test_two_parts_are_caught(tmp_path: Path, gap_mm: float):
    """Apart, and touching in one corner, where their vertices weld to one."""
    cube = manifold3d.Manifold.cube([4, 4, 4])
    first, second = rounded32(cube), rounded32(cube.translate([4.0 + gap_mm] * 3))
    both = Mesh(
        np.vstack([first.vertices, second.vertices]),
        np.vstack([first.faces, second.faces + len(first.vertices)]),
    )
    found = check(both, tmp_path)
    assert found.watertight
    assert found.outward
    assert not found.one_part
    with pytest.raises(BooleanError, match="more than one part"):
        require_passed(found, "piece 1")


def test_a_hollow_inside_counts_as_a_second_part(tmp_path: Path):
    hollow = manifold3d.Manifold.sphere(10.0, 32) - manifold3d.Manifold.sphere(4.0, 32)
    assert not check(rounded32(hollow), tmp_path).one_part


def test_overlap_with_the_body_is_caught_and_measured(tmp_path: Path):
    box = manifold3d.Manifold.cube([10, 10, 10])
    body = manifold3d.Manifold.cube([10, 10, 10]).translate([9.99, 0, 0])
    found = check(rounded32(box), tmp_path, body)
    assert found.watertight
    assert found.one_part
    # 0.01 x 10 x 10; the limit is a hundred-thousandth of that.
    assert_allclose(found.clash_mm3, 1.0, rtol=1e-5)
    assert found.clash_limit_mm3 < 1e-3
    assert not found.passed
    with pytest.raises(BooleanError, match=r"overlaps the body by 1 mm³"):
        require_passed(found, "piece 1")


def test_touching_faces_are_no_clash(tmp_path: Path):
    box = manifold3d.Manifold.cube([10, 10, 10])
    assert check(rounded32(box), tmp_path, box.translate([10, 0, 0])).passed


def test_limit_is_area_times_half_the_spacing_of_float32():
    # A cube of 10 mm whose largest coordinate lies in [64, 128): float32 there is 2^-17 apart
    # (IEEE 754: 24 significant bits, 2^6 / 2^23).
    cube = rounded32(manifold3d.Manifold.cube([10, 10, 10]).translate([90, 0, 0]))
    expected = 600 * 2.0**-17 * np.sqrt(3) / 2
    assert_allclose(rounding_mm3(cube, roundings=1.0), expected, rtol=1e-12)


@settings(derandomize=True, max_examples=25, deadline=None)
@given(
    shift=st.tuples(*[st.floats(-300, 300)] * 3),
    turn=st.tuples(*[st.floats(0, 360)] * 3),
)
def test_rounding_an_exact_complement_never_clashes_beyond_the_limit(shift, turn, tmp_path_factory):
    """Law: the piece that fits without any gap passes in every pose, and only just overlaps."""
    ball = manifold3d.Manifold.sphere(20.0, 40)
    cutter = manifold3d.Manifold.cube([30, 30, 30]).translate([3, 2, 1])
    piece, body = (
        part.rotate(list(turn)).translate(list(shift)) for part in (ball ^ cutter, ball - cutter)
    )
    found = check(rounded32(piece), tmp_path_factory.mktemp("pose"), body)
    assert found.passed, found


def test_the_3mf_file_passes_the_same_gate(tmp_path: Path):
    ball = manifold3d.Manifold.sphere(20.0, 40).translate([120.3, 50.1, -77.7])
    cutter = manifold3d.Manifold.cube([30, 30, 30]).translate([123, 52, -76])
    path = tmp_path / "piece.3mf"
    write_3mf(rounded32(ball ^ cutter), path, name="piece")
    found = check_piece(path, ball - cutter)
    assert found.passed
    assert not check_piece(path, ball).passed


def test_parts_are_counted_by_what_is_joined():
    assert count_parts(SPHERE) == 1
    twice = Mesh(
        np.vstack([SPHERE.vertices, SPHERE.vertices + 50]),
        np.vstack([SPHERE.faces, SPHERE.faces + len(SPHERE.vertices)]),
    )
    assert count_parts(twice) == 2
