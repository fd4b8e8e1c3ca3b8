"""The order in which a scan is mended, and when mending stops.

A sound scan must cost no more than building one solid, so that is tried first, and every step that
follows runs only on what failed it.
"""

from __future__ import annotations

from dataclasses import replace

import manifold3d
import numpy as np

from lossfill.body.body import Body, Repair
from lossfill.body.debris import find_debris, parts_of, triangle_areas_mm2
from lossfill.body.onebody import body_of_one_skin, check_wall
from lossfill.body.openings import Closed, Closing, close_openings, face_to_face
from lossfill.body.overlap import find_overlap
from lossfill.body.pieces import Settled, refuse_far_apart, settle
from lossfill.body.topology import Edges, edges_of, label_faces, label_sheets, used_vertices
from lossfill.body.weld import repeated_faces, weld, without_degenerate
from lossfill.body.winding import against_the_rest, check_edges, clear_fins, place_text
from lossfill.errors import BooleanError, InputError, NotWatertightError
from lossfill.mesh import BoolArray, FloatArray, IntArray, Mesh, signed_volume_mm3
from lossfill.scan.scan import Scan
from lossfill.solids import solid_from_mesh
from lossfill.tolerances import LUMP_WALL, OVERLAP_SHARE, PINHOLE_WIDTH, SHEET_THICKNESS

HOLES_LISTED = 20
"""Scan holes that are listed one by one; the rest are summed up."""


def make_body(scan: Scan, *, wall_mm: float | None = None) -> Body:
    """Find the solid that a scan shows, and list every repair that was needed.

    Parameters
    ----------
    scan : triangles in mm, which stay as they are
    wall_mm : thickness of the wall, used where the scan shows one skin only; None borrows it from
        where both skins or the break faces were scanned

    Returns
    -------
    Body
        In scan coordinates. A scan that needs no repair keeps its own arrays.

    Raises
    ------
    NotWatertightError
        Where openings remain that are no scan holes, with their number, size and place, or where
        one skin was scanned and nothing says how thick the wall is.
    InputError
        Where the scan is a sheet, holds separate objects or only scraps, overlaps itself, or has
        edges that more than two triangles share.
    """
    check_wall(wall_mm)
    body = _mended(scan.mesh, wall_mm)
    if wall_mm is None or body.assumed is not None:
        return body
    told = (
        f"the wall of {wall_mm:g} mm that you gave was not used: the scan shows both sides of the "
        "wall"
    )
    return replace(body, warnings=(*body.warnings, told))


def _mended(mesh: Mesh, wall_mm: float | None) -> Body:
    solid = _sound_solid(mesh)
    if solid is not None:
        return Body(mesh, np.zeros(len(mesh.faces), dtype=np.bool_), solid)
    repairs: list[Repair] = []
    faces, edges = _tidy(mesh.vertices, mesh.faces, repairs)
    closing = close_openings(mesh.vertices, faces, edges)
    is_open = bool((edges.uses == 1).any())
    if is_open and (closing.left or wall_mm is not None or _may_be_lump(closing)):
        one_skin = body_of_one_skin(mesh, faces, repairs, wall_mm=wall_mm)
        if one_skin is not None:
            _check_solid(one_skin.mesh, one_skin.solid)
            return one_skin
    _refuse_left(closing)
    warnings = _list_holes(closing, repairs)
    patched = np.zeros(len(closing.faces), dtype=np.bool_)
    patched[len(closing.faces) - closing.n_added :] = True
    settled = settle(closing.vertices, closing.faces, patched)
    _list_settled(settled, len(closing.faces), repairs)
    mended, settled_patched = _compact(mesh, settled)
    try:
        solid = solid_from_mesh(mended)
    except BooleanError as error:
        raise InputError(
            "the scan's surface cannot be made closed: remesh it in the scanner's program "
            f"({error})"
        ) from error
    if solid.num_tri() != len(mended.faces):
        dropped = len(mended.faces) - int(solid.num_tri())
        repairs.append(Repair("dropped triangles without area", dropped, None, 0.0))
        mended, settled_patched, solid = _as_built(mended, settled_patched)
    _check_solid(mended, solid)
    return Body(mended, settled_patched, solid, tuple(repairs), warnings)


def _sound_solid(mesh: Mesh) -> manifold3d.Manifold | None:
    """Return the solid of a scan that needs no repair, or None."""
    if len(mesh.faces) % 2 or len(mesh.vertices) >= 3 * len(mesh.faces):
        # Three half-edges a triangle cannot pair off, or no two triangles share a vertex: it is
        # open for sure, and the attempt would cost more than all else.
        return None
    try:
        solid: manifold3d.Manifold = solid_from_mesh(mesh)
    except BooleanError:
        return None
    # The modeller drops triangles without area or thickness and vertices without triangles; later
    # stages must not meet them either.
    used = used_vertices(mesh.faces, len(mesh.vertices))
    if solid.num_tri() != len(mesh.faces) or not used.all() or solid.volume() <= 0.0:
        return None
    if label_faces(mesh.faces, len(mesh.vertices))[0] > 1:
        return None
    _check_solid(mesh, solid)
    return solid


