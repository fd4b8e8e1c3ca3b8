"""Losses of turned vessels that are made to go in: the two stages of a piece, one after another."""

from __future__ import annotations

import manifold3d
import numpy as np
from fill.wedges import Wedged, cylinder, wedge

from lossfill.fill import FillSettings, make_fill
from lossfill.fit.fit import Obstacle, fit_fill
from lossfill.fit.fitted import Fitted
from lossfill.mesh import FloatArray, Mesh
from lossfill.solids import Solid, mesh_from_solid, solid_from_mesh

SLAB = solid_from_mesh(
    mesh_from_solid(manifold3d.Manifold.cube((8.0, 60.0, 50.0)).translate((34.0, -30.0, 0.0)))
)
"""A flat wall across x = 38, 8 mm thick."""

CUP = solid_from_mesh(cylinder(40.0, 36.0, 50.0, 96, spacing_mm=4.0).mesh)
"""A straight cup, its wall 4 mm, 50 mm tall."""


def missing(
    cutter: Solid, whole: Solid = CUP, *, pose: FloatArray | None = None, seed: int | None = None
) -> Wedged:
    """Cut a loss out of a vessel, moved and with its triangles in another order where asked."""
    if pose is not None:
        whole, cutter = whole.transform(pose[:3]), cutter.transform(pose[:3])
    if seed is not None:
        whole = shuffled(whole, seed)
    whole = whole.as_original()
    piece, body = whole.split(cutter)
    return Wedged(whole, piece, body)


def shuffled(solid: Solid, seed: int) -> Solid:
    """The same solid, its triangles and points in another order."""
    mesh, rng = mesh_from_solid(solid), np.random.default_rng(seed)
    order = rng.permutation(len(mesh.vertices))
    faces = np.argsort(order)[mesh.faces][rng.permutation(len(mesh.faces))]
    return solid_from_mesh(Mesh(mesh.vertices[order], faces))


def fitted(
    loss: Wedged, *, clearance_mm: float = 0.15, split: bool = False, seed: int = 1
) -> Fitted:
    """Shape the piece and make it go in."""
    fill = make_fill(loss.loss, FillSettings(clearance_mm=clearance_mm))
    return fit_fill(fill, Obstacle.of(loss.body), split=split, seed=seed)


def rim_gap(wide_deg: float = 60.0, low_mm: float = 30.0) -> Solid:
    """Cuts from the rim down, between two planes through the axis, about 20°."""
    return wedge(wide_deg, 20.0, low_mm, 100.0)


def bar(size: tuple[float, float, float], middle: tuple[float, float, float]) -> Solid:
    """A box about its middle."""
    return manifold3d.Manifold.cube(size, True).translate(middle)


def keyhole(top_mm: float, bottom_mm: float, swell_mm: float) -> Solid:
    """Cuts a gap in a wall across x = 38, wider below than at the rim, and amid the wall.

    Parameters
    ----------
    top_mm, bottom_mm : half of its width at z = 50 and at z = 40
    swell_mm : by how much each side is farther out amid the wall than 5 mm off
    """
    lean = (bottom_mm - top_mm) / 10.0
    points = [
        (x, side * (half + (swell_mm if x == 38.0 else 0.0)), z)
        for x in (33.0, 38.0, 43.0)
        for z, half in ((40.0, bottom_mm), (51.0, top_mm - lean))
        for side in (-1, 1)
    ]
    return manifold3d.Manifold.hull_points(np.array(points))
