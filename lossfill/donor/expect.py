"""How far to trust a donor at a gap: hide patches like the gap and predict them from around."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from lossfill import tolerances as tol
from lossfill.donor.donor import Donor
from lossfill.donor.lead import smooth_field
from lossfill.frame.samples import Samples
from lossfill.mesh import BoolArray, FloatArray, extents


@dataclass(frozen=True, slots=True)
class Expected:
    """What a donor's skin over a gap is expected to err by.

    Parameters
    ----------
    error_mm : RMS
    bound_mm : the RMS error stays below this in nine of ten cases
    """

    error_mm: float
    bound_mm: float


def expect(
    donor: Donor,
    shown: Samples,
    above: Callable[[], tuple[FloatArray, BoolArray]],
    gap_points: FloatArray,
) -> Expected:
    """Expect an error of a donor at a gap.

    Parameters
    ----------
    shown : points spread over the donor
    above : tells how far the body's skin lies above each of them, and where there is such skin,
        as `skin_above` does; a donor that knows its error is not asked
    gap_points : (G, 3) those over the gap
    """
    if donor.error_mm is not None:
        return Expected(donor.error_mm, tol.DONOR_BOUND_SPREADS * donor.error_mm)
    # Half the gap's width, across and not along it, is how far its middle lies from known skin.
    radius = 0.5 * min(np.sqrt(len(gap_points) * shown.area_mm2), float(extents(gap_points)[1]))
    rise, backed = above()
    # Radii only shrink: farther off than this is clear of the gap for each of them.
    clear = np.asarray(
        cKDTree(gap_points).query(shown.points, distance_upper_bound=1.5 * radius + 1e-9)[0],
        dtype=np.float64,
    )
    errors: list[float] = []
    grown = 1.0
    while True:
        errors = _errors(shown, rise, backed, clear, radius)
        if len(errors) >= tol.DONOR_PATCHES_MIN or radius < tol.DONOR_PATCH_MIN_MM:
            break
        # Little is left: smaller patches fit into it, and the error grows with the width.
        radius, grown = 0.7 * radius, grown / 0.7
    if not errors:
        return Expected(2 * donor.residual_mm, 4 * donor.residual_mm)
    error = grown * float(np.sqrt(np.mean(np.square(errors))))
    bound = max(tol.BOUND_SHARE * error, tol.BOUND_WORST * grown * max(errors))
    return Expected(error, bound)


def _errors(
    shown: Samples,
    rise: FloatArray,
    backed: BoolArray,
    clear: FloatArray,
    radius_mm: float,
) -> list[float]:
    """RMS error over patches of a radius, spread over what is left."""
    free = np.flatnonzero(backed & (clear > 1.5 * radius_mm))
    if len(free) == 0:
        return []
    tree = cKDTree(shown.points)
    places = free[np.linspace(0, len(free) - 1, tol.DONOR_PATCH_PLACES).astype(int)]
    errors = []
    for place in np.unique(places):
        about = np.asarray(tree.query_ball_point(shown.points[place], 2.5 * radius_mm))
        away = np.linalg.norm(shown.points[about] - shown.points[place], axis=1)
        facing = shown.calm_normals[about] @ shown.calm_normals[place] > -0.5
        inner = about[(away < radius_mm) & facing]
        ring = about[(away >= radius_mm)]
        if backed[inner].mean() < 0.9 or backed[ring].mean() < 0.5:
            continue
        both = np.concatenate([ring, inner])
        hidden = np.zeros(len(both), dtype=bool)
        hidden[len(ring) :] = True
        field = smooth_field(
            shown.points[both],
            shown.calm_normals[both],
            rise[both],
            backed[both] & ~hidden,
            span_mm=max(2 * radius_mm, tol.LEAD_SPAN_MIN_MM),
            wanted=hidden & backed[both],
        )
        told = inner[backed[inner]]
        off = rise[told] - field
        errors.append(float(np.sqrt((off**2).mean())))
        if len(errors) == tol.DONOR_PATCHES:
            break
    return errors