def _tidy(vertices: FloatArray, faces: IntArray, repairs: list[Repair]) -> tuple[IntArray, Edges]:
    """Weld, drop what bounds nothing, and wind consistently; openings stay open."""
    n_given = len(faces)
    faces = without_degenerate(faces)
    if len(faces) == 0:
        raise InputError(f"all {n_given} triangles are without area: export the scan again")
    faces, edges, n_joined = weld(vertices, faces, edges_of(faces))
    if n_joined:
        repairs.append(Repair("joined vertices that were split along seams", n_joined, None, 0.0))
    if len(faces) == 0:
        raise InputError(f"all {n_given} triangles are without area: export the scan again")
    if len(faces) < n_given:
        dropped = n_given - len(faces)
        repairs.append(Repair("dropped triangles without area", dropped, None, 0.0))
    repeated = repeated_faces(faces, edges)
    if repeated.any():
        place, size = _whereabouts(vertices, faces[repeated])
        repairs.append(Repair("dropped doubled triangles", int(repeated.sum()), place, size))
        faces = faces[~repeated]
        if len(faces) == 0:
            raise _sheet(0.0, SHEET_THICKNESS * float(np.linalg.norm(np.ptp(vertices, axis=0))))
        edges = edges_of(faces)
    faces, edges = _drop_debris(vertices, faces, edges, repairs)
    faces, edges, fins = clear_fins(vertices, faces, edges)
    if len(fins):
        place, size = _whereabouts(vertices, fins)
        what = "dropped sheets of no thickness that stood on the surface"
        repairs.append(Repair(what, len(fins), place, size))
    turn = against_the_rest(vertices, faces, edges)
    if turn.any():
        place, size = _whereabouts(vertices, faces[turn])
        what = "turned over triangles that faced against their neighbours"
        repairs.append(Repair(what, int(turn.sum()), place, size))
        faces = np.where(turn[:, None], faces[:, ::-1], faces)
        edges = edges_of(faces)
    check_edges(vertices, edges)
    return faces, edges


def _drop_debris(
    vertices: FloatArray, faces: IntArray, edges: Edges, repairs: list[Repair]
) -> tuple[IntArray, Edges]:
    parts = parts_of(vertices, faces, *label_sheets(len(faces), edges))
    debris = find_debris(parts)
    if debris.any():
        extent = np.where(debris, parts.extent_mm, 0.0)
        largest = int(np.argmax(extent))
        place = _tuple(0.5 * (parts.low[largest] + parts.high[largest]))
        repairs.append(
            Repair("dropped loose scraps", int(debris.sum()), place, float(extent[largest]))
        )
        kept = ~debris[parts.label]
        faces, edges = faces[kept], edges_of(faces[kept])
    if not debris.all():
        refuse_far_apart(parts.low[~debris], parts.high[~debris])
    _refuse_sheet(vertices, faces, edges)
    return faces, edges


def _refuse_sheet(vertices: FloatArray, faces: IntArray, edges: Edges) -> None:
    if not (edges.uses == 1).any():
        return
    points = vertices[used_vertices(faces, len(vertices))]
    spread = points - points.mean(axis=0)
    _, axes = np.linalg.eigh(spread.T @ spread)
    span = np.ptp(spread @ axes, axis=0)
    if span[0] <= SHEET_THICKNESS * float(np.linalg.norm(span)):
        raise InputError(
            f"the scan is one flat sheet, {span[1]:.0f} by {span[2]:.0f} mm and "
            f"{span[0]:.3f} mm thick: scan the vessel from all sides"
        )


def _may_be_lump(closing: Closing) -> bool:
    """Tell whether closing the mouth of a scan of one skin may have made a lump of it."""
    points = closing.vertices[used_vertices(closing.faces, len(closing.vertices))]
    diagonal = float(np.linalg.norm(np.ptp(points, axis=0)))
    if not any(hole.width_mm > PINHOLE_WIDTH * diagonal for hole in closing.closed):
        return False
    mesh = Mesh(closing.vertices, closing.faces)
    area = float(triangle_areas_mm2(mesh.vertices, mesh.faces).sum())
    return 2.0 * abs(signed_volume_mm3(mesh)) > LUMP_WALL * diagonal * area


def _refuse_left(closing: Closing) -> None:
    if not closing.left:
        return
    widest = closing.left[0]
    count = len(closing.left)
    openings = "1 opening remains" if count == 1 else f"{count} openings remain"
    raise NotWatertightError(
        f"{openings} that cannot be closed without inventing shape; the widest is "
        f"{widest.width_mm:.1f} mm across at {place_text(widest.centre)}: scan the vessel from "
        "that side too, inside and outside, and merge the scans"
    )


