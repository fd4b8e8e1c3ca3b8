"""The block of intact form from which the body is cut to leave what is missing.

A form that merely follows the body would cross its skin everywhere and leave slivers. The blank
lies on the intact form only over the gap; from the join outwards it is tucked inside the body:

      form      ────────────╮
      over the gap           ╲___________  blank, tucked inside
      ═══════════════════════════════════  body's skin
             gap  │ body

so that the only surfaces that cross are the blank's skin and the break.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, map_coordinates, maximum_filter1d

from lossfill import tolerances as tol
from lossfill.form.cells import Cells, Skin, cell_of, grow
from lossfill.form.close import close_turn, close_wedge
from lossfill.form.conform import split_scales
from lossfill.form.form import Form, place_on_form
from lossfill.form.join import join_places
from lossfill.frame.measure import wall_mm
from lossfill.mesh import BoolArray, FloatArray
from lossfill.solids import Solid, solid_from_mesh


@dataclass(frozen=True, slots=True, eq=False)
class Blank:
    """A closed piece of form about some of the gaps, in vessel coordinates.

    Parameters
    ----------
    solid : the blank
    low, high : (3,) box about the gaps that it serves, mm
    """

    solid: Solid
    low: FloatArray
    high: FloatArray


def make_blanks(form: Form, *, guessed: BoolArray) -> list[Blank]:
    """Make a blank for each run of gaps around the turn.

    Parameters
    ----------
    guessed : (R, C) cells whose surface only closes a scan hole: they are no losses
    """
    gap = form.gap & ~guessed
    if not gap.any():
        return []
    tuck = _tuck(form, gap, guessed)
    blanks = []
    for arc, mine in _arcs(form.cells, gap):
        solid = _solid(form, tuck, arc, mine)
        rows, columns = np.nonzero(mine)
        places = place_on_form(form, form.cells.along[rows], form.cells.angles[columns])
        margin = tol.BLANK_MARGIN_MM
        blanks.append(Blank(solid, places.min(axis=0) - margin, places.max(axis=0) + margin))
    return blanks


def _tuck(form: Form, gap: BoolArray, guessed: BoolArray) -> FloatArray:
    """How far below the form the blank runs, (R, C) mm: 0 over the gap, more beyond the join."""
    cells = form.cells
    residual = np.where(form.skin.weight > 0, form.skin.offset_mm - form.field_mm, 0.0)
    _, rough = split_scales(cells, Skin(residual, form.skin.weight))
    # A sharp lip is rounder in the form than on the pot: it scatters, and is tucked deeper.
    sharp = maximum_filter1d(form.row_scatter_mm, 3)[:, None]
    depth = tol.TUCK_MM + tol.TUCK_SPREADS * np.sqrt(rough + sharp**2)
    distance = _distance(cells, gap)
    shallow = tol.TUCK_MM * np.clip(distance / (0.5 * tol.CELL_MM), 0, 1)
    deep = (depth - tol.TUCK_MM) * np.clip((distance - tol.CELL_MM) / (2 * tol.CELL_MM), 0, 1)
    # Farther off nothing may show, or a film over the skin would join one loss to the next.
    away = np.clip((distance - tol.FILM_REACH_MM) / tol.FILM_REACH_MM, 0, 1)
    tuck: FloatArray = shallow + deep + tol.TUCK_WALL_SHARE * wall_mm(form.profile) * away
    return np.where(guessed, np.maximum(tuck, tol.TUCK_GUESSED_MM), tuck)


def _distance(cells: Cells, gap: BoolArray) -> FloatArray:
    """Distance of each cell from the gap's edge, mm; 0 inside."""
    columns = cells.shape[1]
    width = float(cells.radius_mm[gap.any(axis=1)].max()) * cells.column_rad
    tripled = np.hstack([gap, gap, gap])
    distance = distance_transform_edt(~tripled, sampling=(cells.row_mm, width))
    result: FloatArray = np.maximum(distance[:, columns : 2 * columns] - 0.5 * cells.row_mm, 0.0)
    return result


