"""How far a scanned piece stands off its design: side by side, and place by place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from lossfill import tolerances as tol
from lossfill.check.checked import Place, SideMisfit
from lossfill.check.place import Standing
from lossfill.check.settings import CheckSettings
from lossfill.check.sides import PieceSides
from lossfill.frame.samples import sample_mesh
from lossfill.loss.sides import Side
from lossfill.mesh import BoolArray, FloatArray, Mesh, face_vectors, unit


@dataclass(frozen=True, slots=True, eq=False)
class Misfit:
    """The scan at many places, each standing for as much of its surface.

    Parameters
    ----------
    points, normals : (N, 3) of the scan, vessel coordinates
    side : (N,) of `Side`
    off_mm : (N,) signed distance from the design; positive is too much material
    calm_mm : (N,) the same, averaged over what lies about on the same side
    area_mm2 : that one place stands for
    pairs : (P, 2) places that lie about each other on the same side
    """

    points: FloatArray
    normals: FloatArray
    side: NDArray[np.int8]
    off_mm: FloatArray
    calm_mm: FloatArray
    area_mm2: float
    pairs: NDArray[np.intp]


def find_misfit(
    mesh: Mesh, sides: PieceSides, *, seed: int, left_out: BoolArray | None = None
) -> Misfit:
    """Measure a scan that lies on its design.

    Parameters
    ----------
    mesh : the scan, vessel coordinates
    left_out : (F,) triangles that were not measured
    """
    vectors = face_vectors(mesh)
    area = float(np.linalg.norm(vectors, axis=1).sum())
    n = int(np.clip(area / tol.CHECK_SPACING_MM**2, *tol.CHECK_PLACES))
    samples = sample_mesh(mesh, n=n, rng=np.random.default_rng(seed), left_out=left_out)
    side = sides.of(samples.points, samples.normals)
    off = sides.whole.signed_distance(samples.points)
    reach = max(tol.CHECK_CALM_MM, 2.5 * np.sqrt(samples.area_mm2))
    pairs = cKDTree(samples.points).query_pairs(reach, output_type="ndarray")
    pairs = pairs[side[pairs[:, 0]] == side[pairs[:, 1]]]
    total, count = off.copy(), np.ones(len(off))
    for one, other in ((0, 1), (1, 0)):
        total += np.bincount(pairs[:, one], off[pairs[:, other]], minlength=len(off))
        count += np.bincount(pairs[:, one], minlength=len(off))
    return Misfit(
        samples.points, samples.normals, side, off, total / count, samples.area_mm2, pairs
    )


def by_side(misfit: Misfit, tolerance_mm: float) -> tuple[SideMisfit, ...]:
    """Sum up each side that was scanned."""
    found = []
    for side in (Side.OUTER, Side.INNER, Side.BREAK):
        mine = misfit.side == int(side)
        if not mine.any():
            continue
        calm = misfit.calm_mm[mine]
        low, middle, high = np.quantile(misfit.off_mm[mine], (0.05, 0.5, 0.95))
        found.append(
            SideMisfit(
                side=side,
                area_mm2=float(mine.sum()) * misfit.area_mm2,
                p05_mm=float(low),
                p50_mm=float(middle),
                p95_mm=float(high),
                too_much_mm2=float((calm > tolerance_mm).sum()) * misfit.area_mm2,
                too_little_mm2=float((calm < -tolerance_mm).sum()) * misfit.area_mm2,
            )
        )
    return tuple(found)


def find_places(
    misfit: Misfit, standing: Standing, settings: CheckSettings, *, clearance_mm: float
) -> tuple[Place, ...]:
    """Places of too much and too little: first what keeps the piece from its seat, then by volume.

    Parameters
    ----------
    clearance_mm : what stands proud of the seat by more than this runs into the body
    """
    found = []
    for sign in (1.0, -1.0):
        over = sign * misfit.calm_mm > settings.tolerance_mm
        for members in clusters(misfit.pairs, over):
            if len(members) * misfit.area_mm2 >= tol.CHECK_PLACE_MM2:
                found.append(_place(misfit, members, standing))

    def rank(place: Place) -> tuple[bool, float]:
        blocks = place.side is Side.BREAK and place.depth_mm > clearance_mm
        return (not blocks, -abs(place.volume_mm3))

    return tuple(sorted(found, key=rank)[: settings.places])


def clusters(pairs: NDArray[np.intp], chosen: BoolArray) -> list[NDArray[np.intp]]:
    """The chosen places, gathered by what lies about each other."""
    kept = pairs[chosen[pairs].all(axis=1)]
    shape = (len(chosen), len(chosen))
    links = coo_array((np.ones(len(kept)), (kept[:, 0], kept[:, 1])), shape=shape)
    _, label = connected_components(links, directed=False)
    members = np.flatnonzero(chosen)
    order = members[np.argsort(label[members], kind="stable")]
    if len(order) == 0:
        return []
    return np.split(order, np.flatnonzero(np.diff(label[order])) + 1)


def _place(misfit: Misfit, members: NDArray[np.intp], standing: Standing) -> Place:
    off = misfit.off_mm[members]
    sign = np.sign(misfit.calm_mm[members[0]])
    weight = np.abs(misfit.calm_mm[members])
    middle = np.average(misfit.points[members], axis=0, weights=weight)
    # The middle of a bent place lies off it: the place is said to be at the member nearest to it.
    side = int(misfit.side[members[0]])
    most = len(members) > tol.CHECK_MOST * float((misfit.side == side).sum())
    near = members[int(np.argmin(np.linalg.norm(misfit.points[members] - middle, axis=1)))]
    at = misfit.points[near]
    return Place(
        side=Side(side),
        depth_mm=float(sign * np.quantile(sign * off, 0.98)),
        area_mm2=len(members) * misfit.area_mm2,
        volume_mm3=float(off.sum()) * misfit.area_mm2,
        at=at,
        normal=unit(misfit.normals[members].mean(axis=0)),
        where="over most of it" if most else standing.where(at),
    )
