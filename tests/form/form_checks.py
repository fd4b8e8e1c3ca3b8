"""What several tests of the form need."""

from __future__ import annotations

import numpy as np

from lossfill.form.cells import Cells
from lossfill.mesh import FloatArray


def drum(
    rows: int, columns: int, *, cell_mm: float = 1.5, radius_mm: FloatArray | None = None
) -> Cells:
    """Cells on a straight upright wall, square ones unless a radius for each row is given."""
    column_rad = 2.0 * np.pi / columns
    radius = np.full(rows, cell_mm / column_rad) if radius_mm is None else radius_mm
    return Cells(
        along=np.arange(rows) + 0.5,
        radius_mm=radius,
        normal_r=np.ones(rows),
        normal_z=np.zeros(rows),
        row_mm=cell_mm,
        column_rad=column_rad,
    )


def rms(values: FloatArray) -> float:
    """Root of the mean square."""
    return float(np.sqrt(np.mean(np.square(values))))
