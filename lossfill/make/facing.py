"""Which way a loss faces, and the places of its skin across, out and up."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lossfill import tolerances as tol
from lossfill.make.brief import Brief, Side
from lossfill.make.section import level_plane, upright_plane
from lossfill.make.sweep import Outwards
from lossfill.mesh import BoolArray, FloatArray, Mesh, centres, face_vectors, unit


@dataclass(frozen=True, slots=True, eq=False)
class Facing:
    """A loss seen from before it.

    Places are given as (across, out, up). About an axis, across is the angle from the loss's middle
    in radians, counter-clockwise seen from above, and out the radius; else all three are straight.

    Parameters
    ----------
    middle : (3,) of its skin; on the axis and level with the foot where it stands about an axis
    across, out, up : (3,) unit vectors, across = out × up
    about_axis : whether out runs away from the axis everywhere
    """

    middle: FloatArray
    across: FloatArray
    out: FloatArray
    up: FloatArray
    about_axis: bool

    def places(self, points: FloatArray) -> FloatArray:
        """Across, out and up of points (N, 3)."""
        local: FloatArray = (points - self.middle) @ np.stack([self.across, self.out, self.up]).T
        if not self.about_axis:
            return local
        turn = np.arctan2(-local[:, 0], local[:, 1])
        return np.stack([turn, np.hypot(local[:, 0], local[:, 1]), local[:, 2]], axis=1)

    def level(self, up: float) -> FloatArray:
        """The plane of a level card, (4, 4): x across, y out in the middle."""
        if self.about_axis:
            matrix = level_plane(up)
            matrix[:3, :3] = [self.across, self.out, self.up]
            return matrix
        return _plane([self.across, self.out, self.up], self.middle + up * self.up)

    def upright(self, across: float) -> FloatArray:
        """The plane of an upright card, (4, 4): x out, y up."""
        if self.about_axis:
            return upright_plane(float(np.arctan2(self.out[1], self.out[0])) + across)
        return _plane([self.out, self.up, self.across], self.middle + across * self.across)

    def sees(self, mesh: Mesh) -> BoolArray:
        """Which triangles (F,) are turned towards out; all, where none is."""
        vectors = face_vectors(mesh)
        out = np.broadcast_to(self.out, vectors.shape)
        if self.about_axis:
            out = centres(mesh) * [1.0, 1.0, 0.0]
        towards: BoolArray = (unit(vectors) * unit(out)).sum(axis=1) > 0.2
        return towards if towards.any() else np.ones(len(towards), dtype=np.bool_)

    def up_of(self, brief: Brief) -> tuple[float, float]:
        """Lowest and highest up of the vessel made whole."""
        solids = [brief.body, brief.lost.solid]
        boxes = np.array([solid.bounding_box() for solid in solids]).reshape(-1, 2, 3)
        low, high = boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)
        corners = np.array(np.meshgrid(*np.stack([low, high], axis=1))).reshape(3, -1).T
        up = (corners - self.middle) @ self.up
        return float(up.min()), float(up.max())

    @property
    def level_out(self) -> Outwards:
        """Which way is out in a level card."""
        centre = np.zeros(2) if self.about_axis else None
        return Outwards(centre, np.array([0.0, 1.0]))

    def ray(self, across: float) -> tuple[FloatArray, FloatArray]:
        """Where an upright card crosses a level one: start and way out in the level card."""
        if self.about_axis:
            return np.zeros(2), np.array([-np.sin(across), np.cos(across)])
        return np.array([across, 0.0]), np.array([0.0, 1.0])


def facing(brief: Brief, side: Side) -> Facing:
    """Which way one side of a loss faces.

    Raises
    ------
    InputError
        Where the loss has no such side.
    """
    mesh = brief.lost.faces_of(side)
    vectors = face_vectors(mesh)
    areas = np.linalg.norm(vectors, axis=1)
    middle = np.average(centres(mesh), axis=0, weights=areas)
    normal = unit(vectors.sum(axis=0))
    if brief.profile is None:
        normal = _broad_side(vectors, normal)
    up = np.array([0.0, 0.0, 1.0])
    level_enough = abs(normal[2]) < np.sin(np.radians(tol.GAUGE_STEEP_DEG))
    if brief.profile is not None and side is Side.OUTER and level_enough:
        out = unit(np.array([middle[0], middle[1], 0.0]))
        return Facing(np.zeros(3), np.cross(out, up), out, up, True)
    # Of a loss that lies flat, as in a tile or a floor, the way up is the vessel's x.
    upright = up if level_enough else np.array([1.0, 0.0, 0.0])
    out = unit(normal - (normal @ upright) * upright) if level_enough else normal
    upright = unit(upright - (upright @ out) * out)
    seen = unit(vectors) @ out > 0.2
    if seen.any():
        # The middle of what is seen from before it, without the edge of a tile.
        middle = np.average(
            mesh.vertices[mesh.faces[seen]].mean(axis=1), axis=0, weights=areas[seen]
        )
    return Facing(middle, np.cross(out, upright), out, upright, False)


def _broad_side(vectors: FloatArray, start: FloatArray) -> FloatArray:
    """Where the broadest side of a skin faces: the edge of a tile must not tilt its face."""
    around = np.array([step for step in np.ndindex(3, 3, 3) if step != (1, 1, 1)], float) - 1.0
    tried = unit(np.concatenate([start[None], around]))
    areas = np.linalg.norm(vectors, axis=1)
    normals = vectors / np.maximum(areas, 1e-12)[:, None]
    facing_it = np.maximum(normals @ tried.T, 0.0) ** 8
    way = tried[int(np.argmax(areas @ facing_it))]
    for _ in range(10):
        near = normals @ way > np.cos(np.radians(40.0))
        if not near.any():
            break
        way = unit(vectors[near].sum(axis=0))
    return np.asarray(way, dtype=np.float64)


def _plane(rows: list[FloatArray], through: FloatArray) -> FloatArray:
    matrix = np.eye(4)
    matrix[:3, :3] = rows
    matrix[:3, 3] = -matrix[:3, :3] @ through
    return matrix
