"""Compare a piece with the chunk that is truly missing.

Everything is in one frame: the true chunk, the whole vessel and the body carry no scan noise and
are mapped by the known pose into the frame of the piece. Distances are those from points drawn on
the truth, evenly by area and from a seed, to the surface of the piece.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray
from rays import Surface
from scipy.optimize import linear_sum_assignment
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from lossfill.errors import BooleanError
from lossfill.mesh import FloatArray, Mesh, face_vectors, signed_volume_mm3
from lossfill.solids import solid_from_mesh

__all__ = [
    "Matches",
    "Score",
    "Truth",
    "match_losses",
    "sample",
    "score",
    "score_against",
    "truth_of",
    "volume_near_body_mm3",
]

_ON_SKIN_MM = 0.01
"""Chunk surface closer than this to the whole vessel's is skin: far above 32-bit rounding, far
below the roughness of a break."""
_JOIN_ALLOWANCE_MM = 0.1
"""Skin this close to the end of the clearance is left out: there the piece rightly rounds off."""
_STEP_REACH_MM = 1.5
"""How far from the join a difference of height is felt as a step."""


@dataclass(frozen=True, slots=True)
class Score:
    """How well a piece replaces its chunk; every length is infinite where there is no piece.

    Parameters
    ----------
    skin_rms_mm, skin_p95_mm : distance from the chunk's skin to the piece
    skin_bias_mm : mean of the same, positive where the piece stands proud of the true skin
    step_rms_mm, step_p95_mm : the same within 1.5 mm of the join
    gap_p05_mm, gap_p50_mm, gap_p95_mm : distance from the chunk's break faces to the piece
    clash_mm3 : volume shared by piece and body; infinite where the piece is no solid
    volume_mm3 : volume of the piece
    expected_volume_mm3 : volume of the chunk less what lies within the clearance of the body
    parts : pieces that do not hang together, 1 is right
    watertight, outward : what the words say
    """

    skin_rms_mm: float
    skin_p95_mm: float
    skin_bias_mm: float
    step_rms_mm: float
    step_p95_mm: float
    gap_p05_mm: float
    gap_p50_mm: float
    gap_p95_mm: float
    clash_mm3: float
    volume_mm3: float
    expected_volume_mm3: float
    parts: int
    watertight: bool
    outward: bool

    @property
    def volume_error(self) -> float:
        """Relative error of the volume, the clearance allowed for; -1 where there is no piece."""
        return self.volume_mm3 / self.expected_volume_mm3 - 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Truth:
    """What a piece of one chunk is compared with.

    Parameters
    ----------
    expected_mm3 : the chunk's volume less what the clearance takes
    skin : (N, 3) points of the chunk's skin clear of the join
    at_join : (N,) True near the join, where a difference of height is felt as a step
    break_points : (M, 3) points of its break faces
    """

    expected_mm3: float
    skin: FloatArray
    at_join: NDArray[np.bool_]
    break_points: FloatArray


@dataclass(frozen=True, slots=True)
class Matches:
    """Which piece belongs to which chunk.

    Parameters
    ----------
    piece_of_chunk : for each chunk the index of its piece, or None where it was missed
    false : indices of pieces that belong to no chunk
    """

    piece_of_chunk: tuple[int | None, ...]
    false: tuple[int, ...]

    @property
    def missed(self) -> tuple[int, ...]:
        """Indices of the chunks without a piece."""
        return tuple(k for k, piece in enumerate(self.piece_of_chunk) if piece is None)


def truth_of(
    chunk: Mesh,
    whole: Mesh,
    body: Mesh,
    clearance_mm: float,
    *,
    n_points: int = 60_000,
    seed: int = 1,
) -> Truth:
    """Make one chunk ready for every piece that is compared with it.

    Parameters
    ----------
    chunk, whole, body : the truth, free of noise, in the frame of the pieces, mm; closed solids
    clearance_mm : the gap that was asked for
    n_points : points drawn on the chunk
    seed : of the points
    """
    rng = np.random.default_rng(seed)
    near = volume_near_body_mm3(chunk, body, whole, clearance_mm, rng=rng)
    points = sample(chunk, n_points, rng)
    is_skin = Surface(whole).distance(points) < _ON_SKIN_MM
    skin = points[is_skin]
    from_body = Surface(body).distance(skin)
    kept = from_body > clearance_mm + _JOIN_ALLOWANCE_MM
    at_join = from_body[kept] < clearance_mm + _STEP_REACH_MM
    return Truth(signed_volume_mm3(chunk) - near, skin[kept], at_join, points[~is_skin])


def score(
    piece: Mesh | None,
    chunk: Mesh,
    whole: Mesh,
    body: Mesh,
    clearance_mm: float,
    *,
    scanned_body: Mesh | None = None,
    n_points: int = 60_000,
    seed: int = 1,
) -> Score:
    """Compare one piece with its chunk.

    Parameters
    ----------
    piece : the piece as written, or None where the loss was missed
    chunk, whole, body, clearance_mm, n_points, seed : as in `truth_of`
    scanned_body : as in `score_against`; `body` where none is given

    Returns
    -------
    Score
    """
    truth = truth_of(chunk, whole, body, clearance_mm, n_points=n_points, seed=seed)
    return score_against(truth, piece, body if scanned_body is None else scanned_body)


def score_against(truth: Truth, piece: Mesh | None, scanned_body: Mesh) -> Score:
    """Compare one piece with a chunk made ready.

    Parameters
    ----------
    truth : the chunk
    piece : the piece as written, or None where the loss was missed
    scanned_body : the body that the piece was made against, closed; clash is measured against it,
        since scan noise moves the body's skin
    """
    if piece is None:
        return _nothing(truth.expected_mm3)
    surface = Surface(piece)
    error = surface.distance(truth.skin)
    step = error[truth.at_join]
    gap = np.quantile(surface.distance(truth.break_points), [0.05, 0.5, 0.95])
    proud = np.where(surface.inside(truth.skin), error, -error)
    watertight, parts = _soundness(piece)
    return Score(
        skin_rms_mm=_rms(error),
        skin_p95_mm=float(np.quantile(error, 0.95)),
        skin_bias_mm=float(proud.mean()),
        step_rms_mm=_rms(step),
        step_p95_mm=float(np.quantile(step, 0.95)),
        gap_p05_mm=float(gap[0]),
        gap_p50_mm=float(gap[1]),
        gap_p95_mm=float(gap[2]),
        clash_mm3=_clash_mm3(piece, scanned_body),
        volume_mm3=signed_volume_mm3(piece),
        expected_volume_mm3=truth.expected_mm3,
        parts=parts,
        watertight=watertight,
        outward=signed_volume_mm3(piece) > 0.0,
    )


def match_losses(
    pieces: tuple[Mesh, ...], chunks: tuple[Mesh, ...], *, least_overlap: float = 0.2, seed: int = 1
) -> Matches:
    """Pair pieces and chunks so that the volume they share is greatest.

    Parameters
    ----------
    pieces, chunks : in one frame
    least_overlap : shared volume over joint volume from which two belong together
    seed : of the points by which volumes are compared

    Returns
    -------
    Matches
    """
    rng = np.random.default_rng(seed)
    overlap = np.zeros((len(chunks), len(pieces)))
    for i, chunk in enumerate(chunks):
        for j, piece in enumerate(pieces):
            overlap[i, j] = _overlap(chunk, piece, rng)
    found: dict[int, int] = {}
    for row, column in zip(*linear_sum_assignment(-overlap), strict=True):
        if overlap[row, column] >= least_overlap:
            found[int(row)] = int(column)
    false = tuple(j for j in range(len(pieces)) if j not in found.values())
    return Matches(tuple(found.get(i) for i in range(len(chunks))), false)


def sample(mesh: Mesh, n_points: int, rng: np.random.Generator) -> FloatArray:
    """Points on a surface, evenly by area, (n_points, 3) mm."""
    return _sampled(mesh, n_points, rng)[0]


def _sampled(
    mesh: Mesh, n_points: int, rng: np.random.Generator
) -> tuple[FloatArray, NDArray[np.intp]]:
    """The same, and the triangle that each lies on, (n_points,)."""
    area = np.linalg.norm(face_vectors(mesh), axis=1)
    # Stratified: one point in each n-th part of the area spreads better than free draws.
    at = (np.arange(n_points) + rng.random(n_points)) / n_points * area.sum()
    face = np.minimum(np.searchsorted(np.cumsum(area), at), len(area) - 1)
    u, v = np.sqrt(rng.random(n_points)), rng.random(n_points)
    weights = np.stack([1.0 - u, u * (1.0 - v), u * v], axis=1)
    return np.asarray(np.einsum("pk,pkx->px", weights, mesh.vertices[mesh.faces[face]])), face


def volume_near_body_mm3(
    chunk: Mesh, body: Mesh, whole: Mesh, clearance_mm: float, *, rng: np.random.Generator
) -> float:
    """Volume of the chunk that lies within the clearance of the body, mm³.

    Break area times clearance is within 0.5 % of it on the sides of a chunk, but 2 to 4 % too much
    on a chip or a spall, whose break is hollow and meets the skin at a flat angle; there the
    clearance takes a tenth to a quarter of the chunk. So it is counted: points are spread evenly
    through small cubes along the break, whose joint volume is exact, and those inside the chunk and
    near the body are counted. Different seeds agree to about 0.5 %.
    """
    if clearance_mm <= 0.0:
        return 0.0
    area_mm2 = float(np.linalg.norm(face_vectors(chunk), axis=1).sum())
    dense, face = _sampled(chunk, int(np.clip(40.0 * area_mm2, 2e4, 4e5)), rng)
    skin_of = Surface(whole)
    # Most lie on triangles of the skin, and need not be asked one by one.
    dense = dense[~_lies_on(skin_of, chunk)[face]]
    dense = dense[skin_of.distance(dense) >= _ON_SKIN_MM]
    size = max(0.5, 2.0 * clearance_mm)
    cell = _distinct(np.floor(dense / size).astype(np.int64))
    around = np.stack(np.meshgrid(*[[-1, 0, 1]] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    cell = _distinct((cell[:, None] + around).reshape(-1, 3))
    near_body, inside_of = Surface(body), Surface(chunk)
    cell = cell[near_body.distance((cell + 0.5) * size) < clearance_mm + 0.87 * size]
    part = 4
    corner = np.stack(np.meshgrid(*[np.arange(part)] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    points = cell[:, None] + (corner + rng.random((len(cell), len(corner), 3))) / part
    # An eighth of a cube that is wholly farther off is not asked point by point.
    eighth = np.ravel_multi_index(tuple((corner // 2).T), (2, 2, 2))
    middle = np.array(list(np.ndindex(2, 2, 2))) / 2 + 0.25
    from_body = near_body.distance(((cell[:, None] + middle) * size).reshape(-1, 3))
    close = from_body.reshape(-1, 8) < clearance_mm + 0.87 * size / 2
    points = points[close[:, eighth]] * size
    points = points[inside_of.inside(points)]
    return int((near_body.distance(points) < clearance_mm).sum()) * size**3 / len(corner)


def _distinct(cells: NDArray[np.int64]) -> NDArray[np.int64]:
    """The different ones of some cells, in order: by one number each, far quicker than by three."""
    if len(cells) == 0:
        return cells
    low = cells.min(axis=0)
    shape = tuple(cells.max(axis=0) - low + 1)
    keys = np.unique(np.ravel_multi_index(tuple((cells - low).T), shape))
    return np.asarray(np.stack(np.unravel_index(keys, shape), axis=1) + low)


def _lies_on(surface: Surface, mesh: Mesh) -> NDArray[np.bool_]:
    """Triangles whose corners and middle lie on a surface, (F,)."""
    corners = surface.distance(mesh.vertices) < _ON_SKIN_MM
    middles = surface.distance(mesh.vertices[mesh.faces].mean(axis=1)) < _ON_SKIN_MM
    return np.asarray(corners[mesh.faces].all(axis=1) & middles)


def _nothing(expected_mm3: float) -> Score:
    """Score of a missed loss."""
    lengths = dict.fromkeys((f.name for f in fields(Score) if f.name.endswith("_mm")), math.inf)
    return Score(
        **lengths,
        clash_mm3=math.inf,
        volume_mm3=0.0,
        expected_volume_mm3=expected_mm3,
        parts=0,
        watertight=False,
        outward=False,
    )


def _rms(values: FloatArray) -> float:
    return float(np.sqrt(np.mean(values**2)))


def _welded(mesh: Mesh) -> NDArray[np.int64]:
    """Triangles with equal points merged, as a file without shared points needs; empty ones go."""
    _, now = np.unique(mesh.vertices, axis=0, return_inverse=True)
    faces = now.reshape(-1)[mesh.faces]
    same = (
        (faces[:, 0] == faces[:, 1]) | (faces[:, 1] == faces[:, 2]) | (faces[:, 2] == faces[:, 0])
    )
    return np.asarray(faces[~same], dtype=np.int64)


def _soundness(mesh: Mesh) -> tuple[bool, int]:
    """Whether every edge has its two sides in opposite directions, and the number of parts."""
    faces = _welded(mesh)
    n = int(faces.max()) + 1
    pairs = faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    # Each direction of an edge as often as the other: closed, and wound alike on both sides.
    forth, back = np.sort(pairs[:, 0] * n + pairs[:, 1]), np.sort(pairs[:, 1] * n + pairs[:, 0])
    tied = coo_array((np.ones(len(pairs), dtype=bool), (pairs[:, 0], pairs[:, 1])), shape=(n, n))
    group = connected_components(tied, directed=False)[1]
    return bool(np.array_equal(forth, back)), len(np.unique(group[faces[:, 0]]))


def _clash_mm3(piece: Mesh, body: Mesh) -> float:
    """Volume shared, by the solid modeller."""
    try:
        shared = solid_from_mesh(piece) ^ solid_from_mesh(body)
    except BooleanError:
        return math.inf
    return max(0.0, float(shared.volume()))


def _overlap(one: Mesh, other: Mesh, rng: np.random.Generator) -> float:
    """Shared over joint volume, from points spread through the box around both."""
    low = np.maximum(one.bounds[0], other.bounds[0])
    high = np.minimum(one.bounds[1], other.bounds[1])
    if (low >= high).any():
        return 0.0
    points = low + rng.random((40_000, 3)) * (high - low)
    both = Surface(one).inside(points) & Surface(other).inside(points)
    shared = float(both.mean()) * float(np.prod(high - low))
    return shared / (abs(signed_volume_mm3(one)) + abs(signed_volume_mm3(other)) - shared)
