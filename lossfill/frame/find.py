"""From a body to its frame: axis, way up, zero angle, consensus profile, dimensions."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from lossfill import tolerances as tol
from lossfill.body.body import Body
from lossfill.frame.axis import AxisFit, fit_axis
from lossfill.frame.frame import Frame
from lossfill.frame.measure import (
    capacity_ml,
    foot_diameter_mm,
    rim_diameter_mm,
    roundness_by_height,
    wall_mm,
)
from lossfill.frame.outline import Outline, find_outline, outline_on, roughly_round
from lossfill.frame.profile import Profile, project
from lossfill.frame.refine import Refined, refine
from lossfill.frame.refusals import no_axis, no_hollow
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
    few = samples.thinned(tol.AXIS_SAMPLES)
    upright = _upright(fit_axis(few.points, few.calm_normals, rng=rng), samples)
    outline = find_outline(samples.moved(upright))
    stand = _stand_round if outline is None else _stand_outlined
    refined, vessel_from_scan, outline, placed = stand(samples, upright, outline)
    profile = refined.profile
    height = float(profile.points[profile.lip, 1])
    diameter = 2 * float(profile.points[:, 0].max())
    # The axis first: of a box any line comes out, and about most of them there is no hollow.
    _refuse_without_axis(refined.coverage, refined.elastic_residual_mm, max(height, diameter))
    _refuse_without_hollow(profile, max(height, diameter))
    drop = project(profile, placed.points, placed.calm_normals)
    return Frame(
        vessel_from_scan=vessel_from_scan,
        profile=profile,
        outline=outline,
        samples=placed,
        residual_mm=refined.residual_mm,
        noise_mm=refined.elastic_residual_mm,
        coverage=refined.coverage,
        height_mm=height,
        rim_diameter_mm=rim_diameter_mm(profile),
        foot_diameter_mm=foot_diameter_mm(profile),
        wall_mm=wall_mm(profile),
        capacity_ml=capacity_ml(profile),
        roundness=roundness_by_height(profile, placed, drop, outline),
    )


def _upright(axis: AxisFit, samples: Samples) -> FloatArray:
    """Put the axis on z, rim up; the rim's side is read from a first section."""
    matrix = _axis_on_z(axis.direction, axis.point)
    if rim_is_high(first_section(roughly_round(samples.moved(matrix)))):
        return matrix
    return _axis_on_z(-axis.direction, axis.point)


_Stood = tuple[Refined, FloatArray, Outline | None, Samples]


def _stand_round(samples: Samples, upright: FloatArray, _: Outline | None) -> _Stood:
    """Settle a vessel that is near round."""
    placed = samples.moved(upright)
    refined, lowered = _settle(refine(placed, first_section(placed)))
    pose = lowered @ upright
    return refined, pose, None, samples.moved(pose)


def _stand_outlined(samples: Samples, upright: FloatArray, outline: Outline | None) -> _Stood:
    """Settle a vessel that is round only once its outline is taken out."""
    assert outline is not None
    rounded = outline.to_round(samples.moved(upright))
    pose = refine(rounded, first_section(rounded)).moved @ upright
    # In the settled frame once more, the profile alone, for the outline was found in the old one.
    outline = find_outline(samples.moved(pose)) or outline
    rounded = outline.to_round(samples.moved(pose))
    refined, lowered = _settle(refine(rounded, first_section(rounded), free=False))
    pose = lowered @ pose
    placed = samples.moved(pose)
    outline = outline_on(refined.profile, placed, rounded.moved(lowered), like=outline)
    return refined, pose, outline, outline.to_round(placed)


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


def _settle(refined: Refined) -> tuple[Refined, FloatArray]:
    """Lower the vessel until its foot stands on z = 0; return the whole motion too."""
    profile = refined.profile
    down = float(profile.points[:, 1].min())
    lowered = Profile(profile.points - np.array([0.0, down]), profile.normals, profile.lip)
    matrix = np.array(refined.moved)
    matrix[2, 3] -= down
    return replace(refined, profile=lowered), matrix


def _refuse_without_hollow(profile: Profile, size_mm: float) -> None:
    depth, least = float(np.ptp(profile.points[: profile.lip + 1, 1])), tol.HOLLOW_MIN * size_mm
    if depth < least:
        raise no_hollow(depth, least)


def _refuse_without_axis(coverage: float, residual_mm: float, size_mm: float) -> None:
    if coverage < tol.FRAME_COVERAGE_MIN:
        raise no_axis(
            f"only {coverage:.0%} of the surface follows one profile "
            f"(at least {tol.FRAME_COVERAGE_MIN:.0%} must)"
        )
    if residual_mm > tol.FRAME_RESIDUAL_MAX * size_mm:
        raise no_axis(
            f"the wall strays {residual_mm:.1f} mm from a round profile "
            f"(limit {tol.FRAME_RESIDUAL_MAX * size_mm:.1f} mm)"
        )
