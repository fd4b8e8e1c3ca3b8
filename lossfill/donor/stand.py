"""How a body without an axis stands: for its dimensions, its pictures and the places of losses."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from lossfill import tolerances as tol
from lossfill.body.body import Body
from lossfill.errors import AlignmentError
from lossfill.frame.frame import Frame
from lossfill.frame.samples import Samples, sample_body
from lossfill.mesh import FloatArray, Mesh
from lossfill.nearest import Surface


@dataclass(frozen=True, slots=True, eq=False)
class Stand:
    """The coordinates of a thing without an axis: standing on z = 0 about its middle, opening up.

    Angle 0 (12 o'clock in reports) is along its longest level side.

    Parameters
    ----------
    vessel_from_scan : (4, 4) rigid transform, scan mm to vessel mm
    length_mm, width_mm, height_mm : of the smallest upright box about it
    wall_mm : median thickness of its material
    samples : points spread over the measured surface, scan coordinates
    why : why there is no axis, in words
    warnings : sentences that every front end must show
    """

    vessel_from_scan: FloatArray
    length_mm: float
    width_mm: float
    height_mm: float
    wall_mm: float
    samples: Samples = field(repr=False)
    why: str
    warnings: tuple[str, ...] = ()

    @property
    def is_flat(self) -> bool:
        """Whether it lies flat, as a tile does, and so has neither rim nor foot."""
        return self.height_mm < 0.5 * self.width_mm


@dataclass(frozen=True, slots=True, eq=False)
class TwinBody:
    """Another one of the set.

    Parameters
    ----------
    body : its solid, in the coordinates of its own scan
    frame : how it stands, with an axis or without
    """

    body: Body
    frame: Frame | Stand


def find_stand(body: Body, *, rng: np.random.Generator, why: str) -> Stand:
    """Stand a thing up that has no axis.

    Parameters
    ----------
    why : why no axis was found, in words

    Raises
    ------
    AlignmentError
        Where the thing encloses nothing that a box could be laid about.
    """
    samples = sample_body(body, n=tol.DONOR_SAMPLES, rng=rng)
    sides = _box_sides(body.mesh)
    surface = Surface(body.mesh)
    thickness = thickness_mm(samples, surface)
    up = _up(body.mesh, sides, surface)
    level = [side for side in sides if abs(float(side @ up)) < 0.5]
    spans = [float(np.ptp(body.mesh.vertices @ side)) for side in level]
    along = level[int(np.argmax(spans))]
    across = np.cross(up, along)
    turn = np.stack([along, across, up])
    placed = body.mesh.vertices @ turn.T
    low, high = placed.min(axis=0), placed.max(axis=0)
    matrix = np.eye(4)
    matrix[:3, :3] = turn
    matrix[:3, 3] = -np.array([*(0.5 * (low + high))[:2], low[2]])
    length, width, height = (float(side) for side in high - low)
    return Stand(matrix, length, width, height, thickness, samples, why)


def thickness_mm(samples: Samples, surface: Surface) -> float:
    """Median distance through the material from one skin to the other, mm."""
    few = samples.thinned(tol.DONOR_FEW)
    inward = -few.calm_normals
    distance, _ = surface.along_rays(few.points + tol.RAY_OFF_SKIN_MM * inward, inward)
    met = np.isfinite(distance)
    if not met.any():
        raise AlignmentError("nothing solid was found: check that the scan shows one closed thing")
    return float(np.median(distance[met])) + tol.RAY_OFF_SKIN_MM


def _box_sides(mesh: Mesh) -> list[FloatArray]:
    """Directions of the sides of a tight box about the mesh, three unit vectors."""
    import open3d

    step = max(1, len(mesh.vertices) // tol.DONOR_SAMPLES)
    points = open3d.utility.Vector3dVector(np.array(mesh.vertices[::step]))
    box = open3d.geometry.OrientedBoundingBox.create_from_points_minimal(points)
    return [np.asarray(box.R, dtype=np.float64)[:, k] for k in range(3)]


def _up(mesh: Mesh, sides: list[FloatArray], surface: Surface) -> FloatArray:
    """The direction in which the thing opens; of one that is closed, its shortest side.

    Rays fall on it from each of the six sides: into an opening they fall deep. They start from
    the middle third, for a thing that is chamfered or has lost a corner is deep there too.
    """
    middle = mesh.bounds.mean(axis=0)
    best, deepest = None, tol.STAND_HOLLOW
    t = np.linspace(-1 / 6, 1 / 6, tol.STAND_RAYS)
    for k in range(3):
        others = [sides[j] for j in range(3) if j != k]
        spans = [np.ptp(mesh.vertices @ side) for side in others]
        extent = (mesh.vertices - middle) @ sides[k]
        grid = (
            t[:, None, None] * spans[0] * others[0] + t[None, :, None] * spans[1] * others[1]
        ).reshape(-1, 3)
        for sign in (1.0, -1.0):
            far = float((sign * extent).max())
            starts = middle + grid + sign * (far + 1.0) * sides[k]
            distance, _ = surface.along_rays(starts, np.tile(-sign * sides[k], (len(starts), 1)))
            met = np.isfinite(distance)
            if met.mean() < 0.5:
                continue
            # A share of the whole height, so that a deep box beats a dished tile.
            depth = float(np.median(distance[met]) - 1.0) / float(np.ptp(extent))
            if depth > deepest:
                best, deepest = sign * sides[k], depth
    if best is not None:
        return best
    spans_all = [float(np.ptp(mesh.vertices @ side)) for side in sides]
    return sides[int(np.argmin(spans_all))]
