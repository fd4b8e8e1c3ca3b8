"""Throwing rings: the fine spiral that fingers leave on a wheel.

A spiral of pitch P is cos(2πs/P ± θ): at each place along the profile a first harmonic around the
turn whose phase runs with s. It is far too quick along the wall for the elastic field, yet it goes
on through a gap exactly, so each row of cells gets a mean and a first harmonic of its own.
"""

from __future__ import annotations

import numpy as np

from lossfill import tolerances as tol
from lossfill.form.cells import Cells, Skin
from lossfill.mesh import BoolArray, FloatArray
from lossfill.robust import belief, spread_of


def add_rings(cells: Cells, skin: Skin, field_mm: FloatArray) -> FloatArray:
    """Elastic field with the rings added, (R, C) mm; rows with little skin get little of them."""
    there = skin.weight > 0
    residual = np.where(there, skin.offset_mm - field_mm, 0.0)
    waves = np.stack([np.ones_like(cells.angles), np.cos(cells.angles), np.sin(cells.angles)], 1)
    pairs = (waves[:, :, None] * waves[:, None, :]).reshape(len(waves), 9)
    rings = np.zeros(cells.shape)
    for _ in range(4):
        rest = residual - rings
        spread = spread_of(rest[there]) + 1e-3
        ridge = np.eye(3) * tol.RING_CELLS * (spread / tol.RING_MM) ** 2
        weight = there * belief(rest, spread)
        matrix = (weight @ pairs).reshape(-1, 3, 3) + ridge
        right = (weight * residual) @ waves
        rings = np.linalg.solve(matrix, right[:, :, None])[:, :, 0] @ waves.T
    result: FloatArray = field_mm + rings
    return result


def with_rings(cells: Cells, skin: Skin, field_mm: FloatArray, hidden: BoolArray) -> FloatArray:
    """Elastic field with the rings that show outside of what is hidden, (R, C) mm."""
    return add_rings(cells, Skin(skin.offset_mm, np.where(hidden, 0.0, skin.weight)), field_mm)
