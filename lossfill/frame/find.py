"""From a body to its frame: axis, way up, zero angle, consensus profile, dimensions."""

from __future__ import annotations

import numpy as np

from lossfill import tolerances as tol
from lossfill.body.body import Body
from lossfill.errors import AlignmentError
from lossfill.frame.axis import AxisFit, fit_axis
from lossfill.frame.frame import Frame
from lossfill.frame.measure import (
    capacity_ml,
    foot_diameter_mm,
    rim_diameter_mm,
    roundness_by_height,
    wall_mm,
)
from lossfill.frame.profile import Profile, project
from lossfill.frame.refine import refine
from lossfill.frame.samples import Samples, sample_body
from lossfill.frame.section import first_section, rim_is_high
from lossfill.mesh import FloatArray


def find_frame(body: Body, *, rng: np.random.Generator) -> Frame:
    """Stand the vessel up: axis on z, rim up, foot on z = 0.

    Raises
    ------
    AlignmentError
        Where no axis of revolution explains the scan, or there is no hollow.
    """
    samples = sample_body(body, n=tol.FIT_SAMPLES, rng=rng)
    few = slice(None, None, max(1, tol.FIT_SAMPLES // tol.AXIS_SAMPLES))
    axis = fit_axis(samples.points[few], samples.calm_normals[few], rng=rng)
    upright = _upright(axis, samples)
    refined = refine(samples.moved(upright), first_section(samples.moved(upright)))
    vessel_from_scan = refined.moved @ upright
    profile, vessel_from_scan = _settle(refined.profile, vessel_from_scan)
    placed = samples.moved(vessel_from_scan)
    height = float(profile.points[profile.lip, 1])
    diameter = 2 * float(profile.points[:, 0].max())
    _refuse_without_axis(refined.coverage, refined.elastic_residual_mm, max(height, diameter))
    drop = project(profile, placed.points, placed.calm_normals)
    return Frame(
        vessel_from_scan=vessel_from_scan,
        profile=profile,
        samples=placed,
        residual_mm=refined.residual_mm,
        noise_mm=refined.elastic_residual_mm,
        coverage=refined.coverage,
        height_mm=height,
        rim_diameter_mm=rim_diameter_mm(profile),
        foot_diameter_mm=foot_diameter_mm(profile),
        wall_mm=wall_mm(profile),
        capacity_ml=capacity_ml(profile),
        roundness=roundness_by_height(profile, placed, drop),
    )


def _upright(axis: AxisFit, samples: Samples) -> FloatArray:
    """Put the axis on z, rim up; the rim's side is read from a first section."""
    matrix = _axis_on_z(axis.direction, axis.point)
    if rim_is_high(first_section(samples.moved(matrix))):
        return matrix
    return _axis_on_z(-axis.direction, axis.point)


def _axis_on_z(direction: FloatArray, point: FloatArray) -> FloatArray:
    """Rigid transform that takes a line to the z axis and the scan's x to angle 0."""
    z = direction / np.linalg.norm(direction)
    # Where the axis lies along the scan's x, its y serves instead.
    reference = np.eye(3)[0] if abs(z[0]) < 0.9 else np.eye(3)[1]
    x = reference - (reference @ z) * z
    x /= np.linalg.norm(x)
    matrix = np.eye(4)
    matrix[:3, :3] = np.stack([x, np.cross(z, x), z])
    matrix[:3, 3] = -matrix[:3, :3] @ point
    return matrix


def _settle(profile: Profile, vessel_from_scan: FloatArray) -> tuple[Profile, FloatArray]:
    """Lower the vessel until its foot stands on z = 0."""
    down = float(profile.points[:, 1].min())
    lowered = profile.points - np.array([0.0, down])
    matrix = np.array(vessel_from_scan)
    matrix[2, 3] -= down
    return Profile(lowered, profile.normals, profile.lip), matrix


def _refuse_without_axis(coverage: float, residual_mm: float, size_mm: float) -> None:
    if coverage < tol.FRAME_COVERAGE_MIN:
        raise AlignmentError(
            f"no axis of revolution: only {coverage:.0%} of the surface follows one profile "
            f"(at least {tol.FRAME_COVERAGE_MIN:.0%} must); this way of filling needs a vessel "
            "that was thrown, turned or is nearly round"
        )
    if residual_mm > tol.FRAME_RESIDUAL_MAX * size_mm:
        raise AlignmentError(
            f"no axis of revolution: the wall strays {residual_mm:.1f} mm from a round profile "
            f"(limit {tol.FRAME_RESIDUAL_MAX * size_mm:.1f} mm); this way of filling needs a "
            "vessel that was thrown, turned or is nearly round"
        )
