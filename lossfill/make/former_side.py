"""The side of the missing skin that a former lies on, and the way in which it comes off."""

from __future__ import annotations

import numpy as np

from lossfill import tolerances as tol
from lossfill.make.brief import Brief, Side
from lossfill.mesh import FloatArray, Mesh, face_vectors, part_of, unit


def patch_of(brief: Brief, side: Side) -> Mesh:
    """The missing skin on one side, an open mesh.

    A thing without an axis has no inside and outside of its own: there the two sides are those to
    which most of the skin looks, and the edge between them belongs to neither.

    Parameters
    ----------
    side : outer or inner
    """
    if brief.profile is not None or brief.lost.area_mm2(side) == 0.0:
        return brief.lost.faces_of(side)
    skin = brief.lost.skin
    vectors = face_vectors(skin)
    normals = unit(vectors)
    areas = np.linalg.norm(vectors, axis=1)
    across = np.linalg.eigh((normals * areas[:, None]).T @ normals)[1][:, -1]
    told = [face_vectors(brief.lost.faces_of(one)).sum(axis=0) for one in (side, _other(side))]
    if (told[0] - told[1]) @ across < 0.0:
        across = -across
    # Forty-five degrees: an edge square to the face looks neither way, a rounded one is parted.
    chosen = normals @ across > np.sqrt(0.5)
    return part_of(skin, chosen) if chosen.any() else brief.lost.faces_of(side)


def way_off(patch: Mesh) -> FloatArray:
    """Mean direction of a skin, (3,) unit, of that part of it that can be drawn off that way."""
    vectors = face_vectors(patch)
    normals = unit(vectors)
    away = unit(vectors.sum(axis=0))
    # The lip goes with one side or the other: it must not tilt the way off a wall.
    for _ in range(tol.FORMER_WAY_STEPS):
        near = normals @ away > np.sqrt(0.5)
        if not near.any():
            break
        away = unit(vectors[near].sum(axis=0))
    return away


def _other(side: Side) -> Side:
    return Side.INNER if side is Side.OUTER else Side.OUTER
