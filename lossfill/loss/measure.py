"""The measures of a loss: volume, areas, join, extents, place and kind."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from lossfill import tolerances as tol
from lossfill.form.cells import cell_of
from lossfill.form.choice import Choice
from lossfill.form.form import Form
from lossfill.frame.frame import Frame
from lossfill.frame.profile import Projection
from lossfill.loss.faces import (
    Faces,
    break_depth_mm,
    ends_in_an_edge,
    join_edges,
    join_length_mm,
)
from lossfill.loss.loss import Loss, LossKind
from lossfill.mesh import BoolArray, FloatArray, Mesh, face_vectors, points_over, unit
from lossfill.nearest import Surface
from lossfill.solids import Solid, mesh_from_solid


@dataclass(frozen=True, slots=True, eq=False)
class Missing:
    """A part of the form that the body lacks, in scan coordinates.

    Parameters
    ----------
    solid : the part
    form_here : the form about it, an original solid, so that skin and break can be told apart
    body_here : the body about it
    """

    solid: Solid
    form_here: Solid
    body_here: Solid

    def is_loss(self, frame: Frame, form: Form) -> bool:
        """Tell a loss from texture, wear and misfit."""
        volume = self.solid.volume()
        if volume < tol.SPALL_VOLUME_MM3:
            return False
        faces = _Faces.on_form(self, frame, form)
        if volume < tol.CRACK_VOLUME_MM3 and _is_crack(faces):
            return False
        if _is_spall(faces, form):
            return True
        if volume < tol.LOSS_VOLUME_MM3 or _must_be_spall(faces, form):
            return False
        # What goes through the wall is a loss however thin the wall.
        if _goes_through(faces, frame, form):
            return True
        return break_depth_mm(faces) >= tol.LOSS_DEPTH_MM and self._ends_in_an_edge()

    def _ends_in_an_edge(self) -> bool:
        """Whether the body's skin about the part ends in an edge: else the form merely strays."""
        faces = Faces.of(self.solid, self.form_here)
        mesh = mesh_from_solid(self.body_here)
        vectors, centres = face_vectors(mesh), mesh.vertices[mesh.faces].mean(axis=1)
        reach = 2.0 * tol.BROKEN_EDGE_MM
        low, high = faces.vertices.min(axis=0) - reach, faces.vertices.max(axis=0) + reach
        near = ((centres > low) & (centres < high)).all(axis=1)
        return ends_in_an_edge(faces, centres[near], vectors[near])


@dataclass(frozen=True, slots=True, eq=False)
class _Faces(Faces):
    """The triangles of a missing part in the vessel's frame, and where on its form they lie."""

    angle: FloatArray
    drop: Projection
    round_angle: FloatArray

    @staticmethod
    def on_form(missing: Missing, frame: Frame, form: Form) -> _Faces:
        faces = Faces.of(missing.solid, missing.form_here, frame.vessel_from_scan)
        drop, round_angle = form.locate(faces.centres, unit(faces.vectors))
        angle = np.mod(np.arctan2(faces.centres[:, 1], faces.centres[:, 0]), 2 * np.pi)
        return _Faces(
            faces.vertices,
            faces.faces,
            faces.vectors,
            faces.centres,
            faces.is_break,
            angle,
            drop,
            round_angle,
        )


def measure(missing: Missing, frame: Frame, form: Form, *, number: int) -> Loss:
    """Measure one missing part."""
    faces = _Faces.on_form(missing, frame, form)
    skin = ~faces.is_break
    inner = skin & (faces.drop.along < form.profile.lip)
    outer = skin & ~inner
    angle, around_rad = _middle_and_span(faces.angle[skin], faces.areas[skin])
    wide = outer if outer.any() else inner
    outside_r = float(np.average(np.hypot(*faces.centres[wide, :2].T), weights=faces.areas[wide]))
    height = float(np.average(faces.centres[skin, 2], weights=faces.areas[skin]))
    centre = np.average(faces.centres, axis=0, weights=faces.areas)
    choice = _choice(faces, form)
    join_length = join_length_mm(faces)
    outer_area, inner_area = (float(faces.areas[side].sum()) for side in (outer, inner))
    edge = 0.0
    if not _goes_through(faces, frame, form):
        edge = tol.SAG_MM * _edge_share(join_length, outer_area + inner_area) ** 0.5
    scan_from_vessel = np.linalg.inv(frame.vessel_from_scan)
    centre_scan = scan_from_vessel[:3, :3] @ centre + scan_from_vessel[:3, 3]
    return Loss(
        number=number,
        kind=_kind(faces, inner, outer, frame, form),
        solid=missing.solid,
        form_here=missing.form_here,
        body_here=missing.body_here,
        volume_ml=missing.solid.volume() / 1000.0,
        outer_area_mm2=outer_area,
        inner_area_mm2=inner_area,
        break_area_mm2=float(faces.areas[faces.is_break].sum()),
        join_length_mm=join_length,
        thickness_mm=_thickness(faces, inner, outer, missing, frame, form),
        depth_mm=break_depth_mm(faces),
        extent_along_mm=max(_extent_along(faces, side, form) for side in (inner, outer)),
        extent_around_mm=around_rad * outside_r,
        angle_deg=float(np.degrees(angle)),
        clock=clock(float(np.degrees(angle))),
        height_mm=height,
        centre_mm=(float(centre_scan[0]), float(centre_scan[1]), float(centre_scan[2])),
        # Between nothing and `SAG_MM` deep, evenly, its mean square is a third of the deepest's.
        expected_error_mm=float(np.hypot(choice.error_mm, edge / 3**0.5)),
        bound_mm=float(np.hypot(choice.bound_mm, edge)),
        source=choice.source,
        trials=choice.trials,
    )


