"""What a scanner and a repair add to a vessel: noise, a pose, holes, seams of adhesive, colour."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from rays import Surface
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from lossfill.mesh import BoolArray, FloatArray, Mesh, face_vectors, transformed

__all__ = [
    "add_scan_holes",
    "add_seams",
    "as_scanned",
    "coloured",
    "from_outside",
    "random_pose",
    "smooth_noise",
]

_TOGETHER_MM = 0.2
"""Points closer than this move together: a scanner does not resolve them apart."""
GLAZE = (126, 148, 138)
CLAY = (196, 164, 128)
ADHESIVE = (92, 70, 44)


def smooth_noise(
    rng: np.random.Generator, *, scales_mm: tuple[float, float], rms_mm: float
) -> Callable[[FloatArray], FloatArray]:
    """Draw a random smooth function of place: sixty plane waves.

    Parameters
    ----------
    rng : source of the waves
    scales_mm : shortest and longest wavelength; long waves are the higher ones, as in a fractal
    rms_mm : root mean square of the values

    Returns
    -------
    Callable
        From points (…, 3) in mm to values (…).
    """
    n = 60
    length = scales_mm[0] * (scales_mm[1] / scales_mm[0]) ** rng.random(n)
    direction = rng.normal(size=(n, 3))
    direction /= np.linalg.norm(direction, axis=1, keepdims=True)
    wave = 2.0 * np.pi / length[:, None] * direction
    phase = rng.uniform(0.0, 2.0 * np.pi, n)
    height = length**0.8
    height *= rms_mm / np.sqrt(0.5 * (height**2).sum())

    def value(points: FloatArray) -> FloatArray:
        total = np.zeros(points.shape[:-1])
        for k in range(n):
            total += height[k] * np.cos(points @ wave[k] + phase[k])
        return total

    return value


def as_scanned(
    body: Mesh,
    *,
    noise_mm: float,
    rng: np.random.Generator,
    pose: bool = True,
    shuffle: bool = False,
) -> tuple[Mesh, FloatArray]:
    """Return the body as a scanner delivers it, and where it stands.

    Parameters
    ----------
    body : closed solid in the vessel's frame
    noise_mm : standard deviation of the noise along the surface normal
    rng : source of noise, pose and order
    pose : turn and move at random
    shuffle : put points and triangles in random order

    Returns
    -------
    Mesh
        With the same triangles, so as closed as the body was.
    (4, 4) array
        `scan_from_vessel`: maps a point of the vessel's frame into the scan.
    """
    vertices = body.vertices
    if noise_mm > 0.0:
        vertices = vertices + _noise(body, noise_mm, rng)
    mesh = Mesh(vertices, body.faces, body.colours)
    matrix = random_pose(rng) if pose else np.eye(4)
    mesh = transformed(mesh, matrix) if pose else mesh
    return (_shuffled(mesh, rng) if shuffle else mesh), matrix


def random_pose(rng: np.random.Generator) -> FloatArray:
    """Rigid (4, 4) transform: any turn, and up to 100 mm along each axis."""
    turn = rng.normal(size=4)
    w, x, y, z = turn / np.linalg.norm(turn)
    matrix = np.eye(4)
    matrix[:3, :3] = [
        [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
        [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
        [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
    ]
    matrix[:3, 3] = rng.uniform(-100.0, 100.0, 3)
    return matrix


def add_seams(
    body: Mesh,
    whole: Mesh,
    *,
    rng: np.random.Generator,
    n_cracks: int = 2,
    height_mm: float = 0.15,
    width_mm: float = 1.0,
) -> tuple[Mesh, BoolArray]:
    """Raise a bead of adhesive along cracks that run through the vessel.

    Parameters
    ----------
    body : what is left, in the vessel's frame
    whole : the vessel before it broke; seams rise from its skin, never from a break face
    rng : source of the cracks
    n_cracks, height_mm, width_mm : how many, and the bead's section

    Returns
    -------
    Mesh
        The body, its triangles refined along the beads.
    (V,) bool
        True on a bead.
    """
    span = 0.25 * (whole.bounds[1, 2] - whole.bounds[0, 2])
    cracks = []
    for k in range(n_cracks):
        # A wavering plane near the axis: down one side, through the floor, up the other. Turned so
        # that none splits a handle lengthwise.
        turn = np.pi * ((k + rng.uniform(0.2, 0.8)) / n_cracks - 0.5)
        normal = np.array([np.cos(turn), np.sin(turn), rng.uniform(-0.3, 0.3)])
        shift = rng.uniform(-span, span)
        cracks.append((normal / np.linalg.norm(normal), shift))
    waver = smooth_noise(rng, scales_mm=(15.0, 50.0), rms_mm=2.0)

    def from_crack(points: FloatArray) -> FloatArray:
        return np.asarray(np.min([np.abs(points @ n - s + waver(points)) for n, s in cracks], 0))

    fine = _refined(body, lambda points: from_crack(points) < 1.1 * width_mm, 0.55 * width_mm)
    on_skin = Surface(whole).distance(fine.vertices) < 0.02
    rise = height_mm * np.exp(-((2.0 * from_crack(fine.vertices) / width_mm) ** 2)) * on_skin
    raised = fine.vertices + vertex_normals(fine) * rise[:, None]
    return Mesh(raised, fine.faces, fine.colours), rise > 0.25 * height_mm


def add_scan_holes(
    mesh: Mesh,
    scan_from_vessel: FloatArray,
    *,
    rng: np.random.Generator,
    keep_away: FloatArray,
    n_pinholes: int = 3,
    patch_mm: float = 6.0,
    foot_patch: bool = True,
) -> Mesh:
    """Leave out what a scanner did not see.

    Parameters
    ----------
    mesh : the scan
    scan_from_vessel : its pose, (4, 4)
    rng : source of the places
    keep_away : (N, 3) points in the scan, such as a chunk's; no hole comes within 12 mm of them
    n_pinholes : holes of one missing point each
    patch_mm : width of one hole in the wall; 0 for none
    foot_patch : leave out the flat middle of the underside, where the vessel stood on the turntable

    Returns
    -------
    Mesh
        Open at the holes, each with one simple edge.
    """
    from scipy.spatial import cKDTree

    points = (mesh.vertices - scan_from_vessel[:3, 3]) @ scan_from_vessel[:3, :3]
    top = points[:, 2].max()
    far = cKDTree(keep_away).query(mesh.vertices, distance_upper_bound=12.0)[0] > 12.0
    wall = np.flatnonzero(far & (points[:, 2] > 0.3 * top) & (points[:, 2] < 0.85 * top))
    gone = np.zeros(len(points), dtype=bool)
    centres = points[rng.choice(wall, n_pinholes + 1, replace=False)]
    tree = cKDTree(points)
    gone[tree.query(centres[:n_pinholes])[1]] = True
    if patch_mm > 0.0:
        gone[tree.query_ball_point(centres[-1], patch_mm / 2.0)] = True
    if foot_patch:
        radius = np.hypot(points[:, 0], points[:, 1])
        faces_down = vertex_normals(Mesh(points, mesh.faces))[:, 2] < -0.9
        inside_foot = 0.7 * radius[points[:, 2] < 1.0].min()
        gone |= faces_down & (points[:, 2] < 0.15 * top) & (radius < inside_foot)
    return _without(mesh, gone)


def from_outside(
    body: Mesh, whole: Mesh, *, breaks: bool = False, bottom: bool = True, lip_mm: float = 0.0
) -> Mesh:
    """Leave out what is not seen from around the vessel: its inner skin.

    Parameters
    ----------
    body : what is left, in the vessel's frame (axis +z)
    whole : the vessel before it broke
    breaks : the break faces were seen, and scanned as well
    bottom : the underside was scanned; without it the scan ends 2 mm above the table
    lip_mm : depth below the rim to which the inside of the mouth was seen

    Returns
    -------
    Mesh
        Open at the mouth, at each loss, and at the bottom where that was not scanned.
    """
    corners = body.vertices[body.faces]
    centre = corners.mean(axis=1)
    area = face_vectors(body)
    normal = area / np.maximum(np.linalg.norm(area, axis=1, keepdims=True), 1e-30)
    outward = centre * [1.0, 1.0, 0.0]
    outward /= np.maximum(np.linalg.norm(outward, axis=1, keepdims=True), 1e-30)
    top = float(whole.vertices[:, 2].max())
    # From the inner skin the outer one is always met on the way out.
    seen = ~np.isfinite(Surface(whole).cast(centre + 0.01 * normal, outward))
    underside = (normal[:, 2] < -0.3) & (centre[:, 2] < 0.1 * top)
    seen = (seen | underside) if bottom else (seen & (corners[..., 2].min(axis=1) > 2.0))
    seen |= (centre[:, 2] > top - lip_mm) & (lip_mm > 0.0)
    is_break = Surface(whole).distance(centre) > 0.02
    seen = (seen & ~is_break) | (is_break & breaks)
    return _simple_rims(body, seen)


def _simple_rims(mesh: Mesh, kept: BoolArray) -> Mesh:
    """Keep the largest sheet of the chosen triangles, less those that pinch its rims."""
    faces = mesh.faces[kept]
    for _ in range(50):
        n = len(mesh.vertices)
        pairs = faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2).astype(np.int64)
        label = _groups(pairs, n)[faces[:, 0]]
        faces = faces[label == np.bincount(label).argmax()]
        pairs = faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2).astype(np.int64)
        forth, back = pairs[:, 0] * n + pairs[:, 1], pairs[:, 1] * n + pairs[:, 0]
        open_side = ~np.isin(forth, back)
        pinched = np.bincount(pairs[open_side, 0], minlength=n) > 1
        # A triangle that hangs by one side only would make a rim of teeth.
        ragged = open_side.reshape(-1, 3).sum(axis=1) > 1
        drop = pinched[faces].any(axis=1) | ragged
        if not drop.any():
            break
        faces = faces[~drop]
    used = np.zeros(len(mesh.vertices), dtype=bool)
    used[faces] = True
    now = np.cumsum(used) - 1
    colours = None if mesh.colours is None else mesh.colours[used]
    return Mesh(mesh.vertices[used], now[faces].astype(np.int32), colours)


def coloured(mesh: Mesh, whole: Mesh, bead: BoolArray | None = None) -> Mesh:
    """Colour the points: glaze on the skin, clay on breaks and the foot, adhesive on beads."""
    foot = mesh.vertices[:, 2] < 1.2
    bare = (Surface(whole).distance(mesh.vertices) > 0.02) | foot
    colours = np.where(bare[:, None], CLAY, GLAZE)
    if bead is not None:
        # A bead stands off the skin, as a break face does, but is told apart by the caller.
        colours = np.where(bead[:, None], ADHESIVE, colours)
    return Mesh(mesh.vertices, mesh.faces, colours.astype(np.uint8))


def vertex_normals(mesh: Mesh) -> FloatArray:
    """Unit normals at the points, weighted by the triangles' areas, (V, 3)."""
    area = face_vectors(mesh)
    total = np.zeros((len(mesh.vertices), 3))
    for k in range(3):
        for axis in range(3):
            total[:, axis] += np.bincount(
                mesh.faces[:, k], weights=area[:, axis], minlength=len(total)
            )
    return np.asarray(total / np.maximum(np.linalg.norm(total, axis=1, keepdims=True), 1e-30))


