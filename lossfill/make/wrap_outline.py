"""The outline of a wrap as scissors can follow it, and which part is the vessel's own edge."""

from __future__ import annotations

import manifold3d
import numpy as np
from scipy.spatial import cKDTree

from lossfill import tolerances as tol
from lossfill.errors import UnsuitedError
from lossfill.make.brief import Brief, Side
from lossfill.make.joins import steady, without_fringe
from lossfill.make.patch import borders
from lossfill.make.section import Area
from lossfill.make.sweep import outline, sampled
from lossfill.mesh import FloatArray, IntArray, Mesh
from lossfill.nearest import Surface

LEAST_EDGE_MM = 3.0
"""Shorter runs of a wrap's outline are not named as the vessel's edge."""


def cut_outline(brief: Brief, patch: Mesh, places: FloatArray) -> tuple[FloatArray, float]:
    """The outline of a patch laid flat, and the share by which its area misses the skin's.

    Fringes past the join are left off, and tongues and notches too narrow for scissors rounded.

    Parameters
    ----------
    places : (V, 2) of its points in the flat, no triangle turned over

    Returns
    -------
    (N, 2) mm, and the area's difference as a share of the skin's own area.
    """
    kept = without_fringe(brief.lost, patch)
    if not kept.any():
        raise UnsuitedError(
            f"the piece is thinner than {tol.SKIN_FRINGE_MM:g} mm throughout: fill it by hand"
        )
    loops = borders(Mesh(patch.vertices, patch.faces[kept]))
    raw = Area([places[loop] for loop in loops if len(loop) > 2], manifold3d.FillRule.Positive)
    rounded, left = raw, tol.WRAP_ROUND_MM
    # Notches are closed first, or a skin combed by noise would lose all its teeth.
    for step in (left, -2.0 * left, left):
        rounded = rounded.offset(step, manifold3d.JoinType.Round, circular_segments=64)
    whole = max((rounded if not rounded.is_empty() else raw).decompose(), key=lambda a: a.area())
    ring = outline(whole.simplify(tol.PAPER_ROUNDING_MM))
    a, b, c = (patch.vertices[patch.faces[kept, k]] for k in range(3))
    skin = 0.5 * float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum())
    return ring, abs(Area([ring]).area() - skin) / skin


def own_edge(
    brief: Brief, patch: Mesh, places: FloatArray, loop: IntArray, ring: FloatArray
) -> FloatArray | None:
    """The longest part of an outline that is no join but the vessel's own edge, (N, 2), or None.

    Parameters
    ----------
    loop : (M,) vertices around the patch
    ring : (N, 2) the outline as it is drawn
    """
    broken = Surface(brief.lost.faces_of(Side.BREAK))
    after = np.roll(loop, -1)
    free = broken.distance(0.5 * (patch.vertices[loop] + patch.vertices[after])) > 0.1
    if not free.any() or free.all():
        return None
    points = sampled(ring, np.roll(ring, -1, axis=0))
    nearest = cKDTree(0.5 * (places[loop] + places[after])).query(points)[1]
    state = free[nearest]
    if state.any() and not state.all():
        first = int(np.flatnonzero(~state)[0])
        points, state = np.roll(points, -first, axis=0), np.roll(state, -first)
    state = steady(points, state, LEAST_EDGE_MM)
    runs = np.split(np.arange(len(points)), np.flatnonzero(state[1:] != state[:-1]) + 1)
    runs = [run for run in runs if state[run[0]]]
    if not runs:
        return None
    longest: FloatArray = points[max(runs, key=len)]
    return longest if len(longest) > 2 else None