def clock(angle_deg: float) -> str:
    """Place around the vessel as a clock seen from above, 12 at angle 0, to the half hour."""
    half_hours = round(-angle_deg / 15.0) % 24
    hour = half_hours // 2 or 12
    return f"{hour}:{30 * (half_hours % 2):02d}"


def _kind(faces: _Faces, inner: BoolArray, outer: BoolArray, frame: Frame, form: Form) -> LossKind:
    zone, from_lip = _from_lip(faces, frame, form)
    takes_lip = bool(((inner | outer) & (from_lip < 0.5 * zone)).any())
    through = _goes_through(faces, frame, form)
    standing = outer & (faces.centres[:, 2] < tol.STANDING_MM)
    if takes_lip:
        return LossKind.RIM if through else LossKind.CHIP
    if bool(standing.any()) and not through:
        return LossKind.FOOT
    return LossKind.THROUGH if through else LossKind.SPALL


def _from_lip(faces: _Faces, frame: Frame, form: Form) -> tuple[float, FloatArray]:
    """Width of the lip's zone and each triangle's distance from the lip, in profile indices."""
    zone = tol.LIP_ZONE_WALLS * frame.wall_mm / form.profile.spacing_mm
    return zone, np.abs(faces.drop.along - form.profile.lip)


def _goes_through(faces: _Faces, frame: Frame, form: Form) -> bool:
    """Tell whether new skin is needed on both sides of the wall, away from the lip."""
    zone, from_lip = _from_lip(faces, frame, form)
    wall = ~faces.is_break & (from_lip > zone)
    is_inner = faces.drop.along < form.profile.lip
    sides = [float(faces.areas[wall & side].sum()) for side in (is_inner, ~is_inner)]
    return min(sides) > tol.THROUGH_AREA_MM2


def _is_crack(faces: _Faces) -> bool:
    """Tell an open crack or seam, which is listed but gets no piece, by its width in the skin.

    A film where the form lies over the skin may hang on to it, so that only what is deep counts.
    """
    skin = faces.faces[~faces.is_break]
    if not len(skin) or len(skin) == len(faces.faces):
        return False
    corners = faces.vertices[skin]
    areas = faces.areas[~faces.is_break]
    n = min(round(float(areas.sum()) / tol.CRACK_PLACE_MM2), tol.CRACK_PLACES)
    # Evenly by area, and by the golden ratio within a triangle.
    turn = np.arange(max(n, 1)) + 0.5
    which = np.searchsorted(np.cumsum(areas), turn * (areas.sum() / len(turn)))
    which = np.minimum(which, len(areas) - 1)
    u, v = np.sqrt(np.mod(turn * 0.754878, 1.0)), np.mod(turn * 0.569840, 1.0)
    a, b, c = (corners[which, k] for k in range(3))
    places = (1 - u)[:, None] * a + (u * (1 - v))[:, None] * b + (u * v)[:, None] * c
    inwards = unit(np.cross(c - a, b - a))
    breaks = Surface(Mesh(faces.vertices, faces.faces[faces.is_break]))
    depth, _ = breaks.along_rays(places, inwards)
    # None is met where it goes through the wall.
    deep = np.isinf(depth)
    if not deep.all():
        deep |= depth > tol.CRACK_DEEP_SHARE * float(np.quantile(depth[~deep], 0.95))
    beside = np.concatenate([places[~deep], _beads(faces)])
    within = np.asarray(cKDTree(beside).query(places[deep])[0])
    # Three quarters of a strip lie within 3/8 of its width of an edge.
    most = 0.375 * tol.CRACK_WIDTH_MM[1] + tol.CRACK_RAGGED_MM
    return float(np.quantile(within, 0.75)) < most


def _beads(faces: _Faces) -> FloatArray:
    """Points along the join, (N, 3), no farther apart than half an edge of the scan."""
    ends = faces.vertices[join_edges(faces)]
    return np.concatenate([ends[:, 0], ends[:, 1], ends.mean(axis=1)])


