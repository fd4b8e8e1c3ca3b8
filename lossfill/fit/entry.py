"""Which way does a piece go in: the directions that hold it back least, and the best of them.

From places all over the piece rays run out along each direction. A ray that meets the body tells
that this place could not have come in along it. All that is asked of the body is one number for
each ray, so that hundreds of directions cost no more than a few cuts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lossfill import tolerances as tol
from lossfill.fit.fitted import Entry
from lossfill.mesh import BoolArray, FloatArray, unit
from lossfill.nearest import Surface


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Places on a piece, each standing for as much of its surface.

    Parameters
    ----------
    points : (N, 3) mm; those on its seat lie half way across the gap
    normals : (N, 3) unit, out of the piece
    on_seat : (N,) True on its seat, False on its skin
    """

    points: FloatArray
    normals: FloatArray
    on_seat: BoolArray

    def some(self, chosen: BoolArray) -> Places:
        """Those of one part."""
        return Places(self.points[chosen], self.normals[chosen], self.on_seat[chosen])


@dataclass(frozen=True, slots=True, eq=False)
class Ways:
    """Directions out of the seat, and what each holds back.

    Parameters
    ----------
    out : (D, 3) unit directions, each the opposite of an entry
    held : (D, N) True where the body lies in the way out of a place
    reach_mm : how far the way out was followed; infinite where it leads out of the vessel
    """

    out: FloatArray
    held: BoolArray
    reach_mm: float


def find_ways(places: Places, body: Surface) -> Ways:
    """Try directions from all over the sphere, and finer ones about those that hold back least.

    Where every straight way out of the vessel is barred, as from inside a narrow jar, ways are
    followed only until the piece has left its seat.
    """
    coarse = even_directions(tol.ENTRY_DIRECTIONS)
    size = float(np.linalg.norm(np.ptp(places.points, axis=0)))
    reach = np.inf
    held = body.bars(places.points, coarse, reach_mm=reach)
    if _shares(held).min() > tol.ENTRY_BARRED_SHARE:
        reach = tol.ENTRY_HOLLOW_SHARE * size
        held = body.bars(places.points, coarse, reach_mm=reach)
    out, lean = coarse, np.sqrt(4 * np.pi / len(coarse))
    for _ in range(tol.ENTRY_ROUNDS):
        best = out[_from_best(out, _shares(held), places)[: tol.ENTRY_REFINED]]
        fine = unit(np.concatenate([_about(direction, lean) for direction in best]))
        held = np.concatenate([held, body.bars(places.points, fine, reach_mm=reach)])
        out = np.concatenate([out, fine])
        lean *= 0.4
    return Ways(out, held, reach)


def best_way(ways: Ways, places: Places, allowed: BoolArray | None = None) -> int:
    """The direction to take: what holds back least and, of those alike, what seats best.

    A piece seats best where its seat faces the way in, so that pressing it home presses it onto
    the body and not along it; and where the direction can be leaned most without binding.

    Parameters
    ----------
    allowed : (D,) directions that may be chosen; None allows all
    """
    shares = _shares(ways.held)
    if allowed is not None:
        shares = np.where(allowed, shares, np.inf)
    return int(_from_best(ways.out, shares, places)[0])


def entry_of(ways: Ways, chosen: int, travel_mm: float) -> Entry:
    """Say of a chosen direction how free it is."""
    shares = _shares(ways.held)
    good = shares <= shares[chosen] + tol.ENTRY_ALIKE_SHARE
    n = tol.ENTRY_DIRECTIONS
    lean = np.arccos(np.clip(ways.out @ ways.out[chosen], -1.0, 1.0))
    free = float(lean[~good].min()) if not good.all() else np.pi
    return Entry(
        direction=-ways.out[chosen],
        free_deg=float(np.degrees(free)),
        free_share=float(good[:n].mean()),
        bound_share=float(shares[chosen]),
        travel_mm=travel_mm,
        from_outside=bool(np.isinf(ways.reach_mm)),
    )


def even_directions(n: int) -> FloatArray:
    """Unit vectors spread evenly over the sphere by the golden angle, (n, 3)."""
    k = np.arange(n) + 0.5
    z = 1.0 - 2.0 * k / n
    turn = np.pi * (1.0 + 5.0**0.5) * k
    r = np.sqrt(1.0 - z**2)
    return np.stack([r * np.cos(turn), r * np.sin(turn), z], axis=1)


def turn_to(direction: FloatArray) -> FloatArray:
    """A rotation whose third row is the direction, (3, 3)."""
    away = np.eye(3)[int(np.argmin(np.abs(direction)))]
    across = unit(np.cross(away, direction))
    return np.stack([across, np.cross(direction, across), direction])


def _from_best(out: FloatArray, shares: FloatArray, places: Places) -> NDArray[np.intp]:
    """Numbers of directions from the best: those that hold back least, by how they seat."""
    least = shares.min()
    alike = shares <= least + tol.ENTRY_ALIKE_SHARE
    seat = places.normals[places.on_seat]
    pressed = np.maximum(-(out @ seat.T), 0.0).mean(axis=1) if len(seat) else np.zeros(len(out))
    # The middle of the directions that are as good is the farthest from binding; the finer ones
    # crowd about some of them and would draw it there.
    even = alike & (np.arange(len(out)) < tol.ENTRY_DIRECTIONS)
    middle = unit(out[even if even.any() else alike].mean(axis=0))
    worth = pressed + tol.ENTRY_MIDDLE_WEIGHT * (out @ middle)
    return np.lexsort((-worth, np.where(alike, least, shares)))


def _shares(held: BoolArray) -> FloatArray:
    shares: FloatArray = held.mean(axis=1)
    return shares


def _about(direction: FloatArray, lean: float) -> FloatArray:
    """Directions about one, leaned by as much and by half of it."""
    turn = turn_to(direction)
    angle = np.linspace(0.0, 2 * np.pi, 8, endpoint=False)
    ring = np.stack([np.cos(angle), np.sin(angle)], axis=1) @ turn[:2]
    return np.concatenate([direction + np.tan(lean * part) * ring for part in (0.5, 1.0)])
