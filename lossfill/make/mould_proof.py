"""What is measured of a mould: that it holds the piece, comes apart, and is thick enough."""

from __future__ import annotations

import numpy as np

from lossfill import tolerances as tol
from lossfill.make.made import Proved
from lossfill.make.mould_halves import Halves
from lossfill.mesh import FloatArray
from lossfill.nearest import Surface
from lossfill.solids import Solid, mesh_from_solid


def prove_mould(cast: Solid, halves: Halves, wall_mm: float) -> list[Proved]:
    """Measure a mould.

    Parameters
    ----------
    cast : the piece as large as it is pressed
    """
    # Two solids that touch may share a film as thick as rounding makes it.
    film = tol.MOULD_FILM_MM * cast.surface_area()
    lost = float((cast - halves.cavity).volume())
    return [
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
        Proved("cavity between the halves against what is to be cast, mm³ out",
               abs(_hollow(halves) - float(halves.cavity.volume())), film + _slit_mm3(halves)),
        Proved("wall short of that asked, mm", wall_mm - _thinnest_mm(halves), tol.MOULD_WALL_MM),
        Proved("step of the parting line off the piece's edge, mm", halves.parting.off_edge_mm,
               tol.MOULD_STEP_MM),
        Proved("steepest meeting of the halves, degrees", halves.steepest_deg,
               tol.MOULD_STEEPEST_DEG),
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


def _hollow(halves: Halves) -> float:
    """Volume left between the halves, but for channel, seats, sprue and vents, mm³."""
    left = halves.block - halves.lower - halves.upper
    for cut in (*halves.hollows, *(outlet - halves.cavity for outlet in halves.outlets)):
        left = left - cut
    return float(left.volume())


def _slit_mm3(halves: Halves) -> float:
    """Volume that the land's lap over the cavity may leave open along an upright edge."""
    around = sum(_around_mm(np.asarray(loop)) for loop in halves.parting.outline.to_polygons())
    return tol.MOULD_LAP_MM * around * halves.parting.edge_mm


def _around_mm(loop: FloatArray) -> float:
    return float(np.linalg.norm(loop - np.roll(loop, 1, axis=0), axis=1).sum())


def _thinnest_mm(halves: Halves) -> float:
    """Least distance from the cavity, the channel and the seats to the block's outside."""
    skin = Surface(mesh_from_solid(halves.block))
    hollows = (halves.cavity, *(hollow ^ halves.upper.hull() for hollow in halves.hollows))
    return min(
        float(skin.distance(mesh_from_solid(hollow).vertices).min())
        for hollow in hollows
        if not hollow.is_empty()
    )
