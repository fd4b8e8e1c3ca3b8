"""What is measured of a backing: its face on the skin, what it covers, how it comes off."""

from __future__ import annotations

import numpy as np

from lossfill import tolerances as tol
from lossfill.make.former import Ground, together
from lossfill.make.heights import roughness_of
from lossfill.make.made import Proved
from lossfill.mesh import FloatArray, Mesh, centres, face_vectors, points_over, unit
from lossfill.nearest import Surface
from lossfill.solids import Solid, box_between, mesh_from_solid


def prove_backing(
    shell: Solid, solid: Solid, ground: Ground, *, release_mm: float, margin_mm: float
) -> tuple[tuple[Proved, ...], float]:
    """Measure a backing in its place.

    Returns
    -------
    proved : against their limits
    bare : share of the margin that it leaves bare
    """
    face = face_of(shell, ground, release_mm)
    on_gap, on_wall = _errors(face, ground, margin_mm, release_mm)
    bare_gap, bare_wall = _bare(face, ground, margin_mm, release_mm)
    shared = shared_mm3(solid, ground)
    swept = _swept_mm3(solid, ground)
    on_scan = (ground.past > 0.5) & (ground.past < margin_mm)
    rough = roughness_of(ground.plane, ground.heights, on_scan)
    roughest = float(np.percentile(rough, 95)) if len(rough) else float("nan")
    strays, hold = tol.FACE_STRAYS_MM, tol.FORMER_SHARED_MM3
    proved = (
        Proved("face off its stand over the gap, 95 of 100 places, mm", on_gap, strays),
        Proved("face off its stand over the wall, 95 of 100 places, mm", on_wall, strays),
        Proved(
            "roughness of the wall as scanned, 95 of 100 places, mm", roughest, tol.FACE_ROUGH_MM
        ),
        Proved("share of the gap left bare", bare_gap, tol.GAP_BARE_SHARE),
        Proved("share of the margin left bare", bare_wall, tol.FORMER_BARE_SHARE),
        Proved("volume shared with the vessel in place, mm³", shared, hold),
        Proved("volume shared with the vessel on the way off, mm³", swept, hold),
    )
    return proved, bare_wall


def face_of(shell: Solid, ground: Ground, release_mm: float) -> Mesh:
    """The triangles of a shell that lie on the skin, an open mesh.

    They look against the way off and are nearer to the skin than a quarter of a millimetre past
    their stand.
    """
    mesh = mesh_from_solid(shell)
    middles = centres(mesh)
    looks = unit(face_vectors(mesh)) @ ground.away < -0.2
    near = ground.whole.distance(middles) < release_mm + 0.25
    return Mesh(mesh.vertices, mesh.faces[looks & near])


def shared_mm3(solid: Solid, ground: Ground) -> float:
    """Volume shared with the body and all that is missing, mm³."""
    return float(sum((solid ^ part).volume() for part in _near(solid, ground)))


def _near(solid: Solid, ground: Ground) -> list[Solid]:
    """The parts of the vessel, cut to all that a solid passes on its way off."""
    moved = solid.translate(tuple(ground.travel_mm * ground.away))
    boxes = np.array([solid.bounding_box(), moved.bounding_box()])
    low, high = boxes[:, :3].min(axis=0) - 1.0, boxes[:, 3:].max(axis=0) + 1.0
    box = box_between(low, high)
    cut = [part ^ box for part in ground.parts]
    return [part for part in cut if part.volume() > 0.0]


def _swept_mm3(solid: Solid, ground: Ground) -> float:
    """The most volume shared with the vessel at any station of the way off, mm³."""
    parts = _near(solid, ground)
    return max(
        float(sum((solid.translate(tuple(step)) ^ part).volume() for part in parts))
        for step in _way(ground)
    )


def _errors(face: Mesh, ground: Ground, margin_mm: float, release_mm: float) -> tuple[float, float]:
    """How far nineteen of twenty places of the face stray over the gap and over the wall, mm."""
    points = points_over(face, spacing_mm=0.5)
    past = Surface(ground.patch).distance(points)
    points, past = points[past < margin_mm], past[past < margin_mm]
    error = np.abs(ground.whole.distance(points) - release_mm)
    over_gap = past < release_mm + 0.05
    result = [
        float(np.percentile(some, 95)) if len(some) else float("nan")
        for some in (error[over_gap], error[~over_gap])
    ]
    return result[0], result[1]


def _bare(face: Mesh, ground: Ground, margin_mm: float, release_mm: float) -> tuple[float, float]:
    """Shares of the gap's skin and of the wall's about it over which there is no face."""
    near = release_mm + 0.5
    surface, patch = Surface(face), Surface(ground.patch)
    gap = _below_lip(points_over(ground.patch, spacing_mm=1.0), ground)
    wall = _below_lip(points_over(_wall(ground, margin_mm), spacing_mm=1.0), ground)
    away = patch.distance(wall)
    wall = wall[(away > 0.5) & (away < margin_mm - 1.0)]
    return tuple(  # type: ignore[return-value]
        float((surface.distance(some) > near).mean()) if len(some) else 0.0 for some in (gap, wall)
    )


def _below_lip(points: FloatArray, ground: Ground) -> FloatArray:
    """Places that a former which ends at the lip can cover, to within its blunt edge."""
    if ground.lip is None:
        return points
    x = ground.plane.place_of(points)[:, 0]
    crest = np.interp(x, ground.plane.x, ground.lip.crest_mm)
    return points[points[:, 2] < crest - 0.5]


def _wall(ground: Ground, margin_mm: float) -> Mesh:
    """The skin about the gap that looks the former's way, an open mesh."""
    mesh = together(ground.parts)
    middles = centres(mesh)
    normals = unit(face_vectors(mesh))
    patch = Surface(ground.patch)
    chosen = normals @ ground.away > 1.0 / np.hypot(1.0, tol.FORMER_STEEPEST)
    chosen[chosen] = patch.distance(middles[chosen]) < margin_mm
    # A break may look that way as well: from there the way off begins inside the clay.
    starts = middles[chosen] + tol.FORMER_RAY_HAIR_MM * normals[chosen]
    ways = np.broadcast_to(ground.away, starts.shape)
    far, facing = ground.whole.along_rays(starts, ways)
    chosen[chosen] = np.isinf(far) | (facing < 0.0)
    return Mesh(mesh.vertices, mesh.faces[chosen])


def _way(ground: Ground) -> FloatArray:
    """The stations of its way off, (N, 3) mm."""
    steps = np.linspace(0.0, ground.travel_mm, tol.FORMER_STATIONS + 1)[1:]
    # The first tenths are where a face that is held drags.
    close = np.array([0.05, 0.1, 0.2, 0.4])
    result: FloatArray = np.concatenate([close, steps])[:, None] * ground.away
    return result
