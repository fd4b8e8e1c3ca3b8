"""From a loss to the piece that fills it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lossfill import tolerances as tol
from lossfill.body.topology import edges_of
from lossfill.errors import BooleanError, InputError
from lossfill.fill.clearance import cut_clearance
from lossfill.fill.fill import Fill
from lossfill.fill.fillet import round_seat
from lossfill.fill.setback import Skins, set_back
from lossfill.fill.settings import AS_IT_WAS_LOST, FillSettings
from lossfill.fill.thin import Trimmed, trim_thin
from lossfill.loss.loss import Loss
from lossfill.mesh import Mesh
from lossfill.scan.weld import weld
from lossfill.solids import Solid, from_original, mesh_from_solid, solid_from_mesh


def make_fill(
    loss: Loss,
    settings: FillSettings = AS_IT_WAS_LOST,
    *,
    side: NDArray[np.int8] | None = None,
) -> Fill:
    """Make the piece for one loss.

    Parameters
    ----------
    loss : what is missing
    settings : how the piece is shaped from it
    side : (F,) what each triangle of the loss is, in the order of `mesh_from_solid`: 0 break, 1 new
        outer skin, 2 new inner skin; wanted for a setback

    Raises
    ------
    InputError
        For a setback without sides.
    BooleanError
        Where no sound solid comes out, or nothing is left of the piece.
    """
    solid = loss.solid
    trimmed: tuple[Trimmed, ...] = ()
    if settings.clearance_mm > 0:
        cut_mm = settings.clearance_mm
        solid = cut_clearance(solid, loss.body_here, break_mesh(loss), clearance_mm=cut_mm)
    seat = (
        _originals(solid) - {loss.form_here.original_id()} if settings.fillet_mm > 0 else set[int]()
    )
    if settings.has_setback:
        solid = _set_back(solid, loss, settings, side)
    if settings.fillet_mm > 0:
        solid = _rounded_seat(solid, seat, settings.fillet_mm)
    if settings.least_thickness_mm is not None:
        solid, trimmed = trim_thin(solid, thickness_mm=settings.least_thickness_mm)
    largest, warnings = _largest_part(solid, loss, settings.clearance_mm)
    sound, mesh = storable(largest)
    if trimmed:
        warnings += (_trimmed_words(trimmed, loss, settings),)
    return Fill(
        loss=loss,
        mesh=mesh,
        solid=sound,
        body_nearby=loss.body_here,
        clearance_mm=settings.clearance_mm,
        volume_ml=sound.volume() / 1000.0,
        warnings=warnings,
        trimmed=trimmed,
    )


def _trimmed_words(trimmed: tuple[Trimmed, ...], loss: Loss, settings: FillSettings) -> str:
    volume = sum(one.volume_mm3 for one in trimmed)
    length = sum(one.length_mm for one in trimmed)
    n = len(trimmed)
    return (
        f"edges of piece {loss.number} thinner than {settings.least_thickness_mm:g} mm, the least "
        f"for {settings.process}, were trimmed at {n} place{'s' if n > 1 else ''}, {length:.0f} mm "
        f"and {volume:.1f} mm³ in all: make them up in paste"
    )


def _originals(solid: Solid) -> set[int]:
    """Numbers of the solids that gave a solid its faces."""
    return {int(k) for k in np.asarray(solid.to_mesh64().run_original_id)}


def _rounded_seat(solid: Solid, seat: set[int], radius_mm: float) -> Solid:
    raw = solid.to_mesh64()
    vertices, faces = raw.vert_properties[:, :3], raw.tri_verts.astype(np.int32)
    of_seat = np.zeros(len(faces), dtype=np.bool_)
    for original in seat:
        of_seat |= from_original(raw, original, len(faces))
    if of_seat.all() or not of_seat.any():
        return solid
    skin = Mesh(vertices, faces[~of_seat])
    return round_seat(solid, Mesh(vertices, faces[of_seat]), skin, radius_mm=radius_mm)


def _set_back(
    solid: Solid, loss: Loss, settings: FillSettings, side: NDArray[np.int8] | None
) -> Solid:
    mesh = mesh_from_solid(loss.solid)
    if side is None or len(side) != len(mesh.faces):
        raise InputError(
            f"piece {loss.number} cannot be set back: it is not known which of its skin lies "
            "outside and which inside; make it without a setback"
        )
    return set_back(
        solid,
        loss.solid,
        Skins.of(mesh, side),
        outside_mm=settings.setback_outside_mm,
        inside_mm=settings.setback_inside_mm,
        fade_mm=settings.fade_mm,
    )


def break_mesh(loss: Loss) -> Mesh:
    """The triangles of what is missing that lie on the body."""
    raw = loss.solid.to_mesh64()
    faces = raw.tri_verts.astype(np.int32)
    on_break = ~from_original(raw, loss.form_here.original_id(), len(faces))
    return Mesh(raw.vert_properties[:, :3], faces[on_break])


def _largest_part(solid: Solid, loss: Loss, clearance_mm: float) -> tuple[Solid, tuple[str, ...]]:
    parts = sorted(solid.decompose(), key=lambda part: -part.volume())
    if not parts or parts[0].volume() < tol.PIECE_SHARE_MIN * 1000 * loss.volume_ml:
        raise BooleanError(
            f"nothing useful is left of piece {loss.number} with a clearance of "
            f"{clearance_mm:g} mm; try a smaller clearance, or fill this loss with paste"
        )
    lost = sum(part.volume() for part in parts[1:])
    if lost < tol.LOSS_VOLUME_MM3:
        return parts[0], ()
    return parts[0], (
        f"the clearance cuts {lost / 1000:.2g} ml off the piece for loss {loss.number}; "
        "that much must be made up in paste",
    )


def storable(solid: Solid) -> tuple[Solid, Mesh]:
    """Bring a solid to coordinates that a file's 32-bit floats hold exactly, still one solid.

    Rounding may fold or merge the tiny triangles that a cut leaves; such are collapsed, by as
    little as it takes.

    Raises
    ------
    BooleanError
        Where even the coarsest collapse leaves no sound solid.
    """
    for tolerance in tol.COLLAPSE_MM:
        part = solid.simplify(tolerance)
        # Parting at a pinched corner leaves crumbs; the second pass has none to part from.
        for _ in range(3):
            if part.is_empty():
                break
            try:
                mesh = _rounded(mesh_from_solid(part))
                rounded = solid_from_mesh(mesh)
            except (BooleanError, InputError):
                break
            parts = rounded.decompose()
            whole = rounded.num_tri() == len(mesh.faces) and len(parts) == 1
            if whole and not _is_pinched(mesh):
                return rounded, mesh
            part = max(parts, key=lambda piece: piece.volume())
    raise BooleanError(
        "the piece does not survive rounding to the file's 32-bit numbers; "
        "try another clearance, or fill this loss with paste"
    )


def _is_pinched(mesh: Mesh) -> bool:
    """Whether more than two triangles meet at an edge: there two folds touch."""
    return bool((edges_of(mesh.faces).uses > 2).any())


def _rounded(mesh: Mesh) -> Mesh:
    """Round to float32 and weld what falls together, dropping triangles that collapse."""
    places, index = weld(mesh.vertices.astype(np.float32))
    faces = index[mesh.faces]
    a, b, c = faces.T
    whole = (a != b) & (b != c) & (c != a)
    return Mesh(places.astype(np.float64), faces[whole])
