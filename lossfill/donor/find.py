"""What a body lacks of a donor: each loss with its piece of led form, ready to be measured."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import label
from scipy.spatial import cKDTree

from lossfill import tolerances as tol
from lossfill.body.body import Body
from lossfill.donor.donor import Donor
from lossfill.donor.expect import Expected, expect
from lossfill.donor.lead import Led, lead, skin_above
from lossfill.form.choice import Trial
from lossfill.frame.samples import Samples, sample_mesh
from lossfill.loss.faces import Faces, break_depth_mm, ends_in_an_edge
from lossfill.mesh import FloatArray, points_over
from lossfill.nearest import Surface
from lossfill.solids import Solid, checked, mesh_from_solid, solid_from_mesh


@dataclass(frozen=True, slots=True, eq=False)
class Lacking:
    """What the body lacks of a donor at one place.

    Parameters
    ----------
    solid : the missing material, exact complement of the body, scan mm
    form_here, body_here : the led donor and the body about it
    source : of the donor, one of `form.sources.NAMES`
    expected : what its skin is expected to err by
    trials : what else was tried
    """

    solid: Solid
    form_here: Solid
    body_here: Solid
    source: str
    expected: Expected
    trials: tuple[Trial, ...]


def find_lacking(
    body: Body,
    samples: Samples,
    donors: tuple[Donor, ...],
    *,
    wall_mm: float,
    reasons: dict[str, str],
    wanted: Callable[[FloatArray], bool] | None = None,
    rng: np.random.Generator,
) -> list[Lacking]:
    """Find what a body lacks of its donors; where several show the same, the likeliest serves.

    Parameters
    ----------
    samples : of the body's measured surface, scan coordinates
    wall_mm : thickness of the material
    reasons : why the sources that are not among the donors do not apply
    wanted : tells of the (N, 3) points of a gap whether it is looked for; None takes all

    Raises
    ------
    BooleanError
        Where the solid modeller fails.
    """
    tree = cKDTree(samples.points)
    surface = Surface(body.mesh)
    found: list[_Found] = []
    for donor in donors:
        # As dense as the body's own.
        n = int(np.clip(donor.solid.surface_area() / samples.area_mm2, 1000, tol.DONOR_SAMPLES))
        shown = sample_mesh(mesh_from_solid(donor.solid), n=n, rng=rng)
        # Asked for the first gap only: of all gaps it tells the same.
        above = cache(partial(skin_above, shown.points, shown.calm_normals, surface))
        for gap_points in _gaps(donor, shown, tree, surface, link_mm=wall_mm):
            if wanted is None or wanted(gap_points):
                found.append((donor, gap_points, expect(donor, shown, above, gap_points)))
    lacking: list[Lacking] = []
    for places in _same_places([points for _, points, _ in found]):
        here = sorted((found[k] for k in places), key=lambda one: one[2].error_mm)
        cut = [(one, _parts(body, samples, *one[:2])) for one in here[: tol.DONORS_CUT]]
        cut = [(one, parts) for one, parts in cut if parts]
        if cut:
            (donor, _, expected), parts = _likeliest(cut)
            trials = _trials(here, reasons)
            lacking += [Lacking(*part, donor.source, expected, trials) for part in parts]
    return lacking


_Found: TypeAlias = tuple[Donor, FloatArray, Expected]
_Parts: TypeAlias = list[tuple[Solid, Solid, Solid]]


def _likeliest(cut: list[tuple[_Found, _Parts]]) -> tuple[_Found, _Parts]:
    """The first of some donors, by their error, that shows all that any of them shows.

    A mirror image shows none of what is lost on both sides of its plane: its piece would lack it.
    """
    places = [
        np.concatenate(
            [points_over(mesh_from_solid(part[0]), spacing_mm=tol.DONOR_EDGE_MM) for part in parts]
        )
        for _, parts in cut
    ]
    trees = [cKDTree(points) for points in places]
    for one, tree in zip(cut, trees, strict=True):
        bound = tol.LEAD_SEARCH_MM
        if all(np.isfinite(tree.query(p, distance_upper_bound=bound)[0]).all() for p in places):
            return one
    return max(cut, key=lambda one: sum(part[0].volume() for part in one[1]))


def _trials(here: list[_Found], reasons: dict[str, str]) -> tuple[Trial, ...]:
    best = {donor.source: (donor, expected) for donor, _, expected in reversed(here)}
    trials = []
    for name, why_not in reasons.items():
        if name in best:
            donor, expected = best[name]
            trials.append(Trial(name, expected.error_mm, expected.bound_mm, donor.says))
        else:
            trials.append(Trial(name, None, None, why_not or "it shows nothing here"))
    return tuple(trials)


def _gaps(
    donor: Donor, shown: Samples, tree: cKDTree, surface: Surface, *, link_mm: float
) -> list[FloatArray]:
    """Gather the points of a donor that stand clear of the body, gap by gap."""
    clear_mm = max(tol.DONOR_GAP_MM, tol.DONOR_GAP_SPREADS * donor.residual_mm)
    far = np.isinf(tree.query(shown.points, distance_upper_bound=clear_mm)[0])
    points = shown.points[far]
    if len(points) > 0:
        points = points[surface.signed_distance(points) > clear_mm]
    if len(points) == 0:
        return []
    # Touching cubes reach up to two sides: half a link each.
    link = 0.5 * max(2.5 * float(np.sqrt(shown.area_mm2)), link_mm)
    least = tol.DONOR_GAP_MM2 / shown.area_mm2
    return [points[mine] for mine in _clusters(points, link) if len(mine) >= least]


def _clusters(points: FloatArray, link_mm: float) -> list[NDArray[np.intp]]:
    """Indices of the points that hang together, by cubes of the link's size that touch."""
    cube = np.floor((points - points.min(axis=0)) / link_mm).astype(np.int64)
    held = np.zeros(cube.max(axis=0) + 1, dtype=bool)
    held[tuple(cube.T)] = True
    labels, count = label(held, structure=np.ones((3, 3, 3)))
    mine = labels[tuple(cube.T)]
    return [np.flatnonzero(mine == k) for k in range(1, count + 1)]


