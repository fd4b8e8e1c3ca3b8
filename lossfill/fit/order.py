"""In which order the pieces go in, where one in place would bar the way of another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from lossfill import tolerances as tol
from lossfill.fit.entry import turn_to
from lossfill.fit.fitted import FittedPiece
from lossfill.fit.sweep import overlap_on_the_way


@dataclass(frozen=True, slots=True)
class Order:
    """The sequence in which pieces go in.

    Parameters
    ----------
    sequence : names of the pieces; empty where there is none
    before : pairs of names, the first of which has to go in before the second
    why_not : why there is no sequence, or nothing
    """

    sequence: tuple[str, ...]
    before: tuple[tuple[str, str], ...]
    why_not: str = ""


NO_ORDER = Order((), ())


def find_order(pieces: Sequence[FittedPiece]) -> Order:
    """Find an order in which no piece is barred by one that is in place.

    Parameters
    ----------
    pieces : of all losses; the parts of one that was split stand in their own order
    """
    before = [
        (k, j)
        for k in range(len(pieces))
        for j in range(len(pieces))
        if k != j and _bars(pieces[j], pieces[k])
    ]
    names = [piece.name for piece in pieces]
    pairs = tuple((names[k], names[j]) for k, j in before)
    left, sequence = list(range(len(pieces))), []
    while left:
        free = [j for j in left if not any(k in left for k, after in before if after == j)]
        if not free:
            told = ", ".join(names[k] for k in left)
            return Order(
                (), pairs, f"pieces {told} bar each other's way: split one of them, or fill it last"
            )
        sequence.append(names[free[0]])
        left.remove(free[0])
    return Order(tuple(sequence), pairs)


def _bars(placed: FittedPiece, coming: FittedPiece) -> bool:
    """Whether one piece in place lies in the way of another that comes home."""
    turn = turn_to(-coming.entry.direction)
    mine, theirs = coming.mesh.vertices @ turn.T, placed.mesh.vertices @ turn.T
    apart = (mine.min(axis=0) > theirs.max(axis=0)) | (mine.max(axis=0) < theirs.min(axis=0))
    # Where it lies wholly below, it is not in the way; wholly above, it may be.
    if apart[:2].any() or mine[:, 2].min() > theirs[:, 2].max():
        return False
    reach = np.inf if coming.entry.from_outside else coming.entry.travel_mm
    met = overlap_on_the_way(
        coming.mesh, placed.mesh, turn, finest_mm=tol.SWEEP_CELLS_MM[1], reach_mm=reach
    )
    return len(met.cells) > 0
