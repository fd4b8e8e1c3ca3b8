"""What is left between a piece and the body when it is home: for the adhesive, and at the skin."""

from __future__ import annotations

import numpy as np

from lossfill import tolerances as tol
from lossfill.check.checked import Gap
from lossfill.check.misfit import Misfit
from lossfill.check.settings import CheckSettings
from lossfill.check.sides import PieceSides
from lossfill.frame.samples import sample_mesh
from lossfill.loss.sides import Side
from lossfill.make.brief import Brief, BriefPiece
from lossfill.mesh import FloatArray, Mesh
from lossfill.nearest import Surface
from lossfill.solids import mesh_from_solid


def find_gap(
    brief: Brief, piece: BriefPiece, home: Mesh, *, closed: bool, settings: CheckSettings
) -> Gap:
    """How far the body's break is from a piece that is home.

    Parameters
    ----------
    home : the scan in its place, vessel coordinates
    closed : whether it is closed, so that what runs into the body counts as touching
    """
    rng = np.random.default_rng(settings.seed)
    broken = sample_mesh(brief.lost.faces_of(Side.BREAK), n=tol.CHECK_SAMPLES, rng=rng)
    points = _of_this_piece(broken.points, brief, piece)
    surface = Surface(home)
    away = surface.signed_distance(points) if closed else surface.distance(points)
    gap = np.maximum(away, 0.0)
    area = len(points) * broken.area_mm2
    low, middle, high = np.quantile(gap, (0.05, 0.5, 0.95))
    return Gap(
        p05_mm=float(low),
        p50_mm=float(middle),
        p95_mm=float(high),
        mean_mm=float(gap.mean()),
        touching=float((gap < settings.touch_mm).mean()),
        wide=float((gap > settings.wide_gap_mm).mean()),
        break_mm2=area,
        adhesive_ml=area * float(gap.mean()) / 1000.0,
    )


def find_step(misfit: Misfit, brief: Brief, sides: PieceSides, home: FloatArray) -> float | None:
    """95 % of the skin along the join stands off the body's skin by no more, mm.

    Along the join the design's skin runs on from the body's, so that it stands in for it.

    Parameters
    ----------
    home : (4, 4) from the best fit to where the piece is home
    """
    skin = misfit.side != int(Side.BREAK)
    points = misfit.points[skin] @ home[:3, :3].T + home[:3, 3]
    near = Surface(brief.lost.faces_of(Side.BREAK)).distance(points) < tol.CHECK_JOIN_MM
    if not near.any():
        return None
    return float(np.quantile(np.abs(sides.whole.signed_distance(points[near])), 0.95))


def _of_this_piece(points: FloatArray, brief: Brief, piece: BriefPiece) -> FloatArray:
    """Places of a break that this piece sits on, and not the other of a loss that was split."""
    if len(brief.pieces) == 1:
        return points
    away = [Surface(mesh_from_solid(one.solid)).distance(points) for one in brief.pieces]
    mine = [one.name for one in brief.pieces].index(piece.name)
    here: FloatArray = points[np.argmin(away, axis=0) == mine]
    return here
