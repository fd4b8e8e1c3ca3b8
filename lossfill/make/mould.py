"""Press mould in two halves, for a piece of putty, clay or wax."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from lossfill import tolerances as tol
from lossfill.make.brief import Brief, BriefPiece, Side
from lossfill.make.envelope import shadow_above, shadow_below
from lossfill.make.grow import grown
from lossfill.make.made import Made, MadeSolid, Proved
from lossfill.make.mould_cast import simpler
from lossfill.make.mould_halves import Halves, make_halves
from lossfill.make.mould_proof import prove_mould
from lossfill.make.mould_settings import MouldSettings
from lossfill.make.opened import opened
from lossfill.make.pull import Pull, find_pull
from lossfill.make.shrink import Shrink
from lossfill.mesh import FloatArray, face_vectors, unit
from lossfill.solids import Solid, mesh_from_solid

_AS_IT_LIES = np.eye(3)
_UPSIDE_DOWN = np.diag([1.0, -1.0, -1.0])


def make_mould(
    brief: Brief,
    settings: MouldSettings = MouldSettings(),  # noqa: B008  # frozen
    *,
    shrink: Shrink = Shrink(),  # noqa: B008
) -> Made:
    """Make a mould for every piece of a loss.

    Parameters
    ----------
    shrink : of what is pressed or poured in; `along` is along the pull

    Returns
    -------
    A lower half, which takes the outer skin, and an upper half for each piece, both with the
    cavity up.

    Raises
    ------
    BooleanError
        Where a half cannot be made in one part.
    """
    made = [_mould_for(brief, piece, settings, shrink) for piece in brief.pieces]
    notes = [note for _, _, own in made for note in own] + list(_notes(settings, shrink))
    return Made(
        thing="mould",
        number=brief.number,
        solids=tuple(solid for solids, _, _ in made for solid in solids),
        proved=tuple(proof for _, proofs, _ in made for proof in proofs),
        notes=tuple(notes),
    )


def _mould_for(
    brief: Brief, piece: BriefPiece, settings: MouldSettings, shrink: Shrink
) -> tuple[list[MadeSolid], list[Proved], list[str]]:
    pull = find_pull(mesh_from_solid(piece.solid), _wished(brief, piece))
    wanted = _as_cast(piece.solid, pull.direction, settings, shrink)
    cast = simpler(wanted)
    box = cast.bounding_box()
    # Past both halves, whatever their settings.
    deep = 3 * (settings.wall_mm + settings.key_height_mm + settings.flash_depth_mm) + 2 * (
        box[5] - box[2]
    )
    below, above = shadow_below(cast, box[2] - deep), shadow_above(cast, box[5] + deep)
    halves = make_halves(below, above, settings)
    # Proved is what is written: the halves stand up, are rounded for files, and go back together.
    lower, lower_home = _stood_up(halves.lower, _AS_IT_LIES)
    upper, upper_home = _stood_up(halves.upper, _UPSIDE_DOWN)
    halves = replace(halves, lower=lower.transform(lower_home), upper=upper.transform(upper_home))
    name = f"loss_{piece.name}_mould"
    title = f"Mould for the piece of {brief.part}"
    solids = [
        MadeSolid(f"{name}_lower", f"{title}: lower half", lower),
        MadeSolid(f"{name}_upper", f"{title}: upper half", upper),
    ]
    proofs = prove_mould(wanted, cast, halves, settings.wall_mm)
    label = f" of piece {piece.name}" if len(brief.pieces) > 1 else ""
    proofs = [replace(proof, what=proof.what + label) for proof in proofs]
    return solids, proofs, _own_notes(piece, cast, halves, pull)


def _wished(brief: Brief, piece: BriefPiece) -> FloatArray:
    """Pulls to be tried first, (2, 3): from the outer skin inwards, and the piece's own way in."""
    if (brief.lost.side == int(Side.OUTER)).any():
        outwards = face_vectors(brief.lost.faces_of(Side.OUTER)).sum(axis=0)
        if np.linalg.norm(outwards) > 0:
            return np.stack([-unit(outwards), piece.entry])
    return np.stack([piece.entry, piece.entry])


