"""How wide the gap along the break came out, measured on the piece as made."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lossfill import tolerances as tol
from lossfill.errors import InputError
from lossfill.mesh import Mesh, spread_by_area
from lossfill.nearest import Surface
from lossfill.solids import Solid, mesh_from_solid


@dataclass(frozen=True, slots=True)
class GapFigures:
    """What was measured of the gap, over the seat's area.

    Parameters
    ----------
    clearance_mm : what was asked for
    gap_median_mm : half of the seat lies nearer to the body than this
    error_p05_mm, error_p50_mm, error_p95_mm : five, fifty and ninety-five in a hundred parts of
        the seat are off what was asked for by no more than this, either way
    share_within : share of the seat that is off by no more than `within_mm`
    within_mm : what counts as meeting it
    seat_share : share of the piece's surface that was measured
    """

    clearance_mm: float
    gap_median_mm: float
    error_p05_mm: float
    error_p50_mm: float
    error_p95_mm: float
    share_within: float
    within_mm: float
    seat_share: float


def gap_figures(
    piece: Solid,
    body: Solid,
    *,
    skin: Mesh,
    clearance_mm: float,
    rim_mm: float | None = None,
    seed: int = 1,
) -> GapFigures:
    """Measure how wide the gap is between a piece's seat and the body.

    The seat is the surface of the piece that lies farther than `rim_mm` from the new skin. By
    default that is one clearance and a hair, for the rim of the seat belongs to the skin as much
    as to the break. Places are drawn evenly by area, the same ones for the same seed.

    Parameters
    ----------
    piece : as made
    body : what it goes into
    skin : the new skin as it was before any setback, an open mesh of the loss's skin triangles
    clearance_mm : what was asked for
    rim_mm : how far from the skin the seat begins; give more where the skin was set back by more

    Raises
    ------
    InputError
        Where the piece has no seat, so far from the skin.
    """
    rim = clearance_mm + tol.GAP_RIM_MM if rim_mm is None else rim_mm
    rng = np.random.default_rng(seed)
    points, _ = spread_by_area(mesh_from_solid(piece), tol.GAP_PLACES, rng)
    seat = points[Surface(skin).distance(points) > rim]
    if len(seat) == 0:
        raise InputError(
            f"the gap cannot be measured: no part of the piece lies {rim:g} mm from its skin"
        )
    gap = Surface(mesh_from_solid(body)).signed_distance(seat)
    error = np.abs(gap - clearance_mm)
    low, middle, high = (float(q) for q in np.quantile(error, [0.05, 0.5, 0.95]))
    return GapFigures(
        clearance_mm=clearance_mm,
        gap_median_mm=float(np.median(gap)),
        error_p05_mm=low,
        error_p50_mm=middle,
        error_p95_mm=high,
        share_within=float((error <= tol.GAP_WITHIN_MM).mean()),
        within_mm=tol.GAP_WITHIN_MM,
        seat_share=len(seat) / len(points),
    )