def _noise(body: Mesh, noise_mm: float, rng: np.random.Generator) -> FloatArray:
    """Displacement of each point, (V, 3).

    A boolean leaves points almost on top of one another along the break. Moved each by itself, they
    would turn triangles inside out; a scanner would give one point there. So they move as one, and
    the tip of a needle moves with the edge that it lies on.
    """
    edges, length = _edges(body)
    limit = min(_TOGETHER_MM, 0.4 * float(np.median(length)))
    group = _groups(edges[length < limit], len(body.vertices))
    n = int(group.max()) + 1
    total = np.stack(
        [np.bincount(group, weights=w, minlength=n) for w in vertex_normals(body).T], axis=1
    )
    length = np.maximum(np.linalg.norm(total, axis=1), 1e-30)
    move = np.asarray(total * (rng.normal(0.0, noise_mm, n) / length)[:, None])[group]
    share = 1.0 / np.bincount(group, minlength=n)[:, None]
    tip, a, b, part = _needles(body, 0.5 * limit)
    for _ in range(4):
        move = move.copy()
        move[tip] = move[a] * (1.0 - part[:, None]) + move[b] * part[:, None]
        total = np.stack([np.bincount(group, weights=w, minlength=n) for w in move.T], axis=1)
        move = np.asarray(total * share)[group]
    return move


