"""How the pot is out of round: an elastic displacement of the revolved profile.

Every profile point moves by a vector w = (ρ, ζ) in its half plane that varies smoothly along
either skin and by low harmonics around the turn; the skin sees n · w. Vectors carry both skins of
the wall the same way, as clay does, where offsets along the normals would be opposite.

The fit is a least-squares problem with a Gaussian prior: harmonic m has standard deviation σ_m
and bends along a skin on a length ℓ. Across the wall the two skins' vectors differ by a smaller
deviation τ_m: a wall bends far more than its thickness changes around the turn, but what changes
there is there up to the lip, so nothing ties the skins to each other over it. `stiffness` scales
the prior's precision: towards infinity the form is the plain revolved profile.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import block_diag, cho_factor, cho_solve
from scipy.sparse import coo_array, csr_array

from lossfill import tolerances as tol
from lossfill.form.cells import Cells, Skin
from lossfill.mesh import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class ElasticModel:
    """The linear model on a grid of cells.

    Parameters
    ----------
    orders : harmonics carried, from 0
    waves : (C, H) cos and sin of each order at each column
    shapes : (R, 2K) what each knot's ρ and ζ do to each row's offset
    prior : (2K, 2K, H) precision of the prior at stiffness 1, one block a wave
    """

    orders: tuple[int, ...]
    waves: FloatArray
    shapes: FloatArray
    prior: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class NormalEquations:
    """Data's share of the normal equations: they add up, so a patch can be taken out again."""

    matrix: FloatArray
    right: FloatArray


def make_model(cells: Cells, *, repeats: tuple[int, ...] = (), size_mm: float) -> ElasticModel:
    """Set up the model: harmonics 0–4, and `repeats` (a fluted or lobed vessel's own)."""
    orders = (*range(tol.ELASTIC_ORDER + 1), *sorted(set(repeats)))
    angles = cells.angles
    waves = [np.ones_like(angles)]
    order_of_wave = [0]
    for m in orders[1:]:
        waves += [np.cos(m * angles), np.sin(m * angles)]
        order_of_wave += [m, m]
    shapes, knot_mm = _knots(cells)
    n = shapes.shape[1] // 2
    inner = _inner_knots(cells, n)
    base = np.kron(np.eye(2), block_diag(_bending(inner, knot_mm), _bending(n - inner, knot_mm)))
    wall = _wall(cells, n, inner, knot_mm)
    deviations = np.array([_deviation_mm(m, size_mm) for m in order_of_wave])
    thickness = np.array([_thickness_deviation_mm(m, size_mm) for m in order_of_wave])
    prior = base[:, :, None] / deviations**2 + wall[:, :, None] / thickness**2
    return ElasticModel(orders, np.stack(waves, axis=1), shapes, prior)


def _deviation_mm(order: int, size_mm: float) -> float:
    """Expected amplitude of a harmonic: falls with its order, grows with the pot."""
    table = tol.ELASTIC_DEVIATIONS
    return size_mm * (table[order] if order < len(table) else tol.REPEAT_DEVIATION)


def _thickness_deviation_mm(order: int, size_mm: float) -> float:
    """Expected amplitude of a harmonic of the wall's thickness; flutes may be on one side alone."""
    table = tol.THICKNESS_DEVIATIONS
    return size_mm * table[order] if order < len(table) else float("inf")


def _knots(cells: Cells) -> tuple[FloatArray, float]:
    """Hat functions along the profile, times the normal's two parts: (R, 2K)."""
    rows = cells.shape[0]
    n = int(np.clip(round(rows * cells.row_mm / tol.KNOT_MM), 12, tol.KNOTS_MAX)) + 1
    place = _place(cells, np.arange(rows, dtype=np.float64), n)
    low = np.minimum(place.astype(np.intp), n - 2)
    t = place - low
    hats = np.zeros((rows, n))
    hats[np.arange(rows), low] = 1 - t
    hats[np.arange(rows), low + 1] = t
    shapes = np.hstack([hats * cells.normal_r[:, None], hats * cells.normal_z[:, None]])
    return shapes, rows * cells.row_mm / (n - 1)


def _place(cells: Cells, row: FloatArray, n_knots: int) -> FloatArray:
    """Where rows lie among the knots."""
    return (row + 0.5) / cells.shape[0] * (n_knots - 1)


def _inner_knots(cells: Cells, n_knots: int) -> int:
    """How many of the knots lie on the hollow's side of the lip; a cubic curve needs three."""
    last = _place(cells, np.array([len(cells.across) - 0.5]), n_knots)
    return int(np.clip(np.floor(last[0]) + 1, 3, n_knots - 3))


def _bending(n_knots: int, knot_mm: float) -> FloatArray:
    """Precision of a smooth function of unit deviation and length ℓ on n knots."""
    ratio = tol.ELASTIC_LENGTH_MM / knot_mm
    first = np.diff(np.eye(n_knots), axis=0)
    second = np.diff(np.eye(n_knots), n=2, axis=0)
    one = np.eye(n_knots) + 2 * ratio**2 * first.T @ first + ratio**4 * second.T @ second
    # A Matérn field on a line: the sum over knots of one correlation length makes unit variance.
    return np.asarray(one / (4.0 * ratio))