def _arcs(cells: Cells, gap: BoolArray) -> list[tuple[NDArray[np.intp], BoolArray]]:
    """Runs of columns about the gaps, ascending past C where they cross the seam, with the gaps."""
    near = grow(cells, gap, tol.BLANK_MARGIN_MM + 2 * tol.CELL_MM)
    around = np.asarray(near.any(axis=0))
    columns = len(around)
    if around.mean() > tol.BLANK_FULL_TURN:
        return [(np.arange(columns + 1), gap)]
    start = int(np.flatnonzero(~around)[0])
    turned = np.roll(around, -start)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], turned.astype(np.int8), [0]])))
    arcs = []
    for first, last in edges.reshape(-1, 2):
        arc = np.arange(first, last) + start
        mine = np.zeros_like(gap)
        mine[:, arc % columns] = gap[:, arc % columns]
        arcs.append((arc, mine))
    return arcs


def _solid(form: Form, tuck: FloatArray, arc: NDArray[np.intp], gap: BoolArray) -> Solid:
    """Close the tucked form over an arc of columns (or the full turn) into a solid."""
    cells = form.cells
    along = _rows(form, gap)
    fine = max(round(cells.column_rad * float(cells.radius_mm.max()) / tol.BLANK_CELL_MM), 1)
    full = len(arc) == cells.shape[1] + 1
    columns = arc[0] + np.arange((len(arc) - 1) * fine + (0 if full else 1)) / fine
    angles = columns * cells.column_rad
    depth = _interpolate_linear(form, tuck, along[:, None], angles[None, :])
    rise = _rise(form, gap, along, angles)
    points = place_on_form(form, along[:, None], angles[None, :], shift_mm=rise - depth)
    mesh = close_turn(points) if full else close_wedge(points)
    return solid_from_mesh(mesh)


def _rise(form: Form, gap: BoolArray, along: FloatArray, angles: FloatArray) -> FloatArray:
    """How far single samples show the skin to lie off the form about the join, mm."""
    cells = form.cells
    rise = np.zeros((len(along), len(angles)))
    if form.join is None:
        return rise
    reach = tol.JOIN_REACH_MM
    edge = grow(cells, ~gap, reach) & grow(cells, gap, tol.CELL_MM)
    where = cell_of(
        cells, form.profile, *(x.ravel() for x in np.broadcast_arrays(along[:, None], angles))
    )
    there = edge.ravel()[where].reshape(rise.shape)
    i, j = np.nonzero(there)
    rise[there] = form.join.beyond_form_mm(join_places(form.profile, along[i], angles[j]))
    # Away from the gap the blank must keep to the form, from which its tuck is measured.
    fade = 1.0 - np.clip(_distance(cells, gap) / tol.CELL_MM, 0.0, 1.0)
    return rise * _interpolate_linear(form, fade, along[:, None], angles[None, :])


def _rows(form: Form, gap: BoolArray) -> FloatArray:
    """Places on the profile for the blank's rows: every point near the gap, a quarter elsewhere."""
    n = len(form.profile.points)
    wanted = np.zeros(n, dtype=bool)
    wanted[::4] = True
    wanted[[0, -1]] = True
    rows = np.flatnonzero(grow(form.cells, gap, tol.BLANK_MARGIN_MM).any(axis=1))
    per_row = (n - 1) / form.cells.shape[0]
    for row in rows:
        wanted[int(row * per_row) : int((row + 1) * per_row) + 2] = True
    return np.flatnonzero(wanted).astype(np.float64)


def _interpolate_linear(
    form: Form, image: FloatArray, along: FloatArray, angle: FloatArray
) -> FloatArray:
    along, angle = np.broadcast_arrays(along, angle)
    row = along * form.cells.shape[0] / (len(form.profile.points) - 1) - 0.5
    column = np.mod(angle / form.cells.column_rad, form.cells.shape[1])
    wrapped = np.hstack([image, image[:, :1]])
    # Linear: a cubic would swing below zero beside the gap and lift the blank out of the skin.
    result: FloatArray = map_coordinates(wrapped, [row, column], order=1, mode="nearest")
    return result
