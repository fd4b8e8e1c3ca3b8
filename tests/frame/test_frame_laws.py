"""The order of a file and the pose of a scan are accidents: no dimension may depend on them.

Each drawing also moves the samples, of which there are 110 000 on some 400 cm²: one to 0.4 mm² or
so. A dimension rests on hundreds of them (a ring round the vessel of one profile step), each good
to the facets' 0.02 mm; where it rests on few, the bound says so.
"""

from __future__ import annotations

import numpy as np
from frame.frame_checks import axis_shift, framed
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scanning import random_pose
from vessels import plain_cup

from lossfill.frame import Frame
from lossfill.mesh import Mesh, transformed

CUP = plain_cup(edge_mm=2.5)
FRAME = framed(CUP)
SEEDS = st.integers(0, 2**32 - 1)


def assert_same_dimensions(frame: Frame) -> None:
    # The lip's height is the highest of a few profile points on a round lip of 0.8 mm.
    assert_allclose(frame.height_mm, FRAME.height_mm, atol=0.02, rtol=0)
    # Points 0.4 mm apart draw the edge of 0.8 mm radius: 0.4²/8/0.8 = 0.025 mm more or less on
    # either side, and the smoothing of that corner moves as much again.
    assert_allclose(frame.rim_diameter_mm, FRAME.rim_diameter_mm, atol=0.1, rtol=0)
    assert_allclose(frame.wall_mm, FRAME.wall_mm, atol=0.01, rtol=0)
    # Read where the rounded edge of the foot rises 0.3 mm above the ground, at a slope of 45°.
    assert_allclose(frame.foot_diameter_mm, FRAME.foot_diameter_mm, atol=0.3, rtol=0)
    # 0.02 mm of height are 0.4 ‰ of the capacity.
    assert_allclose(frame.capacity_ml, FRAME.capacity_ml, rtol=1e-3)
    assert_allclose(frame.coverage, FRAME.coverage, atol=0.01, rtol=0)


@settings(max_examples=3, deadline=None, derandomize=True)
@given(SEEDS)
def test_pose_does_not_matter(seed: int) -> None:
    pose = random_pose(np.random.default_rng(seed))
    frame = framed(transformed(CUP, pose))
    assert_same_dimensions(frame)
    tilt, foot, rim = axis_shift(frame, FRAME.vessel_from_scan @ np.linalg.inv(pose))
    assert tilt < 0.003
    assert max(foot, rim) < 0.003


@settings(max_examples=2, deadline=None, derandomize=True)
@given(SEEDS)
def test_order_of_vertices_and_triangles_does_not_matter(seed: int) -> None:
    random = np.random.default_rng(seed)
    new = random.permutation(len(CUP.vertices)).astype(np.int32)
    vertices = np.empty_like(CUP.vertices)
    vertices[new] = CUP.vertices
    faces = new[CUP.faces][random.permutation(len(CUP.faces))]
    first = random.integers(0, 3, len(faces))[:, None]
    faces = np.take_along_axis(faces, (first + np.arange(3)) % 3, axis=1)
    frame = framed(Mesh(vertices, faces))
    assert_same_dimensions(frame)
    tilt, foot, rim = axis_shift(frame, FRAME.vessel_from_scan)
    assert tilt < 0.003
    assert max(foot, rim) < 0.003
