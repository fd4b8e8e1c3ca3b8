"""From the form that fits the whole pot to one that lies on the skin at every join.

What the elastic field leaves is a residual on two scales. A dent or a flat spot runs on for a
centimetre and says something about the gap; the skin's texture changes within two or three
millimetres and is only worth following at the join itself, so that there is no step. Each is
known where there is skin and continued into the gap as a Gaussian field that agrees with the skin
at the join and fades out on its length 1/κ. Such a field minimises ∫ |(κ² − Δ) e|² over the skin,
a sparse positive system on the cells near the gap.

Reference: F. Lindgren, H. Rue, J. Lindström, "An explicit link between Gaussian fields and
Gaussian Markov random fields", J. R. Statist. Soc. B 73 (2011), 423–498; the precision matrix
K A⁻¹ K from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.ndimage import gaussian_filter
from scipy.sparse.linalg import splu

from lossfill import tolerances as tol
from lossfill.form.cells import Cells, Skin, grow
from lossfill.mesh import BoolArray, FloatArray


def conform(
    cells: Cells,
    skin: Skin,
    field_mm: FloatArray,
    *,
    gap: BoolArray,
    noise_mm: float,
    about: BoolArray | None = None,
    texture: bool = True,
) -> FloatArray:
    """Elastic field plus what the skin shows beyond it, continued from the skin into the gap.

    Parameters
    ----------
    skin : offsets seen, (R, C); those inside `gap` are ignored
    field_mm : (R, C) the elastic field
    noise_mm : scatter of single samples about the skin
    about : the part of the gap that is wanted; all of it where not given
    texture : follow the quick scale too, which only tells within a few millimetres of the join
    """
    region = grow(cells, gap if about is None else about, tol.CONFORM_MARGIN_MM)
    weight = np.where(gap | ~region, 0.0, skin.weight)
    if not (weight > 0).any():
        return field_mm
    residual = np.where(weight > 0, skin.offset_mm - field_mm, 0.0)
    smooth, rough_variance = split_scales(cells, Skin(residual, weight))
    deviation = max(float(np.sqrt(np.mean(smooth[weight > 0] ** 2))), tol.RESIDUAL_FLOOR_MM)
    grid = _Grid.over(cells, region)
    noise = noise_mm**2 / np.maximum(weight, 1e-9)
    # Texture hides the smooth part: a cell of rough skin says less, and its neighbours the same.
    hiding = rough_variance * tol.TEXTURE_CELLS
    slow = grid.continue_field(
        residual,
        np.where(weight > 0, 1.0 / (noise + hiding), 0.0),
        length_mm=tol.CONFORM_LENGTH_MM,
        deviation_mm=deviation,
    )
    if not texture:
        return field_mm + slow
    rough = max(float(np.sqrt(np.median(rough_variance[weight > 0]))), tol.RESIDUAL_FLOOR_MM)
    fast = grid.continue_field(
        residual - slow,
        np.where(weight > 0, 1.0 / noise, 0.0),
        length_mm=tol.TEXTURE_LENGTH_MM,
        deviation_mm=rough,
    )
    return field_mm + slow + fast


def bridge(cells: Cells, skin: Skin, gap: BoolArray, *, noise_mm: float) -> Skin:
    """Span each gap with the least bending from the skin around it, (R, C); no weight elsewhere.

    A field whose length is far above any gap's has next to no energy but that of bending, so this
    is the thin plate through both skins' edges. It gives way to the edge's texture: two cells that
    lie close and differ by chance would set a slope that is carried all the way across.
    """
    region = grow(cells, gap, tol.BRIDGE_MARGIN_MM)
    weight = np.where(gap | ~region, 0.0, skin.weight)
    if not (weight > 0).any():
        return Skin(np.zeros(cells.shape), np.zeros(cells.shape))
    precision = np.where(weight > 0, 1.0 / (noise_mm**2 / np.maximum(weight, 1e-9)), 0.0)
    usual = float(np.median(precision[weight > 0])) / float(np.median(cells.area_mm2))
    kappa = 1.0 / tol.BRIDGE_LENGTH_MM
    bending = usual * tol.BRIDGE_GIVE_MM**4
    field = _Grid.over(cells, region).continue_field(
        skin.offset_mm,
        precision,
        length_mm=tol.BRIDGE_LENGTH_MM,
        deviation_mm=1.0 / (kappa * np.sqrt(4 * np.pi * bending)),
        free_edge=True,
    )
    return Skin(field, region.astype(np.float64))


def split_scales(cells: Cells, residual: Skin) -> tuple[FloatArray, FloatArray]:
    """Smooth part of a residual, and the local variance of the rest, both (R, C).

    The smooth part is how far the wall about each place has shifted as a whole, along that place's
    normal. A mean of the offsets would do on a flat wall; but a wall that stands 1 mm further out
    lies above its form outside and under it inside, and in between, over the lip, neither.
    """
    there = residual.weight > 0
    n_r, n_z = cells.normal_r[:, None], cells.normal_z[:, None]
    rr, rz, zz = (_summed(cells, there * a, tol.SMOOTH_MM) for a in (n_r**2, n_r * n_z, n_z**2))
    seen = np.where(there, residual.offset_mm, 0.0)
    r, z = (_summed(cells, seen * a, tol.SMOOTH_MM) for a in (n_r, n_z))
    # Where all normals are alike, nothing is known of a shift along the wall, nor need be.
    hold = tol.SHIFT_RIDGE * (rr + zz) + 1e-9
    rr, zz = rr + hold, zz + hold
    smooth = (n_r * (zz * r - rz * z) + n_z * (rr * z - rz * r)) / (rr * zz - rz**2)
    rough = np.where(there, (residual.offset_mm - smooth) ** 2, 0.0)
    variance = blur(cells, rough, there, 2 * tol.SMOOTH_MM)
    return smooth, variance


def blur(cells: Cells, values: FloatArray, counted: BoolArray, reach_mm: float) -> FloatArray:
    """Average of the cells that count over a Gaussian neighbourhood, (R, C)."""
    there = counted.astype(np.float64)
    total, count = (_summed(cells, a, reach_mm) for a in (values * there, there))
    return np.divide(total, count, out=np.zeros_like(total), where=count > 1e-6)


def _summed(cells: Cells, values: FloatArray, reach_mm: float) -> FloatArray:
    """Sum over a neighbourhood by Gaussian weights, (R, C)."""
    sigma = (reach_mm / cells.row_mm, reach_mm / (float(cells.radius_mm.max()) * cells.column_rad))
    mode: tuple[Literal["nearest"], Literal["wrap"]] = ("nearest", "wrap")
    result: FloatArray = gaussian_filter(values, sigma, mode=mode, truncate=2.5)
    return result


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    """The region's cells as unknowns, with their membrane stiffness and areas.

    Parameters
    ----------
    inner : (R, C) cells of the region all of whose neighbours on the skin are in it too
    """

    region: BoolArray
    inner: BoolArray
    stiffness: sparse.csc_matrix
    area: FloatArray

    @staticmethod
    def over(cells: Cells, region: BoolArray) -> _Grid:
        number = np.full(cells.shape, -1, dtype=np.intp)
        number[region] = np.arange(int(region.sum()))
        stiffness, area = _membrane(cells, number)
        # Past the first and the last row lies the axis, where no skin is left to be missed.
        rows = np.pad(region, ((1, 1), (0, 0)), mode="edge")
        around = np.roll(region, 1, axis=1) & np.roll(region, -1, axis=1)
        return _Grid(region, region & around & rows[:-2] & rows[2:], stiffness, area)

    def continue_field(
        self,
        values: FloatArray,
        precision: FloatArray,
        *,
        length_mm: float,
        deviation_mm: float,
        free_edge: bool = False,
    ) -> FloatArray:
        """Most probable field given values with a precision each; 0 outside the region.

        At the region's edge the field meets it square, which suits one that is gone by then. A
        free edge may slope as it likes: a span that leans would else be bent back far inwards.
        """
        kappa = 1.0 / length_mm
        operator = (sparse.diags(kappa**2 * self.area) + self.stiffness).tocsc()
        # The marginal variance of the field is 1 / (4 π κ² τ²) in two dimensions.
        tau_squared = 1.0 / (4 * np.pi * kappa**2 * deviation_mm**2)
        # Not quite free, for of a corner cell without skin nothing else may tell.
        counted = np.where(self.inner[self.region], 1.0, tol.FREE_EDGE) if free_edge else 1.0
        prior = tau_squared * (operator @ sparse.diags(counted / self.area) @ operator)
        data = precision[self.region]
        matrix = (prior + sparse.diags(data)).tocsc()
        # Positive definite: pivots stay on the diagonal, or the fill-in grows a hundredfold. Its
        # columns have few places in common: taken in panels they cost a quarter more.
        factor = splu(
            matrix,
            permc_spec="MMD_AT_PLUS_A",
            diag_pivot_thresh=0.0,
            relax=1,
            panel_size=1,
            options={"SymmetricMode": True},
        )
        result = np.zeros(self.region.shape)
        result[self.region] = factor.solve(data * values[self.region])
        return result


def _membrane(cells: Cells, number: NDArray[np.intp]) -> tuple[sparse.csc_matrix, FloatArray]:
    """Laplacian of the skin between the region's cells, and their areas."""
    area = np.broadcast_to(cells.area_mm2[:, None], cells.shape)
    width = np.maximum(cells.radius_mm, 0.25 * cells.row_mm) * cells.column_rad
    between = 0.5 * (width[1:] + width[:-1]) / cells.row_mm
    up = _links(number[:-1], number[1:], np.broadcast_to(between[:, None], number[1:].shape))
    across = np.broadcast_to((cells.row_mm / width)[:, None], number.shape)
    round_ = _links(number, np.roll(number, -1, axis=1), across)
    i, j, w = (np.concatenate([up[k], round_[k]]) for k in range(3))
    n = int(number.max()) + 1
    adjacency = sparse.coo_matrix((w, (i, j)), shape=(n, n)).tocsc()
    adjacency = adjacency + adjacency.T
    degree = np.asarray(adjacency.sum(axis=1)).ravel()
    return sparse.diags(degree).tocsc() - adjacency, area[number >= 0]


def _links(
    a: NDArray[np.intp], b: NDArray[np.intp], weight: FloatArray
) -> tuple[NDArray[np.intp], NDArray[np.intp], FloatArray]:
    both = (a >= 0) & (b >= 0)
    return a[both], b[both], weight[both]
