"""The piece itself, to be printed: as it prints best, larger by what the print shrinks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lossfill.make.brief import Brief, BriefPiece
from lossfill.make.made import Made, MadeSolid, Proved
from lossfill.make.pose import best_up, stood
from lossfill.make.shrink import Shrink
from lossfill.mesh import BoolArray, centres
from lossfill.nearest import Surface
from lossfill.solids import Solid, mesh_from_solid


@dataclass(frozen=True, slots=True)
class PieceSettings:
    """How a piece is printed.

    Parameters
    ----------
    material : a note for the one who prints it, kept in the 3MF file
    """

    material: str = "solid throughout, not hollow"


def make_piece(
    brief: Brief,
    settings: PieceSettings = PieceSettings(),
    *,
    shrink: Shrink = Shrink(),  # noqa: B008  # frozen
) -> Made:
    """Stand each piece as it prints best.

    Parameters
    ----------
    shrink : of the print, along its upright and across; the piece is made larger by as much
    """
    solids, proved = [], []
    for piece in brief.pieces:
        mesh = mesh_from_solid(piece.solid)
        standing = stood(piece.solid, best_up(mesh, _visible(brief, piece)))
        upright = np.array([0.0, 0.0, 1.0])
        larger = standing.transform(shrink.matrix(upright, np.zeros(3))[:3])
        solids.append(
            MadeSolid(
                f"{brief.stem_of(piece)}_print",
                f"{brief.vessel}, piece {piece.name}",
                larger,
                settings.material,
            )
        )
        proved.append(_volume_proof(piece.name, piece.solid, larger, shrink))
    notes = [
        "stands as it prints with the fewest supports on its skin; put these where the break is, "
        "not where it shows",
        "uncured resin can bring on a lasting skin allergy and print dust harms the lungs: wear "
        "gloves, cure fully, sand wet; the product's safety data sheet and your local rules come "
        "first",
    ]
    if shrink != Shrink():
        notes.insert(
            0,
            f"made {100 * (shrink.oversize_along - 1):.2f} % taller and "
            f"{100 * (shrink.oversize_across - 1):.2f} % wider for what the print shrinks",
        )
    return Made("piece", brief.number, tuple(solids), proved=tuple(proved), notes=tuple(notes))


def _visible(brief: Brief, piece: BriefPiece) -> BoolArray:
    """Which triangles of a piece are closer to the new skin than to the break."""
    mesh = mesh_from_solid(piece.solid)
    middles = centres(mesh)
    skin = Surface(brief.lost.skin).distance(middles)
    visible: BoolArray = skin < Surface(brief.lost.seat).distance(middles)
    return visible


def _volume_proof(name: str, piece: Solid, made: Solid, shrink: Shrink) -> Proved:
    wanted = float(piece.volume()) * shrink.volume_factor
    return Proved(
        f"piece {name}: volume against the design's, larger by the shrinkage, %",
        100.0 * abs(float(made.volume()) / wanted - 1.0),
        # Rounding to the file's 32-bit numbers moves the surface by less than 0.01 µm.
        0.01,
    )
