"""The gate: no piece leaves unless the file itself, read back, is one sound solid.

It judges what was written, not what was meant: corners are read from the file, joined only where
their 32-bit numbers are the same, and the solid is built from those.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from lossfill import tolerances
from lossfill.errors import BooleanError
from lossfill.fill.fill import Check
from lossfill.mesh import Mesh, rounding_mm3, signed_volume_mm3
from lossfill.pack.stl import read_corners, welded
from lossfill.pack.threemf import read_3mf
from lossfill.solids import Solid, checked, solid_from_mesh


def check_piece(path: Path, body_nearby: Solid) -> Check:
    """Read a written piece and measure all that can be wrong with it.

    Parameters
    ----------
    path : an STL or a 3MF file of one piece, mm, in scan coordinates
    body_nearby : the body around the piece, same coordinates

    Returns
    -------
    Check
        Findings; `Check.passed` says whether the piece may leave. The clash of a piece that is no
        solid cannot be measured; it is then given as the piece's whole volume.

    Raises
    ------
    ExportError
        Where the file cannot be read at all.
    """
    if path.suffix == ".3mf":
        mesh, roundings = read_3mf(path).mesh, tolerances.ROUNDINGS_3MF
    else:
        mesh, roundings = welded(read_corners(path)), tolerances.ROUNDINGS_STL
    volume_mm3 = signed_volume_mm3(mesh)
    watertight = is_watertight(mesh)
    clash_mm3, parts = abs(volume_mm3), count_parts(mesh)
    # A solid of inward faces counts as empty space to the modeller: nothing to measure there.
    if watertight and volume_mm3 > 0:
        try:
            solid = solid_from_mesh(mesh)
            # Two bodies that touch in one corner weld to one there; the modeller parts them.
            parts = len(list(solid.decompose()))
            shared = checked(solid ^ body_nearby, "the piece and the body cannot be compared")
            clash_mm3 = abs(float(shared.volume()))
        except BooleanError:
            watertight = False
    return Check(
        watertight=watertight,
        outward=volume_mm3 > 0,
        one_part=parts == 1,
        clash_mm3=clash_mm3,
        clash_limit_mm3=rounding_mm3(mesh, roundings=roundings),
        volume_mm3=volume_mm3,
    )


def require_passed(check: Check, name: str) -> None:
    """Raise for a piece that may not leave: the fault is ours, not the scan's or the folder's.

    Raises
    ------
    BooleanError
        Saying what is wrong with it.
    """
    if check.passed:
        return
    if not check.watertight:
        fault = "its surface is not closed"
    elif not check.outward:
        fault = f"its faces point inwards (volume {check.volume_mm3:.4g} mm³)"
    elif not check.one_part:
        fault = "it is in more than one part"
    else:
        fault = (
            f"it overlaps the body by {check.clash_mm3:.3g} mm³, "
            f"more than the {check.clash_limit_mm3:.2g} mm³ of rounding"
        )
    raise BooleanError(
        f"{name} failed its check and nothing was written: {fault}; "
        "try another clearance, or mend the scan near this loss"
    )


def is_watertight(mesh: Mesh) -> bool:
    """Tell whether each edge is shared by exactly two triangles that run along it opposite ways.

    That is the rule of the 3MF Core Specification 1.4, 4.1; a triangle with two equal corners
    breaks it too, for its edges run from a vertex to itself.
    """
    start = mesh.faces.ravel().astype(np.int64)
    end = np.roll(mesh.faces, -1, axis=1).ravel().astype(np.int64)
    if (start == end).any():
        return False
    n = len(mesh.vertices)
    there, back = np.sort(start * n + end), np.sort(end * n + start)
    once_each_way = bool((there[1:] != there[:-1]).all())
    return once_each_way and bool((there == back).all())


def count_parts(mesh: Mesh) -> int:
    """Count the parts of a mesh that share no vertex."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    start = mesh.faces.ravel()
    end = np.roll(mesh.faces, -1, axis=1).ravel()
    n = len(mesh.vertices)
    used = np.unique(start)
    links = coo_array((np.ones(len(start), dtype=np.int8), (start, end)), shape=(n, n))
    _, labels = connected_components(links, directed=False)
    return len(np.unique(labels[used]))
