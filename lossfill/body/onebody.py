"""The body of a scan of one skin: what was assumed of its wall, and how that is told."""

from __future__ import annotations

import numpy as np

from lossfill import tolerances as tol
from lossfill.body.body import Body, Repair
from lossfill.body.oneskin import (
    OpenSkin,
    open_skin,
    opposite_mm,
    outward,
    share_of_two_skins,
    wall_between_skins,
    wall_from_breaks,
)
from lossfill.body.patch import rim_of
from lossfill.body.thicken import Thickened, thicken
from lossfill.body.topology import boundary_loops, edges_of, used_vertices
from lossfill.body.winding import place_text
from lossfill.errors import InputError, NotWatertightError
from lossfill.mesh import FloatArray, IntArray, Mesh

_FROM_BREAKS = "the median width of the break faces that were scanned"
_FROM_BOTH = "the median where both skins were scanned"


def body_of_one_skin(
    scanned: Mesh, faces: IntArray, repairs: list[Repair], *, wall_mm: float | None
) -> Body | None:
    """Make a solid of an open scan that shows one skin; None where it shows both.

    Parameters
    ----------
    scanned : the scan
    faces : its triangles after tidying, consistently wound, with openings
    repairs : what was done so far; it is added to
    wall_mm : thickness of the wall, or None to borrow it from the scan

    Raises
    ------
    NotWatertightError
        Where nothing says how thick the wall is.
    InputError
        Where a wall so thick leaves no hollow.
    """
    used = used_vertices(faces, len(scanned.vertices))
    number = np.cumsum(used, dtype=np.int32) - np.int32(1)
    vertices = scanned.vertices[used]
    faces = outward(vertices, number[faces])
    mesh = Mesh(vertices, faces)
    places, distance = opposite_mm(mesh)
    share = share_of_two_skins(distance, mesh.diagonal_mm)
    if share >= tol.TWO_SKINS_SHARE:
        return None
    known_mm, source = (wall_mm, "") if wall_mm is not None else _borrowed(mesh, places, distance)
    skin = open_skin(vertices, faces, wall_mm=known_mm)
    made = thicken(skin, wall_mm=known_mm)
    _list(skin, made, known_mm, repairs)
    colours = None
    if scanned.colours is not None:
        from scipy.spatial import cKDTree

        colours = scanned.colours[used][cKDTree(vertices).query(made.mesh.vertices)[1]]
    mask, assumed = made.patched, made.assumed
    mask.flags.writeable = assumed.flags.writeable = False
    return Body(
        Mesh(made.mesh.vertices, made.mesh.faces, colours),
        mask,
        made.solid,
        tuple(repairs),
        _warnings(skin, known_mm, source),
        assumed,
    )


def check_wall(wall_mm: float | None) -> None:
    """Refuse a thickness that no wall has.

    Raises
    ------
    InputError
        Outside `tolerances.WALL_RANGE_MM`.
    """
    low, high = tol.WALL_RANGE_MM
    if wall_mm is not None and not low <= wall_mm <= high:
        raise InputError(
            f"a wall of {wall_mm:g} mm is outside {low:g} to {high:g} mm: measure the wall at a "
            "break or at the rim and give it with --wall MM"
        )


def _borrowed(mesh: Mesh, places: FloatArray, distance: FloatArray) -> tuple[float, str]:
    """Thickness of the wall from the scan itself, and where it is from."""
    found, source = wall_from_breaks(mesh.vertices, mesh.faces), _FROM_BREAKS
    if found is None:
        found, source = wall_between_skins(mesh, places, distance), _FROM_BOTH
    low, high = tol.WALL_RANGE_MM
    if found is not None and low <= found <= high:
        return found, source
    rims = [rim_of(mesh.vertices, k) for k in boundary_loops(mesh.faces, edges_of(mesh.faces))]
    widest = max(rims, key=lambda rim: rim.width_mm)
    openings = "1 opening remains" if len(rims) == 1 else f"{len(rims)} openings remain"
    raise NotWatertightError(
        f"this looks like a scan of one skin, and nothing says how thick its wall is ({openings}; "
        f"the widest is {widest.width_mm:.1f} mm across at {place_text(widest.centre)}): give the "
        "wall's thickness with --wall MM, or scan inside and outside and merge the scans"
    )


def _list(skin: OpenSkin, made: Thickened, wall_mm: float, repairs: list[Repair]) -> None:
    if skin.n_pinholes:
        repairs.append(Repair("closed small scan holes", skin.n_pinholes, None, 0.0))
    if skin.bottom is not None:
        x, y, z = (float(value) for value in skin.bottom.centre)
        what = "closed the bottom, which was not scanned, flat"
        repairs.append(Repair(what, 1, (x, y, z), skin.bottom.width_mm))
    repairs.append(
        Repair(f"assumed an inner skin {wall_mm:.1f} mm inside", 1, None, made.inner_extent_mm)
    )
    repairs.append(
        Repair(
            "assumed that the wall ends square to its skin at an opening",
            len(skin.edges),
            None,
            max((rim.width_mm for rim in skin.edges), default=0.0),
        )
    )


def _warnings(skin: OpenSkin, wall_mm: float, source: str) -> tuple[str, ...]:
    from_where = f" ({source})" if source else ", as you said"
    limit = tol.PINHOLE_WIDTH * skin.diagonal_mm
    told = (
        f"ONE SKIN SCANNED: the inner skin was not measured but assumed to lie {wall_mm:.1f} mm "
        f"inside the outer one everywhere{from_where}; volumes and the inside of each piece are "
        f"no better than that, and every opening wider than {limit:.0f} mm is taken for the mouth "
        "or a loss"
    )
    if skin.bottom is None:
        return (told,)
    return (
        told,
        f"the opening {skin.bottom.width_mm:.0f} mm wide at {place_text(skin.bottom.centre)} was "
        "taken for the bottom, which was not scanned, and closed flat",
    )
