"""From a body to its frame: axis, way up, zero angle, consensus profile, dimensions."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from lossfill import tolerances as tol
from lossfill.body.body import Body
from lossfill.errors import AlignmentError, NoAxisError
from lossfill.frame.axis import AxisFit, fit_axis
from lossfill.frame.frame import Frame, Roundness
from lossfill.frame.lobes import Lobes, find_lobes, lobes_alone, lobes_on, roughly_round
from lossfill.frame.measure import (
    capacity_ml,
    foot_diameter_mm,
    rim_diameter_mm,
    roundness_by_height,
    wall_mm,
)
from lossfill.frame.outline import Outline
from lossfill.frame.oval import Oval, axis_on_z, find_oval, lifted, stood
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
    axis = fit_axis(few.points, few.calm_normals, rng=rng)
    try:
        return _find_about(axis, samples, few)
    except NoAxisError:
        raise
    except AlignmentError as error:
        # About a line that is no axis anything may be missing: say what is wrong first.
        met = _share_met(axis, few)
        if met < tol.AXIS_MET_MIN:
            least = tol.AXIS_MET_MIN
            raise no_axis(
                f"only {met:.0%} of the surface faces one line (at least {least:.0%} must)"
            ) from error
        raise


def _share_met(axis: AxisFit, samples: Samples) -> float:
    """Share of the normals, level ones apart, whose lines pass near the axis."""
    across = np.cross(samples.calm_normals, axis.direction)
    length = np.linalg.norm(across, axis=1)
    apart = samples.points - axis.point
    radius = np.linalg.norm(np.cross(apart, axis.direction), axis=1)
    leaning = length > 0.2
    way = np.abs((apart * across).sum(axis=1))[leaning] / length[leaning]
    return float((way < tol.AXIS_SCORE_CAP * np.quantile(radius, 0.9)).mean())


def _find_about(axis: AxisFit, samples: Samples, few: Samples) -> Frame:
    upright = axis_on_z(axis.direction, axis.point)
    drawn = find_oval(few, upright)
    oval: Oval | None = None
    if drawn is not None:
        upright, oval = drawn
    upright, oval = _rim_up(samples, upright, oval)
    refined, vessel_from_scan, outline, placed = _stand(samples, upright, oval)
    profile = refined.profile
    height = float(profile.points[profile.lip, 1])
    diameter = 2 * float(profile.points[:, 0].max())
    # The axis first: of a box any line comes out, and about most of them there is no hollow.
    _refuse_without_axis(refined.coverage, refined.elastic_residual_mm, max(height, diameter))
    _refuse_without_hollow(profile, max(height, diameter))
    drop = project(profile, placed.points, placed.calm_normals)
    roundness = roundness_by_height(profile, placed, drop, outline)
    strays = roundness
    if outline is not None and outline.oval is not None:
        strays = roundness_by_height(profile, placed, drop, Outline(None, outline.lobes))
    _refuse_far_from_round(strays, diameter)
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
        roundness=roundness,
        warnings=_warn_of_strays(strays, diameter, outline),
    )


def _rim_up(
    samples: Samples, upright: FloatArray, oval: Oval | None
) -> tuple[FloatArray, Oval | None]:
    """Turn the vessel over about x where its rim is down; a first section shows that."""
    rounded = roughly_round(Outline(oval, None).drawn(samples.moved(upright)))
    if rim_is_high(first_section(rounded)):
        return upright, oval
    over = np.diag([1.0, -1.0, -1.0, 1.0])
    turned = None if oval is None else Oval(over[:2, :2] @ oval.draw @ over[:2, :2])
    return over @ upright, turned


_Stood = tuple[Refined, FloatArray, Outline | None, Samples]


def _stand(samples: Samples, upright: FloatArray, oval: Oval | None) -> _Stood:
    """Settle the vessel, with its outline where it has one."""
    lobes = find_lobes(Outline(oval, None).drawn(samples.moved(upright)))
    if oval is not None and lobes is not None and oval.ratio < tol.OVAL_MIN_LOBED:
        plain = find_lobes(samples.moved(upright))
        if plain is not None:
            oval, lobes = None, plain
    if lobes is not None:
        try:
            return _stand_outlined(samples, upright, Outline(oval, lobes))
        except NoAxisError:
            # Lobes on which nothing can stand were waves of a broken rim.
            pass
    if oval is None:
        return _stand_round(samples, upright)
    return _stand_outlined(samples, upright, Outline(oval, None))


def _stand_round(samples: Samples, upright: FloatArray) -> _Stood:
    """Settle a vessel that is near round."""
    placed = samples.moved(upright)
    refined, lowered = _settle(refine(placed, first_section(placed)))
    pose = lowered @ upright
    return refined, pose, None, samples.moved(pose)


def _stand_outlined(samples: Samples, pose: FloatArray, outline: Outline) -> _Stood:
    """Settle a vessel that is round only once its outline is taken out."""
    found: Lobes | None = None
    few = samples if outline.lobes is None else samples.thinned(tol.LOBES_SAMPLES)
    for _ in range(tol.OVAL_POSES if outline.lobes is None else tol.LOBES_POSES):
        if outline.lobes is not None:
            outline = Outline(outline.oval, lobes_alone(outline.lobes))
        rounded = outline.to_round(few.moved(pose))
        motion = refine(rounded, first_section(rounded)).moved
        oval, lobes = outline.oval, outline.lobes
        if oval is None:
            pose = motion @ pose
        else:
            pose, oval = stood(motion @ lifted(oval.draw) @ pose)
        # In the new pose once more, for the lobes were found in the old one.
        drawn = Outline(oval, None).drawn(few.moved(pose))
        found = find_lobes(drawn)
        outline = Outline(oval, found or lobes)
        if outline.lobes is not None and _hardly(motion, few.points):
            break
    if outline.oval is None and found is None:
        # About its own axis it turns out to have none that the elastic form cannot follow.
        return _stand_round(samples, pose)
    rounded = outline.to_round(samples.moved(pose))
    refined, lowered = _settle(refine(rounded, first_section(rounded), free=False))
    pose = lowered @ pose
    placed = samples.moved(pose)
    if outline.lobes is not None:
        lobes = lobes_on(
            refined.profile, outline.drawn(placed), rounded.moved(lowered), like=outline.lobes
        )
        outline = Outline(outline.oval, lobes)
    return refined, pose, outline, outline.to_round(placed)


def _hardly(motion: FloatArray, points: FloatArray) -> bool:
    """Whether a motion moves no point of the vessel by more than is worth another round."""
    reach = 0.5 * float(np.ptp(points, axis=0).max())
    turned = float(np.linalg.norm(motion[:3, :3] - np.eye(3)))
    return float(np.hypot(*motion[:2, 3])) + reach * turned < tol.LOBES_SETTLED_MM


def _settle(refined: Refined) -> tuple[Refined, FloatArray]:
    """Lower the vessel until its foot stands on z = 0; return the whole motion too."""
    profile = refined.profile
    down = float(profile.points[:, 1].min())
    lowered = Profile(profile.points - np.array([0.0, down]), profile.normals, profile.lip)
    matrix = np.array(refined.moved)
    matrix[2, 3] -= down
    return replace(refined, profile=lowered), matrix


def _farthest(strays: tuple[Roundness, ...]) -> tuple[float, float]:
    """The largest stray from round and the height at which it is, mm."""
    most = [(max(ring.amplitudes_mm), ring.height_mm) for ring in strays]
    return max(most, default=(0.0, 0.0))


def _warn_of_strays(
    strays: tuple[Roundness, ...], diameter_mm: float, outline: Outline | None
) -> tuple[str, ...]:
    """Say where the wall strays so far from round, or from its oval, that the form may be wrong."""
    stray, height = _farthest(strays)
    limit = tol.OUTLINE_SWING * diameter_mm / 2
    if stray <= limit:
        return ()
    shape = "round" if outline is None or outline.oval is None else "an even oval"
    return (
        f"{height:.0f} mm above the foot the wall strays {stray:.1f} mm from "
        f"{shape} (up to {limit:.1f} mm is followed well): compare the form with the vessel "
        "in misfit.png before you make anything",
    )


def _refuse_far_from_round(strays: tuple[Roundness, ...], diameter_mm: float) -> None:
    stray, height = _farthest(strays)
    limit = tol.OUTLINE_NONE * diameter_mm / 2
    if stray > limit:
        raise no_axis(
            f"{height:.0f} mm above the foot the wall strays {stray:.1f} mm from round "
            f"(limit {limit:.1f} mm)"
        )


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
