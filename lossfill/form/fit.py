"""From a frame to the intact form: elastic field, its stiffness, and the fit at the joins."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lossfill import tolerances as tol
from lossfill.errors import AmbiguousShapeError
from lossfill.form.cells import Cells, Skin, gather, label_around, make_cells, place, seen
from lossfill.form.conform import conform
from lossfill.form.elastic import (
    ElasticModel,
    NormalEquations,
    find_repeat,
    gather_normal_equations,
    make_model,
    solve,
)
from lossfill.form.form import Form
from lossfill.form.hide import choose_patches, rms_on
from lossfill.frame.frame import Frame
from lossfill.frame.profile import Projection, at, project, to_half_plane
from lossfill.frame.samples import Samples
from lossfill.mesh import BoolArray, FloatArray


def fit_form(frame: Frame, *, stiffness: float | None = None) -> Form:
    """Find the intact vessel's shape from what is left of it.

    Parameters
    ----------
    frame : the vessel upright, with its profile and samples
    stiffness : of the elastic field; None chooses it by hiding patches that exist and predicting
        them. Infinity is the plain revolved profile.

    Raises
    ------
    AmbiguousShapeError
        Where too little skin is left to fit anything to.
    """
    cells = make_cells(frame.profile)
    size = max(frame.height_mm, frame.rim_diameter_mm)
    drop = project(frame.profile, frame.samples.points, frame.samples.calm_normals)
    where = place(cells, frame.profile, drop, frame.samples)
    skin, noise = _skin_alone(frame, cells, drop, where, size_mm=size)
    if not (skin.weight > 0).any():
        raise AmbiguousShapeError("no skin of the vessel was found to take the form from")
    gap = _gaps(cells, skin)
    patches = choose_patches(cells, skin, gap)
    elastic = _choose_elastic(cells, skin, patches, size_mm=size, stiffness=stiffness)
    shapes = [
        conform(cells, skin, f, gap=gap | p, noise_mm=noise) for f, p in elastic.hidden
    ]
    errors = [
        rms_on(p, skin, s, cells) for (_, p), s in zip(elastic.hidden, shapes, strict=True)
    ]
    expected = float(np.sqrt(np.mean(np.square(errors)))) if errors else noise
    warnings = () if errors else (
        "too little of the vessel is left to test the form on: its error is only a guess",
    )
    return Form(
        profile=frame.profile,
        cells=cells,
        field_mm=conform(cells, skin, elastic.field, gap=gap, noise_mm=noise),
        skin=skin,
        gap=gap,
        scan_from_vessel=np.linalg.inv(frame.vessel_from_scan),
        stiffness=elastic.stiffness,
        repeats=elastic.repeats,
        noise_mm=noise,
        expected_error_mm=expected,
        round_error_mm=elastic.round_error_mm,
        patches=len(patches),
        warnings=warnings,
    )


def _skin_alone(
    frame: Frame, cells: Cells, drop: Projection, where: NDArray[np.intp], *, size_mm: float
) -> tuple[Skin, float]:
    """Tell skin from breaks, handles and chips; return it with the scatter of its samples, mm."""
    facing = np.maximum(drop.agreement, _sharp_agreement(frame, drop)) > tol.SKIN_AGREEMENT
    candidates = facing & (np.abs(drop.offset_mm) < max(2.0, tol.SKIN_REACH * size_mm))
    skin = gather(cells, where[candidates], drop.offset_mm[candidates])
    model = make_model(cells, size_mm=size_mm)
    repeat: int | None = None
    for _ in range(2):
        weight = _robust_weights(cells, model, skin)
        field = solve(
            model, _equations(model, skin, weight), stiffness=tol.STIFFNESS_START
        )
        if repeat is None:
            residual = np.where(weight > 0, skin.offset_mm - field, 0.0)
            repeat = find_repeat(residual, Skin(residual, skin.weight * weight), cells)
            if repeat is None:
                break
            model = make_model(cells, repeats=(repeat, 2 * repeat), size_mm=size_mm)
    residual = drop.offset_mm - field.ravel()[where]
    spread = 1.4826 * float(np.median(np.abs(residual[candidates])))
    low = max(tol.SKIN_LOW_MM, tol.SKIN_SPREADS * spread)
    high = max(tol.SKIN_HIGH_MM, 2 * tol.SKIN_SPREADS * spread)
    kept = candidates & (residual > -low) & (residual < high)
    skin = gather(cells, where[kept], drop.offset_mm[kept])
    scatter = drop.offset_mm[kept] - skin.offset_mm.ravel()[where[kept]]
    return skin, max(1.4826 * float(np.median(np.abs(scatter))), tol.NOISE_FLOOR_MM)


def _sharp_agreement(frame: Frame, drop: Projection) -> FloatArray:
    """Cosine of each sample's own triangle with the profile: exact beside a break's edge."""
    _, sharp = to_half_plane(frame.samples.points, frame.samples.normals)
    _, normal = at(frame.profile, drop.along)
    result: FloatArray = (sharp * normal).sum(axis=1)
    return result


def _robust_weights(cells: Cells, model: ElasticModel, skin: Skin) -> FloatArray:
    """Down-weight cells that no smooth field explains: chips, break edges, handle roots."""
    weight = np.minimum(skin.weight, 3.0) / 3.0
    robust = weight
    for _ in range(4):
        field = solve(
            model, _equations(model, skin, robust), stiffness=tol.STIFFNESS_START
        )
        residual = np.abs(skin.offset_mm - field)
        spread = 1.4826 * float(np.median(residual[weight > 0])) + 1e-3
        robust = weight / (1.0 + (residual / (3 * spread)) ** 2) ** 2
    return robust


def _equations(model: ElasticModel, skin: Skin, weight: FloatArray) -> NormalEquations:
    """Normal equations with cells taken as repeats of each other over a small neighbourhood."""
    precision = weight / (tol.RESIDUAL_TYPICAL_MM**2 * tol.PATCH_CELLS)
    return gather_normal_equations(model, skin.offset_mm, precision)


def _gaps(cells: Cells, skin: Skin) -> BoolArray:
    """Places without skin, larger than a gap between samples."""
    unseen = ~seen(cells, skin.weight)
    labels, n = label_around(unseen)
    if n == 0:
        return unseen
    area = np.broadcast_to(cells.area_mm2[:, None], cells.shape)
    size = np.bincount(labels.ravel(), area.ravel(), minlength=n + 1)
    size[0] = 0
    result: BoolArray = (size >= tol.GAP_AREA_MM2)[labels]
    return result


@dataclass(frozen=True, slots=True, eq=False)
class _Elastic:
    field: FloatArray
    stiffness: float
    repeats: int | None
    round_error_mm: float
    hidden: list[tuple[FloatArray, BoolArray]]


def _choose_elastic(
    cells: Cells,
    skin: Skin,
    patches: list[BoolArray],
    *,
    size_mm: float,
    stiffness: float | None,
) -> _Elastic:
    """Try stiffnesses, with and without flutes, on hidden patches; keep what predicts best."""
    plain = make_model(cells, size_mm=size_mm)
    weight = np.minimum(skin.weight, 3.0) / 3.0
    start = solve(plain, _equations(plain, skin, weight), stiffness=tol.STIFFNESS_START)
    repeat = find_repeat(np.where(weight > 0, skin.offset_mm - start, 0.0), skin, cells)
    models: list[tuple[int | None, ElasticModel]] = [(None, plain)]
    if repeat is not None:
        models.append((repeat, make_model(cells, repeats=(repeat, 2 * repeat), size_mm=size_mm)))
    tries = tol.STIFFNESSES if stiffness is None else (stiffness,)
    best: tuple[float, _Elastic] | None = None
    round_error = _hidden_error(cells, skin, [np.zeros(cells.shape)] * len(patches), patches)
    for repeats, model in models:
        whole = _equations(model, skin, weight)
        parts = [_equations(model, skin, weight * patch) for patch in patches]
        for value in tries:
            fields = [
                _field(model, NormalEquations(whole.matrix - p.matrix, whole.right - p.right), value)
                for p in parts
            ]
            error = _hidden_error(cells, skin, fields, patches)
            if best is None or error < best[0]:
                found = _Elastic(
                    _field(model, whole, value),
                    value,
                    repeats,
                    round_error,
                    list(zip(fields, patches, strict=True)),
                )
                best = (error, found)
    assert best is not None  # there is always at least one stiffness
    return best[1]


def _field(model: ElasticModel, data: NormalEquations, stiffness: float) -> FloatArray:
    if not np.isfinite(stiffness):
        return np.zeros((len(model.shapes), len(model.waves)))
    return solve(model, data, stiffness=stiffness)


def _hidden_error(
    cells: Cells, skin: Skin, fields: list[FloatArray], patches: list[BoolArray]
) -> float:
    if not patches:
        return 0.0
    errors = [rms_on(p, skin, f, cells) for f, p in zip(fields, patches, strict=True)]
    return float(np.sqrt(np.mean(np.square(errors))))
