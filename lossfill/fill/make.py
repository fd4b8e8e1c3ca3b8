"""From a loss to the piece that fills it."""

from __future__ import annotations

import numpy as np

from lossfill import tolerances as tol
from lossfill.body.topology import edges_of
from lossfill.errors import BooleanError, InputError
from lossfill.fill.clearance import cut_clearance
from lossfill.fill.fill import Fill
from lossfill.loss.loss import Loss
from lossfill.mesh import Mesh
from lossfill.scan.weld import weld
from lossfill.solids import Solid, from_original, mesh_from_solid, solid_from_mesh


def make_fill(loss: Loss, *, clearance_mm: float = 0.15) -> Fill:
    """Make the piece for one loss.

    Parameters
    ----------
    loss : what is missing
    clearance_mm : gap left along the break, 0–1 mm; the skin does not move

    Raises
    ------
    InputError
        For a clearance out of range.
    BooleanError
        Where no sound solid comes out, or nothing is left of the piece.
    """
    if not 0.0 <= clearance_mm <= tol.CLEARANCE_MAX_MM:
        raise InputError(
            f"the clearance of {clearance_mm:g} mm is out of range: "
            f"give 0 to {tol.CLEARANCE_MAX_MM:g} mm"
        )
    solid = loss.solid
    if clearance_mm > 0:
        solid = cut_clearance(solid, loss.body_here, break_mesh(loss), clearance_mm=clearance_mm)
    largest, warnings = _largest_part(solid, loss, clearance_mm)
    sound, mesh = storable(largest)
    return Fill(
        loss=loss,
        mesh=mesh,
        solid=sound,
        body_nearby=loss.body_here,
        clearance_mm=clearance_mm,
        volume_ml=sound.volume() / 1000.0,
        warnings=warnings,
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
