"""Outer skin, inner skin and seat of a piece, told for its design and for a scan laid on it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lossfill import tolerances as tol
from lossfill.loss.sides import Side
from lossfill.make.brief import Brief, BriefPiece, Lost
from lossfill.mesh import FloatArray, face_vectors, unit
from lossfill.nearest import Surface
from lossfill.solids import mesh_from_solid


@dataclass(frozen=True, slots=True, eq=False)
class PieceSides:
    """The design of a piece, its sides apart.

    Parameters
    ----------
    design : its triangles, each with its side; what is no skin is seat
    whole : all of it, for signed distances
    parts : each side that it has
    """

    design: Lost
    whole: Surface
    parts: tuple[tuple[Side, Surface], ...]

    def of(self, points: FloatArray, normals: FloatArray) -> NDArray[np.int8]:
        """Which side each point of a scan belongs to, (N,) of `Side`.

        It is the side that lies nearest and faces as the scan does there: along an edge alone the
        nearest would be as often the wrong one.
        """
        strangeness = []
        for _, surface in self.parts:
            places, facing = surface.closest(points)
            turned = 1.0 - (facing * normals).sum(axis=1)
            strangeness.append(np.linalg.norm(points - places, axis=1) + tol.CHECK_TURNED * turned)
        names = np.array([int(side) for side, _ in self.parts], dtype=np.int8)
        result: NDArray[np.int8] = names[np.argmin(strangeness, axis=0)]
        return result


def sides_of_piece(brief: Brief, piece: BriefPiece) -> PieceSides:
    """Tell the sides of a designed piece apart by the missing material's."""
    mesh = mesh_from_solid(piece.solid)
    centres: FloatArray = mesh.vertices[mesh.faces].mean(axis=1)
    normals = unit(face_vectors(mesh))
    side = np.full(len(mesh.faces), int(Side.BREAK), dtype=np.int8)
    for skin in (Side.OUTER, Side.INNER):
        if not (brief.lost.side == int(skin)).any():
            continue
        places, facing = Surface(brief.lost.faces_of(skin)).closest(centres)
        near = np.linalg.norm(centres - places, axis=1) < tol.CHECK_SKIN_MM
        side[near & ((facing * normals).sum(axis=1) > tol.SKIN_AGREEMENT)] = int(skin)
    design = Lost(mesh, side, piece.solid)
    parts = tuple((one, Surface(design.faces_of(one))) for one in Side if (side == int(one)).any())
    return PieceSides(design, Surface(mesh), parts)
