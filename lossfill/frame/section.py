"""A first section of the vessel, without a single ray: mean occupancy by the divergence theorem.

Seen along all meridians at once, the share χ(r, z) of meridians that hold material at (r, z)
obeys ∂χ/∂r = -(outward surface that faces +r at that place). Summing the samples' n_r · area / r
inwards from outside gives χ over the whole half plane in one pass:

         z
         │        ┌┐ χ = share of the turn that still has a rim
         │        ││
         │        ││          ← sum from the right to the left, row by row
         ├────────┘│
         └─────────┘──→ r

A low threshold keeps what a quarter of the turn shows: a rim of which 60 % is missing stays, a
handle, which fills a twentieth of the turn, goes.
"""

from __future__ import annotations

from typing import cast

import contourpy
import numpy as np
from scipy.ndimage import gaussian_filter, label

from lossfill import tolerances as tol
from lossfill.frame.refusals import no_axis, no_floor
from lossfill.frame.samples import Samples
from lossfill.mesh import FloatArray


def first_section(samples: Samples) -> FloatArray:
    """Outline of the vessel's section from the axis inside, over the lip, to the axis below.

    Parameters
    ----------
    samples : in a frame whose z is the axis; z may run either way

    Returns
    -------
    (N, 2) r and z, mm. Where the section shows z must be turned over, the curve still runs from
    the inside of the hollow to the outside.

    Raises
    ------
    AlignmentError
        Where no curve from axis to axis exists: no floor, no hollow, or no revolved shape at all.
    """
    occupancy, r, z = mean_occupancy(samples)
    solid = occupancy > tol.SECTION_SHARE
    pieces, n = label(solid)
    if n == 0:
        raise no_axis("about none is there material all the way round")
    sizes = np.bincount(pieces.ravel())[1:]
    masked = np.where(pieces == 1 + int(sizes.argmax()), occupancy, 0.0)
    contours = contourpy.contour_generator(r, z, masked.T)
    lines = cast(list[FloatArray], contours.lines(tol.SECTION_SHARE))
    curve = max(lines, key=_length)
    # The rows are mirrored across the axis so that the outline crosses r = 0 and can be cut there.
    return _cut_at_axis(curve, cell=float(r[1] - r[0]))


def mean_occupancy(samples: Samples) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Share of meridians with material, (R, Z), and the cell centres in r and z, mm."""
    p, n = samples.points, samples.normals
    r = np.hypot(p[:, 0], p[:, 1])
    facing = (p[:, 0] * n[:, 0] + p[:, 1] * n[:, 1]) / np.maximum(r, 1e-9)
    low, high = float(p[:, 2].min()), float(p[:, 2].max())
    reach = float(np.quantile(r, tol.SECTION_REACH)) * 1.25
    cell = max(reach, high - low) / tol.SECTION_CELLS
    n_r, n_z = int(reach / cell) + 2, int((high - low) / cell) + 5
    i = (r / cell).astype(np.int64)
    j = ((p[:, 2] - low) / cell).astype(np.int64) + 2
    inside = i < n_r
    weights = facing * samples.area_mm2 / (2 * np.pi * np.maximum(r, cell) * cell)
    drops = np.bincount(
        (i * n_z + j)[inside], weights=weights[inside], minlength=n_r * n_z
    ).reshape(n_r, n_z)
    occupancy = np.asarray(np.cumsum(drops[::-1], axis=0)[::-1], dtype=np.float64)
    # Half a cell of blur quiets the sampling noise; the section is refined on the points later.
    occupancy = gaussian_filter(occupancy, 0.7, mode=("nearest", "constant"))
    mirrored = np.vstack([occupancy[:3][::-1], occupancy])
    r_centres = (np.arange(-3, n_r, dtype=np.float64) + 0.5) * cell
    z_centres = low + (np.arange(n_z, dtype=np.float64) - 1.5) * cell
    return mirrored, r_centres, z_centres


def _cut_at_axis(curve: FloatArray, *, cell: float) -> FloatArray:
    """Keep the longest run of the outline with r > 0 and start it inside the hollow."""
    if np.allclose(curve[0], curve[-1]):
        # Start the closed line at its leftmost point, so that no run is split at the seam.
        start = int(curve[:-1, 0].argmin())
        curve = np.roll(curve[:-1], -start, axis=0)
    beyond = curve[:, 0] > 0
    edges = np.flatnonzero(np.diff(np.concatenate([[False], beyond, [False]]).astype(np.int8)))
    runs = edges.reshape(-1, 2)
    if len(runs) == 0:
        raise no_floor("the vessel's section does not reach its axis")
    first, last = max(runs, key=lambda run: _length(curve[run[0] : run[1]]))
    run = curve[first:last]
    if max(run[0, 0], run[-1, 0]) > 2.5 * cell:
        raise no_floor("the vessel has no floor on its axis")
    return _from_inside(run)


def _from_inside(run: FloatArray) -> FloatArray:
    """Orient the run so that it begins on the hollow's floor.

    The floor is a plate on the axis. The hollow lies on the side to which more of the vessel
    reaches; its rim is the end of the run's z range on that side.
    """
    a, b = float(run[0, 1]), float(run[-1, 1])
    upper, lower = max(a, b), min(a, b)
    above, below = float(run[:, 1].max()) - upper, lower - float(run[:, 1].min())
    rim_is_high = above >= below
    starts_inside = (a > b) if rim_is_high else (a < b)
    return run if starts_inside else run[::-1].copy()


def rim_is_high(section: FloatArray) -> bool:
    """Tell whether the hollow opens towards +z: the section starts on the hollow's floor."""
    return bool(section[0, 1] > section[-1, 1])


def _length(curve: FloatArray) -> float:
    return float(np.linalg.norm(np.diff(curve, axis=0), axis=1).sum())
