"""Copies laid on by their cells, against Open3D's registration of the same clouds.

Open3D knows nothing of profile and cells: it moves points until they lie on the other's tangent
planes, robustly (point-to-plane with Tukey's weights). Both begin at the same place.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import open3d as o3d
from breaking import as_scanned, break_vessel
from form.poses import angle_between_deg, known_skin, motion_of, plane_of, turn_about_z
from form.test_sources import SLIGHT
from frame.frame_checks import framed
from vessels import NO_FAULTS, fluted_cup, pressed_cup

from lossfill.form import Form, fit_form
from lossfill.form.cells import Skin
from lossfill.form.copies import Copy, find_mirrors, register
from lossfill.form.twin import _skin_of, _turned_on
from lossfill.frame import Frame
from lossfill.mesh import FloatArray

NOISE_MM = 0.05
EDGE_MM = 1.8
TUKEY_MM = 0.3
"""Distance from which Open3D sets a pair of points aside: six times the noise."""


def registered(source: Frame, target: Frame, start: FloatArray) -> FloatArray:
    """Open3D's motion of the source's skin onto the target's, both upright, (4, 4)."""
    clouds = []
    # A quarter of the source's samples: ten thousand means of the noise, 0.001 mm, tell the motion.
    for samples in (source.samples.thinned(len(source.samples.points) // 4), target.samples):
        cloud = o3d.geometry.PointCloud(o3d.utility.Vector3dVector(samples.points))
        cloud.normals = o3d.utility.Vector3dVector(samples.calm_normals)
        clouds.append(cloud)
    moved = start
    icp = o3d.pipelines.registration
    estimate = icp.TransformationEstimationPointToPlane(icp.TukeyLoss(k=TUKEY_MM))
    # Reach first, so that the start may be off, then the pairs that are really near.
    for reach_mm in (3.0, 1.0):
        moved = icp.registration_icp(
            *clouds, reach_mm, moved, estimate, icp.ICPConvergenceCriteria(1e-9, 1e-9, 100)
        ).transformation
    return np.asarray(moved)


def mirrored(frame: Frame) -> Frame:
    """The frame with its samples turned over at y = 0."""
    over = np.array([1.0, -1.0, 1.0])
    s = frame.samples
    flipped = replace(
        s, points=s.points * over, normals=s.normals * over, calm_normals=s.calm_normals * over
    )
    return replace(frame, samples=flipped)


def skin_apart_mm(frame: Frame, one: FloatArray, other: FloatArray) -> float:
    """How far two motions move a vessel's skin apart, along its normals, RMS mm."""
    p, n = frame.samples.points[::7], frame.samples.calm_normals[::7]
    apart = p @ (one - other)[:3, :3].T + (one - other)[:3, 3]
    along = (apart * (n @ one[:3, :3].T)).sum(axis=1)
    return float(np.sqrt(np.mean(along**2)))


def turn_deg(motion: FloatArray) -> float:
    """Turn of a motion about z, -180 … 180."""
    return float(np.degrees(np.arctan2(motion[1, 0], motion[0, 0])))


@cache
def twins() -> tuple[Form, Frame, Frame, FloatArray]:
    """Broken fluted cup, its frame, the frame of the whole one scanned anew, and the truth."""
    whole = fluted_cup(edge_mm=EDGE_MM, faults=SLIGHT)
    broken = break_vessel(whole, "rim_45", rng=np.random.default_rng(5), angle_deg=142.0)
    scan, pose = as_scanned(broken.body, noise_mm=NOISE_MM, rng=np.random.default_rng(55))
    other, other_pose = as_scanned(whole, noise_mm=NOISE_MM, rng=np.random.default_rng(99))
    frame, twin = framed(scan), framed(other, seed=2)
    true = frame.vessel_from_scan @ pose
    true = true @ np.linalg.inv(other_pose) @ np.linalg.inv(twin.vessel_from_scan)
    return fit_form(frame), frame, twin, np.asarray(true)


def twin_skin() -> Skin:
    form, _, twin, _ = twins()
    return _skin_of(twin, form.profile, form.cells, factor=1.0)


def test_a_twin_lies_where_open3d_lays_it_from_the_same_start() -> None:
    form, frame, twin, true = twins()
    # A quarter of a flute off; the next flute would be 26° off.
    start = Copy(False, float(np.radians(turn_deg(true) + 6.0)), np.zeros(6))
    ours = motion_of(register(form.cells, known_skin(form), start, other=twin_skin(), rounds=8))
    theirs = registered(twin, frame, turn_about_z(start.turn_rad))
    assert abs(turn_deg(ours @ np.linalg.inv(theirs))) < 0.1
    assert skin_apart_mm(twin, ours, theirs) < 0.05
    # Both are right, not merely alike.
    for motion in (ours, theirs):
        assert abs(turn_deg(motion @ np.linalg.inv(true))) < 0.1
        assert skin_apart_mm(twin, motion, true) < 0.05


def test_a_twin_needs_no_start() -> None:
    form, _, twin, true = twins()
    ours = motion_of(_turned_on(form.cells, known_skin(form), twin_skin()))
    assert abs(turn_deg(ours @ np.linalg.inv(true))) < 0.1
    assert skin_apart_mm(twin, ours, true) < 0.05


def test_a_mirror_plane_is_where_open3d_lays_the_reflected_cloud() -> None:
    # Free of faults: what is not alike on both sides has no plane, and each weighs it its own way.
    whole = pressed_cup(edge_mm=EDGE_MM, faults=NO_FAULTS)
    broken = break_vessel(whole, "rim_45", rng=np.random.default_rng(5), angle_deg=142.0)
    scan, _ = as_scanned(broken.body, noise_mm=NOISE_MM, rng=np.random.default_rng(55))
    frame = framed(scan)
    form = fit_form(frame)
    plane = find_mirrors(form.cells, known_skin(form))[0]
    ours = motion_of(plane)
    over = np.diag([1.0, -1.0, 1.0, 1.0])
    # Two degrees off, which turns the image by four.
    theirs = registered(mirrored(frame), frame, turn_about_z(plane.turn_rad + 0.07)) @ over
    middle = np.array([0.0, 0.0, 0.5 * frame.height_mm])
    normal, point = plane_of(ours, middle)
    other_normal, other_point = plane_of(theirs, middle)
    assert angle_between_deg(normal, other_normal) < 0.1
    assert abs((point - other_point) @ normal) < 0.05
    assert skin_apart_mm(frame, ours, theirs) < 0.05
