"""All that making needs to know of one loss, from a design in memory or from its folder.

Everything here stands upright: vessel coordinates, mm, the axis +z and the foot on z = 0.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import manifold3d
import numpy as np
from numpy.typing import NDArray

from lossfill.errors import UnsuitedError
from lossfill.frame.profile import Profile
from lossfill.loss.loss import LossKind
from lossfill.loss.sides import Side
from lossfill.mesh import FloatArray, Mesh, face_vectors, part_of

__all__ = ["Brief", "BriefPiece", "Lost", "Side"]


@dataclass(frozen=True, slots=True, eq=False)
class Lost:
    """The missing material: the exact complement of the body, without any clearance.

    Parameters
    ----------
    mesh : closed triangles
    side : (F,) int8 of `Side`, one for each triangle: break, new outer skin or new inner skin
    solid : the same triangles as a solid
    """

    mesh: Mesh
    side: NDArray[np.int8]
    solid: manifold3d.Manifold = field(repr=False)

    def faces_of(self, *sides: Side) -> Mesh:
        """The triangles of some sides alone, an open mesh.

        Raises
        ------
        InputError
            Where it has none of them.
        """
        chosen = np.isin(self.side, [int(side) for side in sides])
        if not chosen.any():
            names = " or ".join(side.name.lower() for side in sides)
            raise UnsuitedError(f"this loss has no {names} side")
        return part_of(self.mesh, chosen)

    @property
    def skin(self) -> Mesh:
        """The new skin, outside and inside, an open mesh."""
        return self.faces_of(Side.OUTER, Side.INNER)

    @property
    def seat(self) -> Mesh:
        """The break, an open mesh."""
        return self.faces_of(Side.BREAK)

    def area_mm2(self, side: Side) -> float:
        """Area of one side, mm²."""
        vectors = face_vectors(self.mesh)[self.side == int(side)]
        return float(np.linalg.norm(vectors, axis=1).sum())


@dataclass(frozen=True, slots=True, eq=False)
class BriefPiece:
    """A piece as it was fitted; a loss that was split has two.

    Parameters
    ----------
    name : "1", or "1a" and "1b"
    solid : with its clearance and all that was relieved
    entry : (3,) unit vector along which it slides home
    """

    name: str
    solid: manifold3d.Manifold = field(repr=False)
    entry: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Brief:
    """All that making needs to know of one loss, upright.

    Parameters
    ----------
    vessel : the vessel's name in words, such as "tea bowl"
    number : of the loss, 1 for the largest
    kind : what sort of loss
    place : where, in words, such as "at 9:00, 42 mm up"
    lost : the missing material
    pieces : what was fitted to go in its place, in the order in which they go in
    body : the whole body
    others : the other losses' missing material
    wall_mm : median thickness of the vessel's wall
    profile : section of the round vessel, or None for a thing without an axis
    vessel_from_scan : (4, 4) rigid
    clearance_mm : gap along the break
    """

    vessel: str
    number: int
    kind: LossKind
    place: str
    lost: Lost
    pieces: tuple[BriefPiece, ...]
    body: manifold3d.Manifold = field(repr=False)
    others: tuple[manifold3d.Manifold, ...] = field(repr=False)
    wall_mm: float
    profile: Profile | None
    vessel_from_scan: FloatArray
    clearance_mm: float

    @property
    def part(self) -> str:
        """The vessel and the loss in words, for titles."""
        return f"{self.vessel}, loss {self.number}, {self.kind.value} {self.place}"

    @property
    def stem(self) -> str:
        """What the names of its files begin with."""
        return f"loss_{self.number}"

    def stem_of(self, piece: BriefPiece) -> str:
        """What the names of one piece's files begin with."""
        return f"loss_{piece.name}"
