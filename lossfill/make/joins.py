"""Where the skin of a loss ends: without the fringes of a cut, and along a drawn edge."""

from __future__ import annotations

import numpy as np

from lossfill import tolerances as tol
from lossfill.errors import UnsuitedError
from lossfill.make.brief import Lost, Side
from lossfill.mesh import BoolArray, FloatArray, Mesh, centres
from lossfill.nearest import Surface


def without_fringe(lost: Lost, mesh: Mesh) -> BoolArray:
    """Which triangles (F,) of a loss's skin have more than a breath of piece behind them.

    Past the join, the new skin follows the old one so closely that the two weave in and out of each
    other: flakes a few hundredths of a mm thick, which are no part of the piece that is made.
    """
    if not (lost.side == int(Side.BREAK)).any():
        return np.ones(len(mesh.faces), dtype=np.bool_)
    behind = Surface(lost.faces_of(Side.BREAK))
    kept: BoolArray = behind.distance(centres(mesh)) > tol.SKIN_FRINGE_MM
    return kept


def skin_of_piece(lost: Lost, side: Side) -> Mesh:
    """One side of a loss, an open mesh without the fringes along its join.

    Raises
    ------
    UnsuitedError
        Where the loss has no such side.
    """
    mesh = lost.faces_of(side)
    kept = without_fringe(lost, mesh)
    if not kept.any():
        raise UnsuitedError(
            f"the {side.name.lower()} side of this loss is thinner than {tol.SKIN_FRINGE_MM:g} mm: "
            "there is nothing to make a template for"
        )
    return Mesh(mesh.vertices, mesh.faces[kept])


def on_piece(points: FloatArray, places: FloatArray, skin: Surface) -> BoolArray:
    """Which places along an edge belong to the piece, (N,): neither flickers for less than a run.

    Parameters
    ----------
    points : (N, 2) along the edge, in its order
    places : (N, 3) the same in vessel coordinates
    skin : of the piece
    """
    return steady(points, skin.distance(places) < tol.ON_PIECE_MM, tol.JOIN_RUN_MM)


def steady(points: FloatArray, state: BoolArray, least_mm: float) -> BoolArray:
    """A state along an edge without runs shorter than asked for, (N,).

    A run of True is also dropped at either end of the edge; a run of False there is kept, for it
    may go on beyond.

    Parameters
    ----------
    points : (N, 2) along the edge, in its order
    """
    state = state.copy()
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    while True:
        first = np.flatnonzero(np.concatenate([[True], state[1:] != state[:-1]]))
        last = np.append(first[1:], len(state)) - 1
        lengths = along[last] - along[first] + tol.TEMPLATE_SAMPLE_MM
        inside = (np.arange(len(first)) > 0) & (np.arange(len(first)) < len(first) - 1)
        short = np.flatnonzero((inside | state[first]) & (lengths < least_mm))
        if not len(short) or len(first) == 1:
            return state
        least = short[int(np.argmin(lengths[short]))]
        state[first[least] : last[least] + 1] ^= True