def _share(faces: _Faces, form: Form, cells: BoolArray) -> float:
    """Share of the new skin's area that lies on some of the cells."""
    skin = ~faces.is_break
    where = cell_of(form.cells, form.profile, faces.drop.along[skin], faces.round_angle[skin])
    area = faces.areas[skin]
    return float(area[cells.ravel()[where]].sum() / max(float(area.sum()), 1e-300))


def _must_be_spall(faces: _Faces, form: Form) -> bool:
    """Tell whether the form shows a gap here only because it lies a little low."""
    flakes = form.flakes
    return flakes is not None and _share(faces, form, flakes.whole) > tol.SPALL_DOUBT


def _is_spall(faces: _Faces, form: Form) -> bool:
    """Tell a shallow spall from a dent, whose edge is not steep, and from misfit all about."""
    if form.flakes is None or _share(faces, form, form.flakes.core) < tol.SPALL_OVERLAP:
        return False
    if float(faces.areas[~faces.is_break].sum()) < tol.SPALL_AREA_MM2:
        return False
    return break_depth_mm(faces) >= tol.SPALL_DEPTH_MM and _slope(faces) >= tol.SPALL_SLOPE


def _slope(faces: _Faces) -> float:
    """How steeply the break falls off from the join, mm of depth per mm of way."""
    breaks = Mesh(faces.vertices, faces.faces[faces.is_break])
    places = points_over(breaks, spacing_mm=0.5 * tol.SPALL_EDGE_MM)
    way = np.asarray(cKDTree(_beads(faces)).query(places)[0])
    near = (way > 0.5 * tol.SPALL_EDGE_MM) & (way < 1.5 * tol.SPALL_EDGE_MM)
    if not near.any():
        return 0.0
    skin = Surface(Mesh(faces.vertices, faces.faces[~faces.is_break]))
    return float(skin.distance(places[near]).mean() / way[near].mean())


def _middle_and_span(angle: FloatArray, weight: FloatArray) -> tuple[float, float]:
    """Mean direction of the new skin and the arc that holds 99 % of it, radians.

    Weighted by area, for where it reaches the axis a loss touches every angle.
    """
    middle = float(np.angle((weight * np.exp(1j * angle)).sum()))
    turned = np.angle(np.exp(1j * (angle - middle)))
    order = np.argsort(turned)
    share = np.cumsum(weight[order]) / weight.sum()
    low, high = turned[order[np.searchsorted(share, [0.005, 0.995])]]
    return float(np.mod(middle, 2 * np.pi)), float(high - low)


def _choice(faces: _Faces, form: Form) -> Choice:
    """The choice of source that most of the new skin follows."""
    skin = ~faces.is_break
    where = cell_of(form.cells, form.profile, faces.drop.along[skin], faces.round_angle[skin])
    area = np.bincount(form.choice.ravel()[where], faces.areas[skin], len(form.choices))
    return form.choices[int(area.argmax())]


def _extent_along(faces: _Faces, side: BoolArray, form: Form) -> float:
    if not side.any():
        return 0.0
    return float(np.ptp(faces.drop.along[side])) * form.profile.spacing_mm


def _edge_share(join_length_mm: float, skin_mm2: float) -> float:
    """Share of a one-sided loss's skin along its edge, 0 … 1.

    The edge of a spall or chip runs out flat, and what lies less than `tolerances.SAG_MM` deep of
    it passes for skin: the form may be drawn in by that much there, but not farther inside.
    """
    return min(1.0, tol.EDGE_MM * join_length_mm / skin_mm2) if skin_mm2 > 0 else 1.0


def _thickness(
    faces: _Faces,
    inner: BoolArray,
    outer: BoolArray,
    missing: Missing,
    frame: Frame,
    form: Form,
) -> tuple[float, float]:
    """Wall thickness over the missing part, 2nd and 98th percentile, mm.

    From each new skin triangle to the nearest place of the intact skin on the other side.
    """
    use_outer = bool(outer.sum() >= inner.sum())
    here = outer if use_outer else inner
    zone, from_lip = _from_lip(faces, frame, form)
    # Over the lip the other side is round the corner; measured there, every wall would be thin.
    below = here & (from_lip > zone)
    here = below if below.any() else here
    whole = _Faces.on_form(replace(missing, solid=missing.form_here), frame, form)
    # The crop's own flat faces do not face as the skin does.
    skin = whole.drop.agreement > tol.SKIN_AGREEMENT
    is_inner = whole.drop.along < form.profile.lip
    other = skin & (is_inner if use_outer else ~is_inner)
    if not other.any():
        return 0.0, 0.0
    some = faces.centres[here]
    # The spread of a few thousand places is that of all.
    some = some[:: max(1, len(some) // tol.THICKNESS_PLACES)]
    distance, _ = cKDTree(whole.centres[other]).query(some)
    low, high = np.quantile(distance, [0.02, 0.98])
    return float(low), float(high)