def _needles(
    mesh: Mesh, height_mm: float
) -> tuple[NDArray[np.int32], NDArray[np.int32], NDArray[np.int32], FloatArray]:
    """Tips that lie almost on their triangle's longest edge: tip, the edge's ends, where on it."""
    corner = mesh.vertices[mesh.faces]
    side = np.roll(corner, -2, axis=1) - np.roll(corner, -1, axis=1)  # opposite each corner
    length = np.linalg.norm(side, axis=2)
    k = np.argmax(length, axis=1)
    row = np.arange(len(k))
    base = np.maximum(length[row, k], 1e-12)
    height = 2.0 * np.linalg.norm(face_vectors(mesh), axis=1) / base
    thin = row[height < height_mm]
    k, base = k[thin], base[thin]
    tip, a, b = (mesh.faces[thin, (k + j) % 3] for j in range(3))
    from_a = mesh.vertices[tip] - mesh.vertices[a]
    part = np.einsum("ij,ij->i", from_a, side[thin, k]) / base**2
    return tip, a, b, np.clip(part, 0.0, 1.0)


def _edges(mesh: Mesh) -> tuple[NDArray[np.int64], FloatArray]:
    """Each edge of a closed mesh once, (E, 2), and its length."""
    pairs = mesh.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2).astype(np.int64)
    pairs = pairs[pairs[:, 0] < pairs[:, 1]]
    return pairs, np.linalg.norm(mesh.vertices[pairs[:, 0]] - mesh.vertices[pairs[:, 1]], axis=1)


