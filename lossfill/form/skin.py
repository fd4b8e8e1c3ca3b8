"""Skin told from breaks, handles and chips: the samples that the form may be taken from."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from lossfill import tolerances as tol
from lossfill.errors import AmbiguousShapeError
from lossfill.form.cells import Cells, Skin, gather, grow
from lossfill.form.choose import cell_weight, equations
from lossfill.form.conform import split_scales
from lossfill.form.elastic import ElasticModel, find_repeat, make_model, solve
from lossfill.form.rings import with_rings
from lossfill.frame.frame import Frame
from lossfill.frame.profile import Projection, at, to_half_plane
from lossfill.mesh import BoolArray, FloatArray
from lossfill.robust import belief, spread_of


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """What the samples show.

    Parameters
    ----------
    skin : the skin alone
    kept : (N,) the samples behind it
    sagged : (R, C) where samples that face as skin lie just below it
    facing : what all samples that face as the skin does lie off that field, whatever their level
    present : (R, C) number of samples of any facing at skin level, -1 where they lie below it
    noise_mm : scatter of single samples about the skin
    row_scatter_mm : (R,) the same row by row; large where the profile turns sharply
    field_mm : (R, C) a first elastic field, close enough to tell skin from break
    """

    skin: Skin
    kept: BoolArray
    sagged: BoolArray
    facing: Skin
    present: FloatArray
    noise_mm: float
    row_scatter_mm: FloatArray
    field_mm: FloatArray


def skin_alone(
    frame: Frame, cells: Cells, drop: Projection, where: NDArray[np.intp], *, size_mm: float
) -> Seen:
    """Tell skin from breaks, handles and chips."""
    # A triangle's own normal is exact beside a break's edge but restless on a noisy scan; the
    # averaged one is the other way about.
    sharp = sharp_agreement(frame, drop)
    facing = (sharp > tol.SKIN_AGREEMENT_SHARP) | (
        (drop.agreement > tol.SKIN_AGREEMENT) & (sharp > tol.SKIN_AGREEMENT_LEAST)
    )
    candidates = facing & (np.abs(drop.offset_mm) < max(2.0, tol.SKIN_REACH * size_mm))
    if not candidates.any():
        raise AmbiguousShapeError("no skin of the vessel was found to take the form from")
    skin = gather(cells, where[candidates], drop.offset_mm[candidates])
    model = make_model(cells, size_mm=size_mm)
    repeat: int | None = None
    for _ in range(2):
        weight = _robust_weights(model, skin)
        field = solve(model, equations(model, skin, weight), stiffness=tol.STIFFNESS_START)
        if repeat is None:
            residual = np.where(weight > 0, skin.offset_mm - field, 0.0)
            repeat = find_repeat(residual, Skin(residual, skin.weight * weight), cells)
            if repeat is None:
                break
            model = make_model(cells, repeats=(repeat, 2 * repeat), size_mm=size_mm)
    residual = drop.offset_mm - field.ravel()[where]
    low = _lowest_skin(cells, where[candidates], residual[candidates])
    low_here = low[where // cells.shape[1]]
    high = 2 * float(np.median(low))
    kept = candidates & (residual > -low_here) & (residual < high)
    level_enough = kept.copy()
    for _ in range(2):
        skin = gather(cells, where[kept], drop.offset_mm[kept])
        kept &= ~_sags(cells, skin, field, drop.offset_mm, where)
    skin = gather(cells, where[kept], drop.offset_mm[kept])
    # The edge of a step or a nick faces another way, yet nothing is missing there.
    level = np.abs(residual) < low_here
    present = gather(cells, where[level], residual[level]).weight
    sunken = candidates & (residual < -low_here)
    lost = (present == 0) & (gather(cells, where[sunken], residual[sunken]).weight > 0)
    scatter = drop.offset_mm[kept] - skin.offset_mm.ravel()[where[kept]]
    noise = max(spread_of(scatter), tol.NOISE_FLOOR_MM)
    row = where[kept] // cells.shape[1]
    squares = np.bincount(row, scatter**2, minlength=cells.shape[0])
    rows = np.sqrt(squares / np.maximum(np.bincount(row, minlength=cells.shape[0]), 1))
    sagged = gather(cells, where[level_enough & ~kept], residual[level_enough & ~kept]).weight > 0
    facing_all = gather(cells, where[candidates], residual[candidates])
    level_seen = np.where(lost, -1.0, present)
    return Seen(skin, kept, sagged, facing_all, level_seen, noise, rows, field)


def without_flakes(
    cells: Cells, seen: Seen, flake: BoolArray, offset_mm: FloatArray, where: NDArray[np.intp]
) -> Seen:
    """Drop samples of shallow spalls, which lie too high to be told from skin one by one."""
    if not flake.any():
        return seen
    kept = seen.kept & ~flake.ravel()[where]
    return replace(seen, kept=kept, skin=gather(cells, where[kept], offset_mm[kept]))


def without_edges(
    cells: Cells, seen: Seen, gap: BoolArray, offset_mm: FloatArray, where: NDArray[np.intp]
) -> Seen:
    """Drop samples beside the gaps that lie below what the skin a little farther off leads to.

    A spall's rim slopes off so gently that it faces as the skin does and drags along what it is
    compared with, unless that is taken from beyond it.
    """
    beside = grow(cells, gap, tol.EDGE_MM)
    clear = Skin(seen.skin.offset_mm, np.where(beside, 0.0, seen.skin.weight))
    # Throwing rings would pass for texture, in which a sloping rim can hide.
    field = with_rings(cells, seen.skin, seen.field_mm, beside)
    low = _sags(cells, clear, field, offset_mm, where) & beside.ravel()[where]
    kept = seen.kept & ~low
    sagged = seen.sagged.copy()
    sagged.ravel()[where[seen.kept & low]] = True
    return replace(seen, kept=kept, sagged=sagged, skin=gather(cells, where[kept], offset_mm[kept]))


def _sags(
    cells: Cells,
    skin: Skin,
    field: FloatArray,
    offset_mm: FloatArray,
    where: NDArray[np.intp],
) -> BoolArray:
    """Samples just below the skin about them: the first tenths of a mm of a break.

    They face almost as the skin does where the break's edge is rounded off by the averaging of
    normals, and would draw the form inwards along the whole join.
    """
    residual = np.where(skin.weight > 0, skin.offset_mm - field, 0.0)
    smooth, rough = split_scales(cells, Skin(residual, skin.weight))
    # Texture is alike along a row; a loss in it must not pass for texture of its own.
    usual = np.sqrt(np.median(rough, axis=1, keepdims=True))
    lowest = smooth - np.maximum(tol.SAG_MM, tol.SAG_SPREADS * usual)
    result: BoolArray = offset_mm < (field + lowest).ravel()[where]
    return result


def _lowest_skin(cells: Cells, where: NDArray[np.intp], residual: FloatArray) -> FloatArray:
    """How far under the elastic form each row's skin may lie, (R,) mm.

    A row that strays all round, as at a step turned off true or a worn foot, is not chipped: only
    what lies lower than most of its own row can be.
    """
    spread = spread_of(residual)
    seen = gather(cells, where, residual)
    strays = np.zeros(cells.shape[0])
    for row in range(cells.shape[0]):
        values = seen.offset_mm[row, seen.weight[row] > 0]
        if len(values) > 10:
            strays[row] = 0.39 * float(np.subtract(*np.quantile(values, [0.9, 0.1])))
    strays = maximum_filter1d(strays, 3)
    lowest: FloatArray = np.maximum(tol.SKIN_LOW_MM, tol.SKIN_SPREADS * np.maximum(spread, strays))
    return lowest


def sharp_agreement(frame: Frame, drop: Projection) -> FloatArray:
    """Cosine of each sample's own triangle with the profile: exact beside a break's edge."""
    _, sharp = to_half_plane(frame.samples.points, frame.samples.normals)
    _, normal = at(frame.profile, drop.along)
    result: FloatArray = (sharp * normal).sum(axis=1)
    return result


def _robust_weights(model: ElasticModel, skin: Skin) -> FloatArray:
    """Down-weight cells that no smooth field explains: chips, break edges, handle roots."""
    weight = cell_weight(skin)
    robust = weight
    for _ in range(4):
        field = solve(model, equations(model, skin, robust), stiffness=tol.STIFFNESS_START)
        residual = skin.offset_mm - field
        robust = weight * belief(residual, spread_of(residual[weight > 0]) + 1e-3)
    return robust