def _same_places(gaps: list[FloatArray]) -> list[list[int]]:
    """Numbers of the gaps that show the same place, place by place, the largest first."""
    trees = [cKDTree(points) for points in gaps]
    parent = list(range(len(gaps)))
    for i in range(len(gaps)):
        for j in range(i):
            near = trees[j].query(gaps[i], distance_upper_bound=tol.LEAD_SEARCH_MM)[0]
            if np.isfinite(near).mean() > 0.2 or np.isfinite(near).sum() > 0.2 * len(gaps[j]):
                old, new = parent[i], parent[j]
                parent = [new if one == old else one for one in parent]
    places = [[k for k in range(len(gaps)) if parent[k] == root] for root in sorted(set(parent))]
    return sorted(places, key=lambda place: -max(len(gaps[k]) for k in place))


def _parts(body: Body, samples: Samples, donor: Donor, gap_points: FloatArray) -> _Parts:
    """Cut the body from the led donor about one gap; keep what is a loss."""
    reach = min(
        max(tol.LEAD_REACH_MIN_MM, 0.6 * float(np.linalg.norm(np.ptp(gap_points, axis=0)))),
        tol.LEAD_REACH_MAX_MM,
    )
    crop = donor.solid ^ _box(gap_points, reach + 2.0)
    crop = crop.simplify(tol.DONOR_COLLAPSE_MM).refine_to_length(tol.DONOR_EDGE_MM)
    about = Surface(mesh_from_solid(body.solid ^ _box(gap_points, reach + 4.0)))
    led = lead(mesh_from_solid(crop), about, gap_points, reach_mm=reach)
    box = _box(gap_points, min(reach, tol.BLANK_MARGIN_MM))
    form_here = (solid_from_mesh(led.mesh) ^ box).as_original()
    body_here = body.solid ^ _box(gap_points, min(reach, tol.BLANK_MARGIN_MM) + tol.CROP_MARGIN_MM)
    rest = checked(form_here - body_here, "the body could not be cut from the form")
    found = []
    for part in rest.decompose():
        if part.volume() >= tol.LOSS_VOLUME_MM3 and _is_loss(part, form_here, led, samples, donor):
            found.append((part, form_here, body_here))
    return found


def _is_loss(part: Solid, form_here: Solid, led: Led, samples: Samples, donor: Donor) -> bool:
    """Tell a loss from misfit, and from what the donor has and this body never had."""
    faces = Faces.of(part, form_here)
    if faces.is_break.all() or not faces.is_break.any():
        return False
    depth = break_depth_mm(faces)
    if depth < max(tol.LOSS_DEPTH_MM, tol.DONOR_DEPTH_SPREADS * led.spread_mm):
        return False
    # A span was made for a break. A twin may show what left but a scar, and so no edge.
    return (
        donor.error_mm is not None
        or donor.source == "twin"
        or ends_in_an_edge(faces, samples.points, samples.calm_normals)
    )


def _box(points: FloatArray, margin_mm: float) -> Solid:
    low, high = points.min(axis=0) - margin_mm, points.max(axis=0) + margin_mm
    return Solid.cube(tuple(high - low)).translate(tuple(low))
