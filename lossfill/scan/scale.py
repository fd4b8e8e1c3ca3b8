"""A scan whose scale is known only from a length that was measured on the pot."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from lossfill.errors import InputError
from lossfill.mesh import Mesh
from lossfill.scan.scan import Scan
from lossfill.tolerances import LARGEST_VESSEL_MM, RIM_LEAST_MM


def check_rim(rim_diameter_mm: float | None) -> None:
    """Refuse a rim diameter that no vessel has.

    Raises
    ------
    InputError
        Outside 5 to 1000 mm.
    """
    low, high = RIM_LEAST_MM, LARGEST_VESSEL_MM
    if rim_diameter_mm is not None and not low <= rim_diameter_mm <= high:
        raise InputError(
            f"a rim diameter of {rim_diameter_mm:g} mm is outside {low:g} to {high:g} mm: measure "
            "the rim across the outside of its lip and give that with --rim-diameter MM"
        )


def scaled(scan: Scan, factor: float, *, told: str = "") -> Scan:
    """Return the scan with all lengths times `factor`, and a warning where a reason is told.

    Raises
    ------
    InputError
        Where that makes no vessel of at most 1000 mm.
    """
    if not np.isfinite(factor) or factor <= 0.0:
        raise InputError("all points of the scan lie in one place: export the scan again")
    mesh = Mesh(scan.mesh.vertices * factor, scan.mesh.faces, scan.mesh.colours)
    if not told:
        return replace(scan, mesh=mesh)
    sides = np.ptp(mesh.bounds, axis=0)
    if float(sides.max()) > LARGEST_VESSEL_MM:
        raise InputError(
            f"{told} makes the scan {sides.max():.0f} mm large (limit {LARGEST_VESSEL_MM:.0f} mm): "
            "measure the rim again"
        )
    size = " × ".join(f"{side:.1f}" for side in sides)
    warning = (
        f"SCALED TO THE RIM: the scan was multiplied by {factor:.6g} to meet {told}, and measures "
        f"{size} mm; pieces lie in the coordinates of the scan so scaled, not in the file's"
    )
    return replace(scan, mesh=mesh, scale=scan.scale * factor, warnings=(*scan.warnings, warning))
