"""Which elastic field: its stiffness, and whether with flutes, by what predicts hidden patches."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lossfill import tolerances as tol
from lossfill.form.cells import Cells, Skin
from lossfill.form.elastic import (
    ElasticModel,
    NormalEquations,
    find_repeat,
    gather_normal_equations,
    make_model,
    solve,
)
from lossfill.form.hide import rms_on
from lossfill.mesh import BoolArray, FloatArray
from lossfill.robust import belief, spread_of


@dataclass(frozen=True, slots=True, eq=False)
class Elastic:
    """The elastic field chosen, and what it was chosen from.

    Parameters
    ----------
    model, data : the linear model and all of the skin's share in its equations
    stiffness : chosen or given; infinite means plainly revolved
    repeats : number of flutes or lobes, or None
    field : (R, C) mm
    round_error_mm : RMS error of the plain revolved profile over hidden patches
    hidden : for each hidden patch its mask
    """

    model: ElasticModel
    data: NormalEquations
    stiffness: float
    repeats: int | None
    field: FloatArray
    round_error_mm: float
    hidden: tuple[BoolArray, ...]


def choose_elastic(
    cells: Cells,
    skin: Skin,
    patches: list[BoolArray],
    *,
    size_mm: float,
    tries: tuple[float, ...],
) -> Elastic:
    """Try stiffnesses, with and without flutes, on hidden patches; keep what predicts best."""
    plain = make_model(cells, size_mm=size_mm)
    weight = cell_weight(skin)
    whole = equations(plain, skin, weight)
    start = solve(plain, whole, stiffness=tol.STIFFNESS_START)
    repeat = find_repeat(np.where(weight > 0, skin.offset_mm - start, 0.0), skin, cells)
    models: list[tuple[int | None, ElasticModel]] = [(None, plain)]
    if repeat is not None:
        models.append((repeat, make_model(cells, repeats=(repeat, 2 * repeat), size_mm=size_mm)))
    if not patches and len(tries) > 1:
        # Nothing can be hidden, so nothing says which predicts best.
        tries = (tol.STIFFNESS_START,)
    round_error = _hidden_error(cells, skin, [np.zeros(cells.shape)] * len(patches), patches)
    best: tuple[float, int | None, ElasticModel, NormalEquations, float] | None = None
    for repeats, model in models:
        if model is not plain:
            whole = equations(model, skin, weight)
        rests = [without(model, whole, skin, patch) for patch in patches]
        for value in tries:
            error = _hidden_error(
                cells, skin, [field_of(model, rest, value) for rest in rests], patches
            )
            if best is None or error < best[0]:
                best = (error, repeats, model, whole, value)
    assert best is not None  # there is always at least one stiffness
    _, repeats, model, whole, value = best
    return Elastic(
        model=model,
        data=whole,
        stiffness=value,
        repeats=repeats,
        field=field_of(model, whole, value),
        round_error_mm=round_error,
        hidden=tuple(patches),
    )


def low_field(elastic: Elastic) -> FloatArray:
    """How the vessel is out of round without flutes or lobes, (R, C) mm."""
    stiffness = min(elastic.stiffness, tol.STIFFNESS_START)
    return solve(elastic.model, elastic.data, stiffness=stiffness, plain=True)


def bent_to(elastic: Elastic, skin: Skin, shown: Skin) -> Skin:
    """Bend what another place shows until it lies on the skin: each is out of round in its own way.

    The difference of the two is as smooth as a pot is out of round, so the elastic model carries
    it on to where there is no skin; what the two have in common, such as relief, is not bent away.
    """
    both = (skin.weight > 0) & (shown.weight > 0)
    apart = Skin(np.where(both, skin.offset_mm - shown.offset_mm, 0.0), both.astype(np.float64))
    weight = cell_weight(skin) * both
    stiffness = min(elastic.stiffness, tol.STIFFNESS_START)
    field = np.zeros(apart.offset_mm.shape)
    for _ in range(2):
        residual = apart.offset_mm - field
        spread = spread_of(residual[both]) + 1e-3 if both.any() else 1.0
        robust = weight * belief(residual, spread)
        field = solve(elastic.model, equations(elastic.model, apart, robust), stiffness=stiffness)
    return Skin(shown.offset_mm + field, shown.weight)


def cell_weight(skin: Skin) -> FloatArray:
    """How much a cell says, 0 … 1: three samples are as good as more."""
    weight: FloatArray = np.minimum(skin.weight, 3.0) / 3.0
    return weight


def equations(model: ElasticModel, skin: Skin, weight: FloatArray) -> NormalEquations:
    """Normal equations with cells taken as repeats of each other over a small neighbourhood."""
    precision = weight / (tol.RESIDUAL_TYPICAL_MM**2 * tol.PATCH_CELLS)
    return gather_normal_equations(model, skin.offset_mm, precision)


def without(
    model: ElasticModel, whole: NormalEquations, skin: Skin, patch: BoolArray
) -> NormalEquations:
    """Normal equations of the skin with a patch taken out."""
    part = equations(model, skin, cell_weight(skin) * patch)
    return NormalEquations(whole.matrix - part.matrix, whole.right - part.right)


def field_of(model: ElasticModel, data: NormalEquations, stiffness: float) -> FloatArray:
    """Elastic field at a stiffness, infinite ones included, (R, C) mm."""
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
