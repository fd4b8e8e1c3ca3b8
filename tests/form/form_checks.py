"""What several tests of the form need."""

from __future__ import annotations

import numpy as np

from lossfill.form.cells import Cells
from lossfill.frame.profile import Profile, at
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
        height_mm=cell_mm * (np.arange(rows) + 0.5),
        normal_r=np.ones(rows),
        normal_z=np.zeros(rows),
        row_mm=cell_mm,
        column_rad=column_rad,
        across=np.array([], dtype=np.intp),
    )


def cells_on(profile: Profile, *, cell_mm: float = 1.5) -> Cells:
    """Cells about `cell_mm` wide at the profile's widest, an even number of rows along it."""
    n = len(profile.points)
    length = profile.spacing_mm * (n - 1)
    rows = round(length / cell_mm)
    along = (np.arange(rows) + 0.5) * (n - 1) / rows
    points, normals = at(profile, along)
    inner = int((along < profile.lip).sum())
    apart = np.linalg.norm(points[:inner, None] - points[None, inner:], axis=2)
    columns = 4 * round(2.0 * np.pi * float(points[:, 0].max()) / cell_mm / 4)
    return Cells(
        along=along,
        radius_mm=points[:, 0],
        height_mm=points[:, 1],
        normal_r=normals[:, 0],
        normal_z=normals[:, 1],
        row_mm=length / rows,
        column_rad=2.0 * np.pi / columns,
        across=inner + apart.argmin(axis=1),
    )


def rms(values: FloatArray) -> float:
    """Root of the mean square."""
    return float(np.sqrt(np.mean(np.square(values))))