def _wall(cells: Cells, n_knots: int, inner: int, knot_mm: float) -> FloatArray:
    """Precision of a thickness of unit deviation: of what knots across the wall differ by."""
    if not len(cells.across):
        return np.zeros((2 * n_knots, 2 * n_knots))
    row = np.arange(inner) / (n_knots - 1) * cells.shape[0] - 0.5
    other = _place(cells, np.interp(row, np.arange(len(cells.across)), cells.across), n_knots)
    low = np.minimum(other.astype(np.intp), n_knots - 2)
    each = np.arange(inner)
    apart = np.zeros((inner, n_knots))
    apart[each, each] = 1.0
    apart[each, low] -= 1.0 - (other - low)
    apart[each, low + 1] -= other - low
    one = apart.T @ _bending(inner, knot_mm) @ apart
    return np.asarray(np.kron(np.eye(2), one))


def gather_normal_equations(
    model: ElasticModel, offset_mm: FloatArray, precision: FloatArray
) -> NormalEquations:
    """Sum up the data: offsets (R, C) with precisions (R, C) in 1/mm²."""
    waves, shapes = model.waves, model.shapes
    n_shapes, n_waves = shapes.shape[1], waves.shape[1]
    pairs = (waves[:, :, None] * waves[:, None, :]).reshape(len(waves), -1)
    by_row = precision @ pairs
    # A row moves by the two knots beside it alone: of all products of shapes few are there.
    matrix = _products(shapes) @ by_row
    right = shapes.T @ ((precision * offset_mm) @ waves)
    # (shape, shape, wave, wave) → (shape · wave, shape · wave)
    square = matrix.reshape(n_shapes, n_shapes, n_waves, n_waves).transpose(0, 2, 1, 3)
    size = n_shapes * n_waves
    return NormalEquations(square.reshape(size, size), right.reshape(size))


def _products(shapes: FloatArray) -> csr_array:
    """Products of any two shapes in each row, (S · S, R)."""
    row, one = np.nonzero(shapes)
    first = np.searchsorted(row, np.arange(len(shapes) + 1))
    count = np.diff(first)
    # Each entry of a row with each of the same row.
    entry = np.repeat(np.arange(len(row)), count[row])
    begin = np.cumsum(count[row]) - count[row]
    other = first[row[entry]] + np.arange(len(entry)) - begin[entry]
    values = shapes[row[entry], one[entry]] * shapes[row[entry], one[other]]
    n = shapes.shape[1]
    places = one[entry] * n + one[other]
    return coo_array((values, (places, row[entry])), shape=(n * n, len(shapes))).tocsr()


def solve(
    model: ElasticModel, data: NormalEquations, *, stiffness: float, plain: bool = False
) -> FloatArray:
    """Most probable field, as offsets of the skin from the profile, (R, C) mm.

    Parameters
    ----------
    plain : leave out of the answer, though not out of the fit, what flutes or lobes carry
    """
    factor = _factor(model, data, stiffness)
    coefficients = cho_solve(factor, data.right, check_finite=False)
    by_wave = coefficients.reshape(model.shapes.shape[1], model.waves.shape[1])
    waves = model.waves
    if plain:
        # The mean, then a cosine and a sine of each order.
        n = 1 + 2 * tol.ELASTIC_ORDER
        by_wave, waves = by_wave[:, :n], waves[:, :n]
    field: FloatArray = model.shapes @ by_wave @ waves.T
    return field


def _factor(
    model: ElasticModel, data: NormalEquations, stiffness: float
) -> tuple[FloatArray, bool]:
    """Cholesky factor of the normal equations with the prior in them."""
    n_shapes, n_waves = model.shapes.shape[1], model.waves.shape[1]
    matrix = data.matrix.copy().reshape(n_shapes, n_waves, n_shapes, n_waves)
    for wave in range(n_waves):
        matrix[:, wave, :, wave] += stiffness * model.prior[:, :, wave]
    size = n_shapes * n_waves
    factor, lower = cho_factor(matrix.reshape(size, size), overwrite_a=True, check_finite=False)
    return np.asarray(factor, dtype=np.float64), bool(lower)


def mean_variance(model: ElasticModel, data: NormalEquations, there: BoolArray) -> float:
    """Variance that is left to the field over some cells once the data are known, mm².

    Parameters
    ----------
    data : the share of what is known; it may know nothing of these cells
    there : (R, C) the cells; a few of them, spread evenly, stand for all
    """
    factor = _factor(model, data, 1.0)
    rows, columns = np.nonzero(there)
    some = np.linspace(0, len(rows) - 1, min(tol.VARIANCE_CELLS, len(rows))).astype(np.intp)
    seen = model.shapes[rows[some], :, None] * model.waves[columns[some], None, :]
    seen = seen.reshape(len(some), -1).T
    return float((seen * cho_solve(factor, seen, check_finite=False)).sum(axis=0).mean())


def find_repeat(residual_mm: FloatArray, skin: Skin, cells: Cells) -> int | None:
    """Number of flutes or lobes round the vessel, where the residual plainly shows one.

    Looks for the harmonic above the elastic ones that carries the largest share of what is left.
    """
    weight = skin.weight
    total = float((weight * residual_mm**2).sum())
    if not total > 0:
        return None
    orders = np.arange(tol.ELASTIC_ORDER + 1, tol.REPEAT_MAX + 1)
    phases = np.exp(1j * np.outer(cells.angles, orders))
    seen = np.maximum(weight.sum(axis=1), 1e-9)
    amplitude = 2 * ((weight * residual_mm) @ phases) / seen[:, None]
    power = (seen[:, None] * np.abs(amplitude) ** 2).sum(axis=0) / 2
    best = int(power.argmax())
    return int(orders[best]) if power[best] > tol.REPEAT_SHARE * total else None
