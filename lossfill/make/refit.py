"""Shaping and fitting the pieces of an earlier design anew, without a new design."""

from __future__ import annotations

from dataclasses import replace

import manifold3d
import numpy as np
from scipy.spatial import cKDTree

from lossfill import tolerances as tol
from lossfill.fill.make import make_fill
from lossfill.fill.settings import FillSettings
from lossfill.fit.fit import Obstacle, fit_fill
from lossfill.fit.fitted import Fitted
from lossfill.form.choice import Trial
from lossfill.loss.loss import Loss
from lossfill.loss.sides import Side
from lossfill.make.brief import Brief, BriefPiece, Lost
from lossfill.mesh import Mesh, centres
from lossfill.pack.record import LossPart
from lossfill.solids import Solid, box_between, checked, mesh_from_solid


def refit(
    brief: Brief, part: LossPart, settings: FillSettings, *, split: bool = False, seed: int = 1
) -> tuple[Brief, Fitted]:
    """Shape and fit the piece of one loss with other settings.

    Parameters
    ----------
    brief : of the loss, upright
    part : what the record says of it

    Returns
    -------
    The brief with the new pieces, and how they were fitted, in vessel coordinates.

    Raises
    ------
    BooleanError
        Where no sound piece comes out.
    """
    loss = _loss(brief, part)
    same = cKDTree(centres(brief.lost.mesh)).query(centres(mesh_from_solid(loss.solid)))[1]
    fill = make_fill(loss, settings, side=brief.lost.side[same])
    fitted = fit_fill(fill, Obstacle.of(brief.body), split=split, seed=seed)
    return with_pieces(brief, fitted, settings.clearance_mm), fitted


def with_pieces(brief: Brief, fitted: Fitted, clearance_mm: float) -> Brief:
    """The brief with other pieces, given in vessel coordinates."""
    pieces = tuple(
        BriefPiece(piece.name, piece.solid, piece.entry.direction) for piece in fitted.pieces
    )
    return replace(brief, pieces=pieces, clearance_mm=clearance_mm)


def _loss(brief: Brief, part: LossPart) -> Loss:
    """The loss as its stage handed it on, upright."""
    skin = brief.lost.solid.as_original()
    place = brief.vessel_from_scan @ np.array([*part.centre_mm, 1.0])
    return Loss(
        number=part.number,
        kind=brief.kind,
        solid=_by_sides(brief.lost, skin.original_id()),
        # Only its number is asked for: by it the new skin is told from the break.
        form_here=skin,
        body_here=_about(brief.body, brief.lost.mesh),
        volume_ml=part.volume_ml,
        outer_area_mm2=part.outer_area_mm2,
        inner_area_mm2=part.inner_area_mm2,
        break_area_mm2=part.break_area_mm2,
        join_length_mm=part.join_length_mm,
        thickness_mm=part.thickness_mm,
        depth_mm=part.depth_mm,
        extent_along_mm=part.extent_along_mm,
        extent_around_mm=part.extent_around_mm,
        angle_deg=part.angle_deg,
        clock=part.clock,
        height_mm=part.height_mm,
        centre_mm=(float(place[0]), float(place[1]), float(place[2])),
        expected_error_mm=part.expected_error_mm,
        bound_mm=part.bound_mm,
        source=part.source,
        trials=tuple(
            Trial(trial.source, trial.expected_error_mm, trial.bound_mm, trial.says)
            for trial in part.trials
        ),
        on_wall=part.on_wall,
    )


def _by_sides(lost: Lost, skin_id: int) -> Solid:
    """The missing material as a solid whose skin and break are kept in runs of their own."""
    on_break = lost.side == int(Side.BREAK)
    faces = np.concatenate([lost.mesh.faces[~on_break], lost.mesh.faces[on_break]])
    starts = np.array([0, 3 * int((~on_break).sum()), 3 * len(faces)], dtype=np.uint64)
    ids = np.array([skin_id, manifold3d.Manifold.reserve_ids(1)], dtype=np.uint32)
    raw = manifold3d.Mesh64(
        np.array(lost.mesh.vertices, dtype=np.float64),
        np.array(faces, dtype=np.uint64),
        run_index=starts,
        run_original_id=ids,
    )
    return checked(manifold3d.Manifold(raw), "the missing material is not closed")


def _about(body: Solid, mesh: Mesh) -> Solid:
    """The part of the body about a loss."""
    low, high = mesh.bounds
    box = box_between(low - tol.BLANK_MARGIN_MM, high + tol.BLANK_MARGIN_MM)
    return checked(body ^ box, "the body about the loss cannot be cut")
