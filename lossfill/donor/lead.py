"""A donor brought flush with the skin about a gap, and tucked under it beyond the join.

A donor lies on the body to a tenth of a mm or two; a piece must meet it without a step. So about
each gap the donor is moved rigidly onto the skin there, then along its own normals by a smooth
field that the skin about the gap shows, and right at the join by what is left. Beyond the join it
runs a little under the skin, so that the only surfaces that cross are the donor's and the break.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import RBFInterpolator
from scipy.spatial import cKDTree

from lossfill import tolerances as tol
from lossfill.mesh import BoolArray, FloatArray, Mesh, vertex_normals
from lossfill.nearest import Surface
from lossfill.robust import belief, spread_of


@dataclass(frozen=True, slots=True, eq=False)
class Led:
    """A donor's surface about one gap, led onto the body.

    Parameters
    ----------
    mesh : closed; over the gap on the intact skin, beyond it tucked below the body's
    gap : (V,) vertices over the gap
    spread_mm : robust spread of the skin about the led donor
    """

    mesh: Mesh
    gap: BoolArray
    spread_mm: float


def lead(donor: Mesh, surface: Surface, gap_points: FloatArray, *, reach_mm: float) -> Led:
    """Lead a donor onto the skin about a gap.

    Parameters
    ----------
    donor : closed, its triangles small against the gap, scan mm
    surface : of the body; it need only hold what lies about the gap
    gap_points : (G, 3) points of the donor's surface that have no body beneath them
    reach_mm : how far about the gap the skin is followed
    """
    away = _distance_to(gap_points, donor.vertices, within_mm=max(reach_mm, _TUCKED_MM))
    here: BoolArray = away < reach_mm
    points, normals = donor.vertices, vertex_normals(donor)
    points, normals = _moved_rigidly(points, normals, here, surface)
    shown, backed = skin_above(points[here], normals[here], surface)
    span = max(float(np.linalg.norm(np.ptp(gap_points, axis=0))), tol.LEAD_SPAN_MIN_MM)
    field = smooth_field(points[here], normals[here], shown, backed, span_mm=span)
    points[here] += field[:, None] * normals[here]
    rise, known = np.zeros(len(points)), np.zeros(len(points), dtype=np.bool_)
    rise[here], known[here] = skin_above(points[here], normals[here], surface)
    spread = spread_of(rise[known]) if known.any() else 0.0
    gap = here & ~known & (away < tol.LEAD_GAP_MM)
    to_gap = away
    if gap.any():
        to_gap = _distance_to(points[gap], points, within_mm=_TUCKED_MM)
    points += _at_join(points, rise, known, to_gap)[:, None] * normals
    points -= _tuck(to_gap, spread)[:, None] * normals
    return Led(Mesh(points, donor.faces), gap, spread)


_TUCKED_MM = max(3 * tol.CELL_MM, 2 * tol.FILM_REACH_MM, 3 * tol.LEAD_JOIN_MM)
"""Distance from a gap past which a donor is tucked alike and nothing is led on from the join."""


def _distance_to(places: FloatArray, points: FloatArray, *, within_mm: float) -> FloatArray:
    """Distance from each point to the nearest place, (N,) mm; infinite for those farther off."""
    found = cKDTree(places).query(points, distance_upper_bound=within_mm)[0]
    return np.asarray(found, dtype=np.float64)


def skin_above(
    points: FloatArray, normals: FloatArray, surface: Surface
) -> tuple[FloatArray, BoolArray]:
    """How far the body's skin lies above points of a donor, along its normals.

    Parameters
    ----------
    points, normals : (N, 3) of the donor

    Returns
    -------
    (N,) mm, and (N,) whether there is skin that faces as the donor does: past the join the nearest
    place of the body lies aside, on the edge of the break.
    """
    places, facing = surface.closest(points)
    apart = places - points
    above = (apart * normals).sum(axis=1)
    beside = np.linalg.norm(apart - above[:, None] * normals, axis=1)
    alike = (facing * normals).sum(axis=1) > tol.LEAD_FACING
    # On a curved skin the nearest place of a donor that lies off it is a little aside, too.
    aside = tol.LEAD_BESIDE_MM + tol.LEAD_BESIDE_SHARE * np.abs(above)
    return above, np.asarray((np.abs(above) < tol.LEAD_SEARCH_MM) & alike & (beside < aside))


def smooth_field(
    points: FloatArray,
    normals: FloatArray,
    shown_mm: FloatArray,
    known: BoolArray,
    *,
    span_mm: float,
    wanted: BoolArray | None = None,
) -> FloatArray:
    """Smooth field along a donor's normals that brings it onto the skin, (W,) mm.

    A thin plate in place and direction together: the two skins of a wall lie near each other but
    face apart, and each has a field of its own.

    Parameters
    ----------
    points, normals : (N, 3) of the donor
    shown_mm, known : (N,) how far the skin lies above it, and where that is known
    span_mm : how far the field must reach across the gap; a unit of direction counts as much
    wanted : (N,) the W points at which it is told; None tells it at all of them
    """
    use = np.flatnonzero(known)
    if len(use) < tol.LEAD_POINTS_MIN:
        return np.zeros(len(points) if wanted is None else int(wanted.sum()))
    places = np.hstack([points / span_mm, normals])
    # What is not the same skin, such as relief that only one of them has, has no say.
    off = _off_even(places[use], shown_mm[use])
    use = use[np.abs(off) <= 4 * spread_of(off) + 1e-6]
    # Means over a few neighbours: as many places, with less noise.
    seeds = places[use[:: max(1, len(use) // tol.LEAD_POINTS)]]
    seed = cKDTree(seeds).query(places[use])[1]
    count = np.bincount(seed, minlength=len(seeds))
    held = count > 0

    def mean(values: FloatArray) -> FloatArray:
        result: FloatArray = np.bincount(seed, values, len(seeds))[held] / count[held]
        return result

    middles = np.column_stack([mean(places[use, k]) for k in range(6)])
    plate = RBFInterpolator(
        middles, mean(shown_mm[use]), kernel="linear", smoothing=tol.LEAD_SMOOTHING, degree=0
    )
    result: FloatArray = plate(places if wanted is None else places[wanted])
    return result


def _off_even(places: FloatArray, shown_mm: FloatArray) -> FloatArray:
    """What is left of a field after what is even in place and direction, outliers set aside.

    In direction too: of a wall that is thicker than the donor's, one skin lies above and the other
    below, and neither is an outlier.
    """
    design = np.column_stack([places - places.mean(axis=0), np.ones(len(places))])
    residual = shown_mm - np.median(shown_mm)
    for _ in range(4):
        weight = np.sqrt(belief(residual, spread_of(residual) + 1e-6))
        answer = np.linalg.lstsq(design * weight[:, None], shown_mm * weight, rcond=None)[0]
        residual = shown_mm - design @ answer
    return residual


def _moved_rigidly(
    points: FloatArray, normals: FloatArray, here: BoolArray, surface: Surface
) -> tuple[FloatArray, FloatArray]:
    """Move the donor rigidly onto the skin about the gap, by least squares, outliers set aside."""
    some = np.flatnonzero(here)
    some = some[:: max(1, len(some) // tol.LEAD_RIGID_POINTS)]
    for _ in range(tol.LEAD_RIGID_ROUNDS):
        rise, backed = skin_above(points[some], normals[some], surface)
        if backed.sum() < tol.LEAD_POINTS_MIN:
            return points, normals
        use, rise = some[backed], rise[backed]
        middle = points[use].mean(axis=0)
        lever = np.cross(points[use] - middle, normals[use])
        design = np.hstack([normals[use], lever])
        weight = np.ones(len(use))
        answer = np.zeros(6)
        # Sides that nothing holds, as along a flat wall, stay where they are.
        scale = np.maximum(np.sqrt((design**2).mean(axis=0)), 1e-9)
        scaled = design / scale
        for _ in range(4):
            weighted = scaled * weight[:, None]
            ridge = tol.LEAD_RIDGE * weight.sum() * np.eye(6)
            answer = np.linalg.solve(weighted.T @ scaled + ridge, weighted.T @ rise) / scale
            residual = rise - design @ answer
            weight = belief(residual, spread_of(residual) + 1e-6)
        turn = _rotation(answer[3:])
        points = (points - middle) @ turn.T + middle + answer[:3]
        normals = normals @ turn.T
    return points, normals


def _rotation(vector: FloatArray) -> FloatArray:
    from scipy.spatial.transform import Rotation

    result: FloatArray = Rotation.from_rotvec(vector).as_matrix()
    return result


def _at_join(
    points: FloatArray, rise: FloatArray, backed: BoolArray, to_gap: FloatArray
) -> FloatArray:
    """What is left between donor and skin right beside the gap, led on a little way into it."""
    field = np.zeros(len(points))
    beside = np.flatnonzero(backed & (to_gap < 2 * tol.LEAD_JOIN_MM))
    if len(beside) == 0:
        return field
    tree = cKDTree(points[beside])
    near = np.flatnonzero(to_gap < 3 * tol.LEAD_JOIN_MM)
    k = min(12, len(beside))
    answer = tree.query(points[near], k=k)
    distance, index = (np.asarray(part).reshape(len(near), k) for part in answer)
    weight = np.exp(-0.5 * (distance / tol.LEAD_JOIN_MM) ** 2)
    mean = (weight * rise[beside][index]).sum(axis=1) / np.maximum(weight.sum(axis=1), 1e-9)
    # Fades with the distance from known skin: texture there says nothing of the gap's middle.
    field[near] = mean * np.exp(-0.5 * (distance[:, 0] / (2 * tol.LEAD_JOIN_MM)) ** 2)
    return field


def _tuck(to_gap: FloatArray, spread_mm: float) -> FloatArray:
    """How far the donor runs under the skin at a distance from the gap, mm."""
    depth = tol.TUCK_MM + tol.TUCK_SPREADS * spread_mm
    shallow = tol.TUCK_MM * np.clip(to_gap / (0.5 * tol.CELL_MM), 0, 1)
    deep = (depth - tol.TUCK_MM) * np.clip((to_gap - tol.CELL_MM) / (2 * tol.CELL_MM), 0, 1)
    away = np.clip((to_gap - tol.FILM_REACH_MM) / tol.FILM_REACH_MM, 0, 1)
    result: FloatArray = shallow + deep + tol.LEAD_TUCK_FAR_MM * away
    return result
