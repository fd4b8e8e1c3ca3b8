"""What stands off the wall: handles, stubs of handles, knobs and spouts, told from the wall."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from scipy.sparse.csgraph import connected_components

from lossfill import tolerances as tol
from lossfill.body.body import Body
from lossfill.donor.stub import Stub, find_stub, march, neighbours
from lossfill.form.close import close_turn
from lossfill.form.form import Form, place_on_form
from lossfill.frame.frame import Frame
from lossfill.mesh import BoolArray, FloatArray, Mesh, face_vectors, transformed, unit
from lossfill.nearest import Surface
from lossfill.solids import Solid, checked, from_original, solid_from_mesh

AttachedKind = Literal["handle", "stub", "knob", "spout"]


@dataclass(frozen=True, slots=True, eq=False)
class Attached:
    """Something that stands off the outside of a vessel.

    Parameters
    ----------
    kind : "handle", which leaves the wall and comes back to it; "stub", which ends in a break;
        "knob", solid and ending as it was made; "spout", hollow
    solid : scan coordinates, cut off a little outside the wall
    roots : (K, 3) where it meets the wall, scan coordinates
    root_areas_mm2 : (K,)
    far_point : (3,) its place farthest off the wall, scan coordinates
    stands_mm : how far that is
    angle_deg : of its first root about the axis, counter-clockwise from the frame's 12 o'clock
    height_mm : of its first root above the foot
    stub : the break and the bar behind it, for a stub
    """

    kind: AttachedKind
    solid: Solid = field(repr=False)
    roots: FloatArray
    root_areas_mm2: FloatArray
    far_point: FloatArray
    stands_mm: float
    angle_deg: float
    height_mm: float
    stub: Stub | None = None


def stands_off(frame: Frame, form: Form) -> bool:
    """Whether enough of the surface lies off the wall's outside for anything to be attached.

    By the samples alone, which costs next to nothing: most vessels have no handle.
    """
    drop = form.drop
    if drop is None:
        return False
    outside = drop.along > frame.profile.lip
    off = outside & (drop.offset_mm > max(tol.ATTACHED_STANDS_MM, 4 * frame.residual_mm))
    return float(off.sum()) * frame.samples.area_mm2 > tol.ATTACHED_AREA_MM2


def attached_parts(body: Body, form: Form) -> tuple[Attached, ...]:
    """Find what stands off the wall's outside, the largest first.

    Raises
    ------
    BooleanError
        Where the solid modeller fails.
    """
    core_mesh = core_of(form)
    core = solid_from_mesh(core_mesh).as_original()
    name = core.original_id()
    rest = checked(body.solid - core, "what stands off the wall could not be cut from it")
    parts = [p for p in rest.decompose() if p.volume() >= tol.ATTACHED_VOLUME_MM3]
    parts.sort(key=lambda part: -part.volume())
    surface = Surface(core_mesh)
    found = (_judge(part, name, surface, form) for part in parts)
    return tuple(part for part in found if part is not None)


def core_of(form: Form) -> Mesh:
    """All that lies within the outside of the intact vessel and a little beyond, scan mm."""
    shift = tol.ATTACHED_SHIFT_MM + tol.ATTACHED_SHIFT_NOISES * form.noise_mm
    profile = form.profile
    n = len(profile.points) - 1
    rows = np.linspace(profile.lip, n, 2 * form.cells.shape[0] + 1)
    skin = place_on_form(form, rows[:, None], form.cells.angles[None, :], shift_mm=shift)
    lid = np.zeros_like(skin[:1])
    lid[..., 2] = float(skin[0, :, 2].max())
    return transformed(close_turn(np.concatenate([lid, skin])), form.scan_from_vessel)


def _judge(part: Solid, core: int, surface: Surface, form: Form) -> Attached | None:
    """Find the roots of a part, and what it is; None for what hardly stands off the wall."""
    raw = part.to_mesh64()
    mesh = Mesh(raw.vert_properties[:, :3], raw.tri_verts.astype(np.int32))
    off = surface.distance(mesh.vertices)
    far = int(off.argmax())
    if off[far] < tol.ATTACHED_STANDS_MM - tol.ATTACHED_SHIFT_MM:
        return None
    cut = from_original(raw, core, len(mesh.faces))
    roots = _roots(mesh, cut)
    if not roots:
        return None
    vectors = face_vectors(mesh)
    places, areas, ways = [], [], []
    for root in roots:
        size = np.linalg.norm(vectors[root], axis=1)
        middles = mesh.vertices[mesh.faces[root]].mean(axis=1)
        places.append((middles * size[:, None]).sum(axis=0) / size.sum())
        areas.append(float(size.sum()))
        ways.append(-unit(vectors[root].sum(axis=0)))
    path = march(mesh, cut, places[0], ways[0]) if len(roots) == 1 else None
    stub = find_stub(mesh, cut, path) if path is not None and not path.hollow else None
    kind: AttachedKind = "handle"
    if len(roots) == 1:
        kind = "stub" if stub is not None else "knob"
        if path is not None and path.hollow:
            kind = "spout"
    vessel_from_scan = np.linalg.inv(form.scan_from_vessel)
    at = vessel_from_scan[:3, :3] @ places[0] + vessel_from_scan[:3, 3]
    return Attached(
        kind=kind,
        solid=part,
        roots=np.array(places),
        root_areas_mm2=np.array(areas),
        far_point=mesh.vertices[far],
        stands_mm=float(off[far]) + tol.ATTACHED_SHIFT_MM,
        angle_deg=float(np.degrees(np.arctan2(at[1], at[0])) % 360.0),
        height_mm=float(at[2]),
        stub=stub,
    )


def _roots(mesh: Mesh, cut: BoolArray) -> list[BoolArray]:
    """Connected patches in which a part was cut off the wall, the largest first."""
    if not cut.any():
        return []
    where = np.flatnonzero(cut)
    label = connected_components(neighbours(mesh)[where][:, where], directed=False)[1]
    size = np.linalg.norm(face_vectors(mesh)[where], axis=1)
    area = np.bincount(label, size)
    roots = []
    for k in np.argsort(-area, kind="stable"):
        if area[k] < tol.ROOT_AREA_MM2:
            break
        mine = np.zeros(len(mesh.faces), dtype=np.bool_)
        mine[where[label == k]] = True
        roots.append(mine)
    return roots
