"""Cracks and open seams: listed by length, width and place, and never made into a piece."""

from __future__ import annotations

import math

import numpy as np
import pytest
from breaking import Cut, add_seams, as_scanned, break_vessel
from loss.found import WHOLE, Found, find, whole
from scanning import random_pose

from lossfill.loss import Crack, find_cracks
from lossfill.mesh import FloatArray, transformed
from lossfill.nearest import Surface

CUTS = {
    "a seam through the wall": Cut("crack", depth_mm=math.inf, width_mm=1.0, length_mm=40.0),
    "a wide seam": Cut("crack", depth_mm=math.inf, width_mm=1.5, length_mm=40.0),
    "a fine seam": Cut("crack", depth_mm=math.inf, width_mm=0.2, length_mm=25.0),
    "a crack part way": Cut("crack", depth_mm=1.5, width_mm=0.5, length_mm=30.0),
    "a shallow crack": Cut("crack", depth_mm=0.6, width_mm=0.3, length_mm=20.0),
    "a crack inside": Cut("crack", depth_mm=1.0, width_mm=0.4, length_mm=25.0, inside=True),
}


def cracks_in(found: Found) -> tuple[Crack, ...]:
    return find_cracks(found.frame, found.form, found.losses)


def middle_of(points: FloatArray) -> tuple[float, float]:
    """Angle in degrees and height."""
    x, y, z = 0.5 * (points.min(axis=0) + points.max(axis=0))
    return float(np.degrees(np.arctan2(y, x))) % 360.0, float(z)


@pytest.mark.parametrize("kind", CUTS)
@pytest.mark.parametrize("name", ["tea bowl", "mug"])
def test_a_crack_is_listed_and_no_loss(name: str, kind: str) -> None:
    cut = CUTS[kind]
    broken = break_vessel(whole(name), (cut,), rng=np.random.default_rng(7))
    scan, _ = as_scanned(broken.body, noise_mm=0.03, rng=np.random.default_rng(8), pose=False)
    found = find(scan)
    assert found.kinds == []
    (crack,) = cracks_in(found)
    assert crack.length_mm == pytest.approx(cut.length_mm, rel=0.1)
    assert crack.width_mm == pytest.approx(cut.width_mm, abs=max(0.1, 0.3 * cut.width_mm))
    assert crack.inside == cut.inside
    angle, height = middle_of(broken.chunks[0].vertices)
    assert crack.angle_deg == pytest.approx(angle, abs=3.0)
    assert crack.height_mm == pytest.approx(height, abs=2.0)
    # All along it lies in the groove's mouth, at its middle to within its width.
    away = Surface(broken.chunks[0]).distance(crack.path_mm)
    assert away.max() < cut.width_mm + 0.4


def test_the_pose_moves_the_path_alone() -> None:
    body = break_vessel(
        whole("mug"), (CUTS["a crack part way"],), rng=np.random.default_rng(7)
    ).body
    matrix = random_pose(np.random.default_rng(3))
    (still,), (moved,) = (cracks_in(find(mesh)) for mesh in (body, transformed(body, matrix)))
    assert moved.length_mm == pytest.approx(still.length_mm, rel=0.03)
    assert moved.width_mm == pytest.approx(still.width_mm, abs=0.05)
    assert moved.height_mm == pytest.approx(still.height_mm, abs=0.5)
    ends = still.path_mm[[0, -1]] @ matrix[:3, :3].T + matrix[:3, 3]
    apart = np.linalg.norm(ends[:, None] - moved.path_mm[[0, -1]], axis=2)
    assert apart.min(axis=1).max() < 1.5


@pytest.mark.parametrize("name", WHOLE)
def test_a_whole_vessel_has_no_crack(name: str) -> None:
    scan, _ = as_scanned(whole(name), noise_mm=0.05, rng=np.random.default_rng(8), pose=False)
    assert cracks_in(find(scan)) == ()


@pytest.mark.parametrize("kind", ["rim_120", "rim_and_hole", "spall"])
def test_the_break_of_a_loss_is_no_crack(kind: str) -> None:
    broken = break_vessel(whole("tea bowl"), kind, rng=np.random.default_rng(5))
    found = find(broken.body)
    assert len(found.losses) == len(broken.chunks)
    assert cracks_in(found) == ()


def test_a_bead_of_adhesive_is_no_crack() -> None:
    mesh, _ = add_seams(whole("tea bowl"), whole("tea bowl"), rng=np.random.default_rng(2))
    assert cracks_in(find(mesh)) == ()
