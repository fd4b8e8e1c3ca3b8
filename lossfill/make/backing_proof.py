"""What is measured of a backing: its face on the skin, what it covers, how it comes off."""

from __future__ import annotations

import numpy as np

from lossfill import tolerances as tol
from lossfill.make.former import Ground
from lossfill.make.made import Proved
from lossfill.mesh import FloatArray, Mesh, face_vectors, points_over, unit
from lossfill.nearest import Surface
from lossfill.solids import Solid, mesh_from_solid


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
    swept = max(shared_mm3(solid.translate(tuple(step)), ground) for step in _way(ground))
    strays, hold = tol.FACE_STRAYS_MM, tol.FORMER_SHARED_MM3
    proved = (
        Proved("face off its stand over the gap, 95 of 100 places, mm", on_gap, strays),
        Proved("face off its stand over the wall, 95 of 100 places, mm", on_wall, strays),
        Proved("share of the gap left bare", bare_gap, tol.GAP_BARE_SHARE),
        Proved("share of the margin left bare", bare_wall, tol.FORMER_BARE_SHARE),
        Proved("volume shared with the vessel in place, mm³", shared, hold),
        Proved("volume shared with the vessel on the way off, mm³", swept, hold),
    )
    return proved, bare_wall


def face_of(shell: Solid, ground: Ground, release_mm: float) -> Mesh:
    """The triangles of a shell that lie on the skin, an open mesh.

    They look at the skin and are nearer to it than a quarter of a millimetre past their stand.
    """
    mesh = mesh_from_solid(shell)
    middles = mesh.vertices[mesh.faces].mean(axis=1)
    places, normals = Surface(ground.whole).closest(middles)
    looks = (unit(face_vectors(mesh)) * normals).sum(axis=1) < -0.8
    near = np.linalg.norm(places - middles, axis=1) < release_mm + 0.25
    return Mesh(mesh.vertices, mesh.faces[looks & near])


def shared_mm3(solid: Solid, ground: Ground) -> float:
    """Volume shared with the body and the missing material about the gap, mm³."""
    return float(sum((solid ^ part).volume() for part in ground.parts))


def _errors(face: Mesh, ground: Ground, margin_mm: float, release_mm: float) -> tuple[float, float]:
    """How far nineteen of twenty places of the face stray over the gap and over the wall, mm."""
    points = points_over(face, spacing_mm=0.5)
    # Its rim is blunt by about a cube: that is not its face.
    past = Surface(ground.patch).distance(points)
    points = points[(past < margin_mm - 1.0) & (points[:, 2] < ground.crest_mm - 1.0)]
    error = np.abs(Surface(ground.whole).distance(points) - release_mm)
    over_gap = Surface(ground.patch).distance(points) < release_mm + 0.05
    result = [
        float(np.percentile(some, 95)) if len(some) else float("nan")
        for some in (error[over_gap], error[~over_gap])
    ]
    return result[0], result[1]


def _bare(face: Mesh, ground: Ground, margin_mm: float, release_mm: float) -> tuple[float, float]:
    """Shares of the gap's skin and of the wall's about it over which there is no face."""
    near = release_mm + 0.5
    surface, patch = Surface(face), Surface(ground.patch)
    gap = points_over(ground.patch, spacing_mm=1.0)
    gap = gap[gap[:, 2] < ground.crest_mm - 0.5]
    wall = points_over(ground.good, spacing_mm=1.0)
    # The face's edge is rounded towards the back only: it covers the margin to within a cube.
    away = patch.distance(wall)
    wall = wall[(away > 0.5) & (away < margin_mm - 1.0)]
    wall = wall[_same_skin(wall, ground)]
    return tuple(  # type: ignore[return-value]
        float((surface.distance(some) > near).mean()) if len(some) else 0.0 for some in (gap, wall)
    )


def _same_skin(points: FloatArray, ground: Ground) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Which places belong to the skin that the gap's is part of, not to something behind it."""
    normals = Surface(ground.patch).closest(points)[1]
    own = Surface(ground.good).closest(points)[1]
    result: np.ndarray[tuple[int], np.dtype[np.bool_]] = (own * normals).sum(axis=1) > 0.0
    return result


def _way(ground: Ground) -> FloatArray:
    """The stations of its way off, (N, 3) mm."""
    steps = np.linspace(0.0, tol.FORMER_TRAVEL_MM, tol.FORMER_STATIONS + 1)[1:]
    # The first tenths are where a face that is held drags.
    close = np.array([0.05, 0.1, 0.2, 0.4])
    result: FloatArray = np.concatenate([close, steps])[:, None] * ground.away
    return result
