"""From a frame to the intact form: elastic field, its stiffness, and the fit at the joins."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from lossfill import tolerances as tol
from lossfill.errors import AmbiguousShapeError, InputError
from lossfill.form.cells import (
    Cells,
    Skin,
    angles_of,
    gather,
    grow,
    label_around,
    make_cells,
    place,
)
from lossfill.form.choose import choose_elastic, equations, low_field
from lossfill.form.conform import conform, split_scales
from lossfill.form.elastic import ElasticModel, find_repeat, make_model, solve
from lossfill.form.form import Form, interpolate
from lossfill.form.hide import choose_patches
from lossfill.form.join import JoinSkin, join_places
from lossfill.form.rings import with_rings
from lossfill.form.sources import REVOLVE, Source, make_sources
from lossfill.form.trust import choose_sources, chosen_field
from lossfill.frame.frame import Frame
from lossfill.frame.profile import Profile, Projection, at, on_skin, project, to_half_plane
from lossfill.mesh import BoolArray, FloatArray


def fit_form(
    frame: Frame,
    *,
    stiffness: float | None = None,
    source: str | None = None,
    repeats: int | None = None,
    twin: Frame | None = None,
) -> Form:
    """Find the intact vessel's shape from what is left of it.

    Parameters
    ----------
    frame : the vessel upright, with its profile and samples
    stiffness : of the elastic field; None chooses it by hiding patches that exist and predicting
        them. Infinity is the plain revolved profile, with rings and the fit at the joins added.
    source : one of `sources.NAMES`; None chooses for each gap what predicts hidden patches best
    repeats : how often the shape comes again around the turn, where a person knows
    twin : another vessel of the set, upright

    Raises
    ------
    AmbiguousShapeError
        Where too little skin is left to fit anything to.
    """
    cells = make_cells(frame.profile, sample_mm2=frame.samples.area_mm2)
    size = max(frame.height_mm, frame.rim_diameter_mm)
    drop = project(frame.profile, frame.samples.points, frame.samples.calm_normals)
    where = place(cells, frame.profile, drop, frame.samples)
    seen = _skin_alone(frame, cells, drop, where, size_mm=size)
    gap = _gaps(cells, seen.present, sample_mm2=frame.samples.area_mm2)
    seen = _without_edges(cells, seen, gap, drop.offset_mm, where)
    skin, noise = seen.skin, seen.noise_mm
    gap = _with_shallows(cells, gap, (skin.weight == 0) & seen.sagged)
    patches = choose_patches(cells, skin, gap)
    tries: tuple[float, ...] = tol.STIFFNESSES
    if frame.outline is not None:
        tries = (*tol.STIFFNESSES_OUTLINED, *tries)
    elastic = choose_elastic(
        cells, skin, patches, size_mm=size, tries=tries if stiffness is None else (stiffness,)
    )
    sources = make_sources(
        cells,
        skin,
        gap,
        low_mm=low_field(elastic),
        noise_mm=noise,
        repeats=repeats,
        twin=None if twin is None else _skin_of(twin, frame.profile, cells),
    )
    if source is None and stiffness is not None:
        # Only a revolved form is stiff.
        source = REVOLVE
    tried = sources if source is None else _asked(sources, source)
    choices = choose_sources(cells, skin, gap, elastic, tried, noise_mm=noise)
    expected = choices[0].error_mm
    warnings: tuple[str, ...] = ()
    if not patches:
        warnings = ("too little of the vessel is left to test the form on: its error is a guess",)
    elif expected > tol.FORM_DOUBT_MM:
        warnings = (
            f"where the wall is there, the form misses it by {expected:.2f} mm (RMS): look at "
            "misfit.png and at each piece before you make anything",
        )
    field, choice = chosen_field(cells, skin, gap, elastic, sources, choices)
    field = conform(cells, skin, field, gap=gap, noise_mm=noise)
    return Form(
        profile=frame.profile,
        outline=frame.outline,
        cells=cells,
        field_mm=field,
        skin=skin,
        gap=gap,
        scan_from_vessel=np.asarray(np.linalg.inv(frame.vessel_from_scan), dtype=np.float64),
        stiffness=elastic.stiffness,
        repeats=elastic.repeats,
        noise_mm=noise,
        row_scatter_mm=seen.row_scatter_mm,
        choices=choices,
        choice=choice,
        expected_error_mm=expected,
        round_error_mm=elastic.round_error_mm,
        patches=len(patches),
        join=_skin_at_joins(frame, cells, drop, where, seen, gap, field),
        warnings=warnings,
    )


def _asked(sources: tuple[Source, ...], name: str) -> tuple[Source, ...]:
    """Only the source that a person asked for.

    Raises
    ------
    InputError
        Where it does not apply.
    """
    chosen = next(one for one in sources if one.name == name)
    if not chosen.applies:
        raise InputError(f"the form cannot be found by {name}: {chosen.says}")
    return (chosen,)


def _skin_of(twin: Frame, profile: Profile, cells: Cells) -> Skin:
    """Skin of another vessel on this one's profile, in the twin's own turn about the axis."""
    samples = twin.samples
    drop = project(profile, samples.points, samples.calm_normals)
    skin = on_skin(drop, reach_mm=max(2.0, tol.SKIN_REACH * twin.rim_diameter_mm))
    where = place(cells, profile, drop, samples)
    return gather(cells, where[skin], drop.offset_mm[skin])


def _skin_at_joins(
    frame: Frame,
    cells: Cells,
    drop: Projection,
    where: NDArray[np.intp],
    seen: _Seen,
    gap: BoolArray,
    field_mm: FloatArray,
) -> JoinSkin:
    """Pick the samples of skin beside the gaps, with what they lie off the form."""
    near = grow(cells, gap, tol.JOIN_REACH_MM).ravel()[where] & seen.kept
    # Where a cell holds the break's edge too, only a triangle's own normal tells them apart.
    beside = grow(cells, gap, tol.CELL_MM).ravel()[where]
    near &= ~beside | (_sharp_agreement(frame, drop) > tol.SKIN_AGREEMENT_SHARP)
    along, angle = drop.along[near], angles_of(frame.samples)[near]
    residual = drop.offset_mm[near] - interpolate(cells, frame.profile, field_mm, along, angle)
    # What lies this far under the form beside a gap is the break's own edge.
    spread = 1.4826 * float(np.median(np.abs(residual))) if len(residual) else 0.0
    skin = residual > -max(2 * tol.SAG_MM, tol.SAG_SPREADS * spread)
    length = max(tol.JOIN_LENGTH_MM, tol.JOIN_SPACINGS * float(np.sqrt(frame.samples.area_mm2)))
    places = join_places(frame.profile, along[skin], angle[skin])
    return JoinSkin(places, residual[skin], length, seen.noise_mm)


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """What the samples show.

    Parameters
    ----------
    skin : the skin alone
    kept : (N,) the samples behind it
    sagged : (R, C) where samples that face as skin lie just below it
    present : (R, C) number of samples of any facing at skin level, -1 where they lie below it
    noise_mm : scatter of single samples about the skin
    row_scatter_mm : (R,) the same row by row; large where the profile turns sharply
    field_mm : (R, C) a first elastic field, close enough to tell skin from break
    """

    skin: Skin
    kept: BoolArray
    sagged: BoolArray
    present: FloatArray
    noise_mm: float
    row_scatter_mm: FloatArray
    field_mm: FloatArray


def _skin_alone(
    frame: Frame, cells: Cells, drop: Projection, where: NDArray[np.intp], *, size_mm: float
) -> _Seen:
    """Tell skin from breaks, handles and chips."""
    # A triangle's own normal is exact beside a break's edge but restless on a noisy scan; the
    # averaged one is the other way about.
    sharp = _sharp_agreement(frame, drop)
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
    noise = max(1.4826 * float(np.median(np.abs(scatter))), tol.NOISE_FLOOR_MM)
    row = where[kept] // cells.shape[1]
    squares = np.bincount(row, scatter**2, minlength=cells.shape[0])
    rows = np.sqrt(squares / np.maximum(np.bincount(row, minlength=cells.shape[0]), 1))
    sagged = gather(cells, where[level_enough & ~kept], residual[level_enough & ~kept]).weight > 0
    return _Seen(skin, kept, sagged, np.where(lost, -1.0, present), noise, rows, field)


def _without_edges(
    cells: Cells, seen: _Seen, gap: BoolArray, offset_mm: FloatArray, where: NDArray[np.intp]
) -> _Seen:
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
    spread = 1.4826 * float(np.median(np.abs(residual)))
    seen = gather(cells, where, residual)
    strays = np.zeros(cells.shape[0])
    for row in range(cells.shape[0]):
        values = seen.offset_mm[row, seen.weight[row] > 0]
        if len(values) > 10:
            strays[row] = 0.39 * float(np.subtract(*np.quantile(values, [0.9, 0.1])))
    strays = maximum_filter1d(strays, 3)
    lowest: FloatArray = np.maximum(tol.SKIN_LOW_MM, tol.SKIN_SPREADS * np.maximum(spread, strays))
    return lowest


def _sharp_agreement(frame: Frame, drop: Projection) -> FloatArray:
    """Cosine of each sample's own triangle with the profile: exact beside a break's edge."""
    _, sharp = to_half_plane(frame.samples.points, frame.samples.normals)
    _, normal = at(frame.profile, drop.along)
    result: FloatArray = (sharp * normal).sum(axis=1)
    return result


def _robust_weights(model: ElasticModel, skin: Skin) -> FloatArray:
    """Down-weight cells that no smooth field explains: chips, break edges, handle roots."""
    weight = np.minimum(skin.weight, 3.0) / 3.0
    robust = weight
    for _ in range(4):
        field = solve(model, equations(model, skin, robust), stiffness=tol.STIFFNESS_START)
        residual = np.abs(skin.offset_mm - field)
        spread = 1.4826 * float(np.median(residual[weight > 0])) + 1e-3
        robust = weight / (1.0 + (residual / (3 * spread)) ** 2) ** 2
    return robust


def _gaps(cells: Cells, present: FloatArray, *, sample_mm2: float) -> BoolArray:
    """Places with nothing at skin level, too large for the samples to have missed by chance.

    Parameters
    ----------
    present : (R, C) samples at skin level, -1 where there are only lower ones
    sample_mm2 : surface that one sample stands for
    """
    # Near the axis a cell is smaller than a sample's share: columns are looked at together there.
    empty: BoolArray = _pooled(cells, np.maximum(present, 0.0), sample_mm2) == 0
    empty |= present < 0
    # A lone empty cell beside a gap is chance, one that its neighbours surround belongs to it.
    around = np.stack([np.roll(empty, shift, axis=1) for shift in (-1, 1)])
    rows = np.pad(empty, ((1, 1), (0, 0)), mode="edge")
    beside = around.sum(axis=0) + rows[:-2] + rows[2:]
    empty &= (beside >= 2) | (present < 0)
    labels, n = label_around(empty)
    if n == 0:
        return empty
    area = np.broadcast_to(cells.area_mm2[:, None], cells.shape)
    size = np.bincount(labels.ravel(), area.ravel(), minlength=n + 1)
    sunken = np.bincount(labels.ravel(), (present < 0).ravel(), minlength=n + 1)
    sure = (size / sample_mm2 >= tol.GAP_SAMPLES) | (sunken >= 2)
    sure &= size >= tol.GAP_AREA_MM2
    sure[0] = False
    result: BoolArray = sure[labels]
    return result


def _with_shallows(cells: Cells, gap: BoolArray, sagged: BoolArray) -> BoolArray:
    """Add the shallow rim of a spall: cells beside a gap that show only what sags below skin."""
    bare = gap | (sagged & grow(cells, gap, tol.SHALLOWS_MM))
    labels, n = label_around(bare)
    meets = np.zeros(n + 1, dtype=bool)
    meets[labels[gap]] = True
    result: BoolArray = meets[labels] & bare
    return result


def _pooled(cells: Cells, present: FloatArray, sample_mm2: float) -> FloatArray:
    """Sum samples over as many columns as a cell needs to be sure of holding some, (R, C)."""
    columns = cells.shape[1]
    half = np.ceil((tol.CELL_SAMPLES * sample_mm2 / cells.area_mm2 - 1.3) / 2)
    half = np.clip(half, 0, columns // 2 - 1).astype(np.intp)
    running = np.cumsum(np.hstack([present, present, present]), axis=1)
    pooled = present.copy()
    for row in np.flatnonzero(half):
        k = half[row]
        last = running[row, columns + k : 2 * columns + k]
        pooled[row] = last - running[row, columns - k - 1 : 2 * columns - k - 1]
    return pooled
