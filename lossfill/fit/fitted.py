"""A piece that goes in, and the proof that it does."""

from __future__ import annotations

from dataclasses import dataclass, field

import manifold3d

from lossfill.fill.fill import Fill
from lossfill.mesh import FloatArray, Mesh


@dataclass(frozen=True, slots=True, eq=False)
class Entry:
    """The way in which a piece slides home.

    Parameters
    ----------
    direction : (3,) unit vector along which the piece moves home, scan coordinates
    free_deg : how far it may be leaned, any way, and still binds no more than as chosen
    free_share : share of all directions in which it binds no more than as chosen, 0 to 1
    bound_share : share of the piece's surface that the body holds back, as looked for by rays
    travel_mm : the straight way from where it is free to home
    from_outside : whether that straight way begins outside the vessel; else it begins in its
        hollow, where the piece has to be brought first
    """

    direction: FloatArray
    free_deg: float
    free_share: float
    bound_share: float
    travel_mm: float
    from_outside: bool


@dataclass(frozen=True, slots=True)
class SweepProof:
    """What was found when the piece was moved home from outside.

    Parameters
    ----------
    stations : places on the way at which piece and body were cut with each other
    shared_mm3 : the largest volume that they shared at one of them
    shared_limit_mm3 : what rounding to 32-bit numbers alone can cause
    doubtful_mm2 : area, seen along the entry, over which it could not be shown that the piece's
        lowest place stays above the body's highest; nought proves the whole way, not the stations
        alone
    cell_mm : the finest cells in which that was looked at
    rub_mm : the proof is of the piece less a skin of this thickness along its seat: nought, but for
        clearances too small to tell apart from touching
    """

    stations: int
    shared_mm3: float
    shared_limit_mm3: float
    doubtful_mm2: float
    cell_mm: float
    rub_mm: float

    @property
    def passed(self) -> bool:
        """Whether the piece slides home without sharing volume with the body anywhere."""
        return self.shared_mm3 <= self.shared_limit_mm3 and self.doubtful_mm2 == 0.0


@dataclass(frozen=True, slots=True, eq=False)
class FittedPiece:
    """One piece, relieved so that it goes in, in scan coordinates.

    Parameters
    ----------
    name : "1" for the piece of loss 1; "1a" and "1b" where it was split
    mesh, solid : as in `Fill`
    entry : the way in
    proof : that it goes in that way
    relieved_mm3 : volume taken away so that it does
    seat_mm2 : area of its seat before that
    seat_lost_mm2 : how much of that is gone
    """

    name: str
    mesh: Mesh
    solid: manifold3d.Manifold = field(repr=False)
    entry: Entry
    proof: SweepProof
    relieved_mm3: float
    seat_mm2: float
    seat_lost_mm2: float

    @property
    def seat_lost_share(self) -> float:
        """Share of the seat that the relief takes, 0 to 1."""
        return self.seat_lost_mm2 / self.seat_mm2 if self.seat_mm2 > 0 else 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Fitted:
    """What goes in the place of one loss.

    Parameters
    ----------
    fill : the piece as it was shaped, before it was made to go in
    pieces : one, or two where it was split, in the order in which they go in
    whole_lost_share : share of its seat that one piece loses, split or not
    warnings : sentences that every front end must show
    """

    fill: Fill
    pieces: tuple[FittedPiece, ...]
    whole_lost_share: float
    warnings: tuple[str, ...] = ()