def _groups(pairs: NDArray[np.int64], n: int) -> NDArray[np.int32]:
    """Number of the group that each of n points belongs to when pairs are tied together."""
    tied = coo_array((np.ones(len(pairs), dtype=bool), (pairs[:, 0], pairs[:, 1])), shape=(n, n))
    return np.asarray(connected_components(tied, directed=False)[1])


def _shuffled(mesh: Mesh, rng: np.random.Generator) -> Mesh:
    order = rng.permutation(len(mesh.vertices))
    now = np.empty(len(order), dtype=np.int32)
    now[order] = np.arange(len(order), dtype=np.int32)
    faces = now[mesh.faces][rng.permutation(len(mesh.faces))]
    colours = None if mesh.colours is None else mesh.colours[order]
    return Mesh(mesh.vertices[order], faces, colours)


def _refined(mesh: Mesh, near: Callable[[FloatArray], BoolArray], edge_mm: float) -> Mesh:
    """Halve edges longer than `edge_mm` where `near` holds at either end or the middle."""
    for _ in range(8):
        pairs = np.sort(mesh.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1).astype(np.int64)
        n = len(mesh.vertices)
        keys, number = np.unique(pairs[:, 0] * n + pairs[:, 1], return_inverse=True)
        a, b = mesh.vertices[keys // n], mesh.vertices[keys % n]
        split = np.linalg.norm(a - b, axis=1) > edge_mm
        split[split] = near(a[split]) | near(b[split]) | near(0.5 * (a[split] + b[split]))
        if not split.any():
            break
        where = np.full(len(keys), -1, dtype=np.int64)
        where[split] = n + np.arange(int(split.sum()))
        vertices = np.concatenate([mesh.vertices, 0.5 * (a + b)[split]])
        mesh = Mesh(vertices, _split_faces(mesh.faces, where[number.reshape(-1, 3)]))
    return mesh


def _split_faces(faces: NDArray[np.int32], middle: NDArray[np.int64]) -> NDArray[np.int32]:
    """Split triangles at the given edge middles (ab, bc, ca; -1 for none)."""
    count = (middle >= 0).sum(axis=1)
    parts = [faces[count == 0].astype(np.int64)]
    for n in (1, 2, 3):
        these, mids = faces[count == n].astype(np.int64), middle[count == n]
        # Turned so that a lone split edge is ab, and a lone whole one is ca.
        first = np.argmax(mids >= 0, axis=1) if n == 1 else (np.argmin(mids, axis=1) + 1) % 3
        row = np.arange(len(these))
        a, b, c = (these[row, (first + k) % 3] for k in range(3))
        ab, bc, ca = (mids[row, (first + k) % 3] for k in range(3))
        corners = {
            1: (a, ab, c, ab, b, c),
            2: (ab, b, bc, a, ab, bc, a, bc, c),
            3: (a, ab, ca, ab, b, bc, ca, bc, c, ab, bc, ca),
        }[n]
        parts.append(np.stack(corners, axis=1).reshape(-1, 3))
    return np.concatenate(parts).astype(np.int32)


def _without(mesh: Mesh, gone: BoolArray) -> Mesh:
    """Drop points with all triangles around them, and go on until every hole's edge is simple."""
    while True:
        kept = mesh.faces[~gone[mesh.faces].any(axis=1)]
        pairs = kept[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2).astype(np.int64)
        n = len(mesh.vertices)
        forth, back = pairs[:, 0] * n + pairs[:, 1], pairs[:, 1] * n + pairs[:, 0]
        border = pairs[~np.isin(forth, back)]
        pinched = np.bincount(border[:, 0], minlength=n) > 1
        if not pinched.any():
            break
        gone = gone | pinched
    used = np.zeros(n, dtype=bool)
    used[kept] = True
    now = np.cumsum(used) - 1
    colours = None if mesh.colours is None else mesh.colours[used]
    return Mesh(mesh.vertices[used], now[kept].astype(np.int32), colours)
