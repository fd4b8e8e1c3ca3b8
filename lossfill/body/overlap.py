"""Material that a closed surface counts twice, found from one pass over its triangles.

By the divergence theorem the triangles in front of a small square, each counted with the area that
it shows along x, add up to the square's area times the mean winding number on it. The winding
number of a sound solid is 0 or 1 everywhere, so a mean well outside 0 to 1 proves an overlap. Rays
would find the same, but need a search tree that costs as much as building the solid.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lossfill.mesh import Mesh
from lossfill.tolerances import OVERLAP_CELLS, OVERLAP_WINDING

Single = NDArray[np.float32]
Index = NDArray[np.intp]
Samples = tuple[Single, Single, Single, Single]

LONGEST_SIDE = 0.5
"""Cells; longer triangles are halved until shorter, so that sampling errs by 0.1 at most."""


@dataclass(frozen=True, slots=True)
class Overlap:
    """Material counted more than once, or less than never.

    Parameters
    ----------
    volume_mm3 : of all such material
    place_mm : its middle, scan coordinates
    """

    volume_mm3: float
    place_mm: tuple[float, float, float]


def find_overlap(mesh: Mesh) -> Overlap:
    """Estimate the volume that closed triangles enclose twice or inside out."""
    low, high = mesh.bounds
    cell = float(np.linalg.norm(high - low)) / OVERLAP_CELLS
    origin = low - cell  # one empty layer, so that each sample has four columns to share
    shape = np.ceil((high - low) / cell).astype(int) + 3
    flux = np.zeros(int(shape.prod()))
    # In cells and single precision: where a triangle counts needs no more, and it halves the cost.
    points = [((mesh.vertices[:, k] - origin[k]) / cell).astype(np.float32) for k in range(3)]
    corners = [mesh.faces[:, k].astype(np.intp) for k in range(3)]
    for x, y, z, shown in _small_triangles(points, corners):
        row, column = y.astype(np.int32), z.astype(np.int32)
        base = (x.astype(np.int32) * np.int32(shape[1]) + row) * np.int32(shape[2]) + column
        to_row, to_column = y - row, z - column
        far = shown * to_row
        near = shown - far
        for weight, step in ((near, 0), (far, int(shape[2]))):
            beside = weight * to_column
            flux += np.bincount(base + step, weight - beside, len(flux))
            flux += np.bincount(base + (step + 1), beside, len(flux))
    winding = -np.cumsum(flux.reshape(shape), axis=0)
    excess = np.where(winding > 1.0 + OVERLAP_WINDING, winding - 1.0, 0.0)
    excess += np.where(winding < -OVERLAP_WINDING, -winding, 0.0)
    total = float(excess.sum())
    if total == 0.0:
        return Overlap(0.0, (0.0, 0.0, 0.0))
    middle = [
        float(np.tensordot(np.arange(size), np.moveaxis(excess, axis, 0), 1).sum()) / total
        for axis, size in enumerate(shape)
    ]
    # A sum over x holds at the far side of its layer.
    place = origin + cell * np.add(middle, (1.0, 0.0, 0.0))
    return Overlap(total * cell**3, (float(place[0]), float(place[1]), float(place[2])))


def _small_triangles(points: list[Single], corners: list[Index]) -> list[Samples]:
    """Centroid and area along x of each triangle, those with long sides halved until short.

    A step of the sum over x takes all triangles of its layer, and each is shared out to four
    columns by nearness; both hold for triangles that are small next to a cell.
    """
    x, y, z = ([np.take(values, corner) for corner in corners] for values in points)
    is_large = np.zeros(len(corners[0]), dtype=np.bool_)
    for values in (x, y, z):
        for k in (1, 2):
            is_large |= np.abs(values[k] - values[0]) > LONGEST_SIDE
    if not is_large.any():
        return [_samples(x, y, z)]
    small = ~is_large
    result = [_samples(*([v[small] for v in values] for values in (x, y, z)))]
    large = np.stack([np.stack([v[is_large] for v in values], -1) for values in (x, y, z)], -1)
    while len(large):
        side = np.linalg.norm(large - np.roll(large, -1, axis=1), axis=2)
        long = side.max(axis=1) > LONGEST_SIDE
        done = large[~long]
        result.append(_samples(*([done[:, k, axis] for k in range(3)] for axis in range(3))))
        # Halved at the longest side, so that long thin triangles stay few.
        large, at = large[long], np.argmax(side[long], axis=1)
        index = np.arange(len(large))
        a, b, c = (large[index, (at + k) % 3] for k in range(3))
        middle = np.float32(0.5) * (a + b)
        large = np.concatenate([np.stack([a, middle, c], 1), np.stack([middle, b, c], 1)])
    return result


def _samples(x: list[Single], y: list[Single], z: list[Single]) -> Samples:
    shown = (y[1] - y[0]) * (z[2] - z[0]) - (z[1] - z[0]) * (y[2] - y[0])
    third = np.float32(1.0 / 3.0)
    centre = [(values[0] + values[1] + values[2]) * third for values in (x, y, z)]
    return centre[0], centre[1], centre[2], shown * np.float32(0.5)