def _as_cast(solid: Solid, pull: FloatArray, settings: MouldSettings, shrink: Shrink) -> Solid:
    """The piece as large as the cavity, its pull along +z and its middle at the origin."""
    upright = np.eye(3)[2] if abs(pull[2]) < 0.9 else np.eye(3)[0]
    side = unit(np.cross(upright, pull))
    turn = np.eye(4)
    turn[:3, :3] = [side, np.cross(pull, side), pull]
    low, high = mesh_from_solid(solid).bounds
    turn[:3, 3] = -turn[:3, :3] @ (0.5 * (low + high))
    larger = shrink.matrix(np.eye(3)[2], np.zeros(3))
    return grown(solid.transform((larger @ turn)[:3]), settings.release_offset_mm)


def _stood_up(half: Solid, turn: FloatArray) -> tuple[Solid, FloatArray]:
    """A half standing on its back, sound in a file's numbers, and the (3, 4) way back."""
    turned = half.transform(np.column_stack([turn, np.zeros(3)]))
    low = np.reshape(turned.bounding_box(), (2, 3))
    shift = -np.array([*low.mean(axis=0)[:2], low[0, 2]])
    return opened(turned.translate(shift)), np.column_stack([turn.T, -turn.T @ shift])


def _own_notes(piece: BriefPiece, cast: Solid, halves: Halves, pull: Pull) -> list[str]:
    over = halves.cavity.volume() - cast.volume()
    x, y, z = pull.direction
    notes = [
        f"The halves for piece {piece.name} part along ({x:.3f}, {y:.3f}, {z:.3f}) in the vessel's "
        f"directions, the best of {pull.n_tried} tried.",
        f"They meet at {halves.steepest_deg:.0f}° from level where that is steepest, and the line "
        f"between them steps by {halves.parting.off_edge_mm:.2f} mm where it leaves the edge of "
        f"piece {piece.name}: look there first when you trim.",
    ]
    share = over / cast.volume()
    if over > tol.MOULD_OVER_MM3:
        notes.append(
            f"Piece {piece.name} comes out of the mould with {over:.1f} mm³ ({100 * share:.2g} %) "
            "too much, where the mould cannot reach under an overhang of the break: file it off "
            "before the piece is set in, for it would stand against the break."
        )
    if share > tol.MOULD_UNDERCUT_SHARE:
        notes.append(
            f"Piece {piece.name} is too undercut for two halves to show its whole shape: print it, "
            "or model that part by hand."
        )
    return notes


def _notes(settings: MouldSettings, shrink: Shrink) -> tuple[str, ...]:
    size = (
        f"The cavity is larger by {100 * (shrink.oversize_along - 1):.2f} % along the pull and "
        f"{100 * (shrink.oversize_across - 1):.2f} % across it, for what shrinks by "
        f"{100 * shrink.along:g} % and {100 * shrink.across:g} %."
        if shrink != Shrink()
        else "The cavity is as large as the piece: say how much your clay, wax or paste shrinks, "
        "measured on a test bar, for one that is larger."
    )
    fill = (
        "Fill both halves a little over full, close them on their keys and press evenly until they "
        "meet; the surplus goes into the channel about the cavity."
        if settings.variant == "press"
        else "Close the halves on their keys, bind them, and pour through the wide hole until the "
        "narrow ones show it; the stubs come off the inner side when it has set."
    )
    return (
        size,
        "Line both halves before each use: a thin wax film or a release agent for wax and resin "
        "putty, cling film for putty, a dusting of talc or cornflour for clay.",
        fill,
        "Let it set as its maker says, lift the upper half straight off, and trim the line around "
        "the edge.",
        "Uncured resin and putty can bring on a lasting skin allergy, and their dust harms the "
        "lungs: wear gloves that suit the product and work in fresh air; its safety data sheet, "
        "your local rules and licensed practice come first.",
    )