def _list_holes(closing: Closing, repairs: list[Repair]) -> tuple[str, ...]:
    for hole in closing.closed[:HOLES_LISTED]:
        repairs.append(Repair(hole.how, 1, _tuple(hole.place_mm), hole.width_mm))
    rest = closing.closed[HOLES_LISTED:]
    if rest:
        repairs.append(Repair("closed smaller scan holes", len(rest), None, rest[0].width_mm))
    return tuple(_opposite_text(*pair) for pair in face_to_face(closing.closed))


def _opposite_text(one: Closed, other: Closed) -> str:
    return (
        f"two scan holes lie opposite each other through the wall at {place_text(one.place_mm)} "
        f"({one.width_mm:.0f} and {other.width_mm:.0f} mm across) and were both closed: if a piece "
        "is missing there, scan the break as well"
    )


def _list_settled(settled: Settled, n_faces: int, repairs: list[Repair]) -> None:
    if settled.n_turned == n_faces:
        repairs.append(Repair("turned the inside-out scan", n_faces, None, 0.0))
    elif settled.n_turned:
        repairs.append(Repair("turned inside-out parts", settled.n_turned, None, 0.0))
    if settled.n_joined:
        repairs.append(Repair("joined overlapping sherds", settled.n_joined, None, 0.0))


def _check_solid(mesh: Mesh, solid: manifold3d.Manifold) -> None:
    volume, area = float(solid.volume()), float(solid.surface_area())
    wall = 2.0 * volume / area if area > 0.0 else 0.0
    limit = SHEET_THICKNESS * mesh.diagonal_mm
    if wall <= limit:
        raise _sheet(wall, limit)
    overlap = find_overlap(mesh)
    if overlap.volume_mm3 > OVERLAP_SHARE * volume:
        raise InputError(
            f"the surface runs through itself: about {overlap.volume_mm3 / 1000.0:.2f} ml around "
            f"{place_text(np.array(overlap.place_mm))} is counted twice or inside out "
            f"({overlap.volume_mm3 / volume:.1%} of the material, limit {OVERLAP_SHARE:.1%}): "
            "merge and remesh the scan in the scanner's program"
        )


def _sheet(wall_mm: float, limit_mm: float) -> InputError:
    return InputError(
        f"the scan encloses no material: its mean wall is {wall_mm:.4f} mm (limit {limit_mm:.4f}): "
        "it is a sheet; scan the vessel inside and outside"
    )


def _compact(scanned: Mesh, settled: Settled) -> tuple[Mesh, BoolArray]:
    """Drop vertices that no triangle uses; colours go with the vertices that were scanned."""
    used = used_vertices(settled.faces, len(settled.vertices))
    number = np.cumsum(used, dtype=np.int32) - np.int32(1)
    vertices = settled.vertices[used]
    colours = None
    if scanned.colours is not None and settled.n_joined == 0:
        colours = np.full((len(settled.vertices), 3), 128, dtype=np.uint8)
        colours[: len(scanned.colours)] = scanned.colours
        colours = colours[used]
    patched = settled.patched
    patched.flags.writeable = False
    return Mesh(vertices, number[settled.faces], colours), patched


def _as_built(mesh: Mesh, patched: BoolArray) -> tuple[Mesh, BoolArray, manifold3d.Manifold]:
    """Take over the modeller's own triangles where it dropped some that have no area."""
    number = np.arange(len(mesh.faces), dtype=np.uint64)
    solid = manifold3d.Manifold(
        manifold3d.Mesh64(np.array(mesh.vertices), mesh.faces.astype(np.uint64), face_id=number)
    )
    raw = solid.to_mesh64()
    kept = patched[np.asarray(raw.face_id, dtype=np.int64)]
    kept.flags.writeable = False
    vertices = np.ascontiguousarray(raw.vert_properties[:, :3])
    colours = None
    if mesh.colours is not None:
        from scipy.spatial import cKDTree

        colours = mesh.colours[cKDTree(mesh.vertices).query(vertices)[1]]
    return Mesh(vertices, raw.tri_verts.astype(np.int32), colours), kept, solid


def _whereabouts(vertices: FloatArray, faces: IntArray) -> tuple[tuple[float, float, float], float]:
    """Middle and extent of some triangles, mm."""
    points = vertices[faces.ravel()]
    low, high = points.min(axis=0), points.max(axis=0)
    return _tuple(0.5 * (low + high)), float(np.linalg.norm(high - low))


def _tuple(place: FloatArray) -> tuple[float, float, float]:
    return (float(place[0]), float(place[1]), float(place[2]))
