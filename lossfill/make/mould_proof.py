"""What is measured of a mould: that it holds the piece, comes apart, and is thick enough."""

from __future__ import annotations

import numpy as np

from lossfill import tolerances as tol
from lossfill.make.made import Proved
from lossfill.make.mould_cast import reached_places
from lossfill.make.mould_halves import Halves
from lossfill.nearest import Surface
from lossfill.solids import Solid, mesh_from_solid


def prove_mould(wanted: Solid, cast: Solid, halves: Halves, wall_mm: float) -> list[Proved]:
    """Measure a mould.

    Parameters
    ----------
    wanted : the piece as large as it is to be pressed, with all its triangles
    cast : the same of fewer triangles, from which the halves were cut
    """
    # Two solids that touch may share a film as thick as rounding makes it, wherever they meet.
    film = tol.MOULD_FILM_MM * min(halves.lower.surface_area(), halves.upper.surface_area())
    lost = float((cast - halves.cavity).volume())
    parts = max(len(half.decompose()) for half in (halves.lower, halves.upper))
    return [
        Proved("parts of a half, less one", parts - 1, 0),
        Proved("volume shared by the halves when closed, mm³", _shared(halves.lower, halves.upper),
               film),
        Proved("volume shared by the lower half and the piece, mm³", _shared(halves.lower, cast),
               film),
        Proved("volume shared by the upper half and the piece, mm³", _shared(halves.upper, cast),
               film),
        Proved("volume shared by a half and what is cast or the other half as they part, mm³",
               _shared_on_parting(halves), film),
        Proved("volume of the piece that the mould does not give, mm³", lost, film),
        Proved("volume that the mould gives under overhangs, share of the piece",
               float(halves.cavity.volume() / cast.volume()) - 1, tol.MOULD_UNDERCUT_SHARE),
        Proved("cavity's wall off the piece, but for overhangs, slivers and outlets, mm",
               _off_the_piece_mm(wanted, halves), tol.MOULD_CAVITY_MM),
        Proved("wall short of that asked, mm", wall_mm - _thinnest_mm(halves), tol.MOULD_WALL_MM),
    ]  # fmt: skip


def _shared(one: Solid, other: Solid) -> float:
    # A film that rounding turned inside out counts as much.
    return abs(float((one ^ other).volume()))


def _shared_on_parting(halves: Halves) -> float:
    """The most that a half shares with what it is drawn off, at stations from home until clear.

    They lie closer near home, where everything still fits closely.
    """
    up = float(max(halves.lower.bounding_box()[5], halves.cavity.bounding_box()[5]))
    up -= float(halves.upper.bounding_box()[2])
    down = float(halves.lower.bounding_box()[5] - halves.cavity.bounding_box()[2])
    stays = halves.lower + halves.cavity
    most = 0.0
    for share in (np.arange(1, tol.MOULD_STATIONS + 1) / tol.MOULD_STATIONS) ** 2:
        most = max(most, _shared(halves.upper.translate((0, 0, share * up)), stays))
        most = max(most, _shared(halves.lower.translate((0, 0, -share * down)), halves.cavity))
    return most


def _off_the_piece_mm(wanted: Solid, halves: Halves) -> float:
    """The farthest that a place of the piece is from the wall of a half, mm.

    Nearer and farther walls count alike.
    """
    places = reached_places(wanted)
    for outlet in halves.outlets:
        low = np.reshape(outlet.bounding_box(), (2, 3))[:, :2]
        within = (places[:, :2] > low[0]) & (places[:, :2] < low[1])
        places = places[~within.all(axis=1)]
    walls = [mesh_from_solid(half) for half in (halves.lower, halves.upper)]
    away = np.minimum(*(Surface(wall).distance(places) for wall in walls))
    return float(away.max(initial=0.0))


def _thinnest_mm(halves: Halves) -> float:
    """Least distance from the cavity, the channel and the seats to the block's outside."""
    skin = Surface(mesh_from_solid(halves.block))
    hollows = (halves.cavity, *(hollow ^ halves.upper.hull() for hollow in halves.hollows))
    return min(
        float(skin.distance(mesh_from_solid(hollow).vertices).min())
        for hollow in hollows
        if not hollow.is_empty()
    )
