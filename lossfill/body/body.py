"""What solid is really there, and every repair that was needed to call it one."""

from __future__ import annotations

from dataclasses import dataclass, field

import manifold3d
import numpy as np
from numpy.typing import NDArray

from lossfill.mesh import Mesh


@dataclass(frozen=True, slots=True)
class Repair:
    """One kind of mending done to a copy of the scan.

    Parameters
    ----------
    what : a sentence fragment a repairer understands, such as "closed a scan hole"
    count : how many places or elements it touched
    place_mm : (x, y, z) of the place in scan coordinates, or None where it is everywhere
    size_mm : the largest extent of one place, mm (0 where it has none)
    """

    what: str
    count: int
    place_mm: tuple[float, float, float] | None
    size_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """The closed solid that the scan shows, in scan coordinates.

    Parameters
    ----------
    mesh : closed, outward triangles, mm
    patched : (F,) bool, True for triangles that closed a scan hole: they are a guess, not a
        measurement, and no later stage may take them for skin or for a break
    solid : the same triangles as a guaranteed-manifold solid
    repairs : all that was done, in the order in which it was done
    warnings : sentences that every front end must show
    assumed : (F,) bool, True for an inner skin that was laid where only the outer one was scanned,
        and for its stitches to the scan's edges, or None where there is none. Its shape follows
        the scanned skin, so frame, form and fill take it for the wall it stands for; what tells a
        person what was measured must leave it out
    """

    mesh: Mesh
    patched: NDArray[np.bool_]
    solid: manifold3d.Manifold = field(repr=False)
    repairs: tuple[Repair, ...] = ()
    warnings: tuple[str, ...] = ()
    assumed: NDArray[np.bool_] | None = None

    @property
    def guessed(self) -> NDArray[np.bool_]:
        """Triangles that were not measured, (F,): those that are patched and those assumed."""
        return self.patched if self.assumed is None else self.patched | self.assumed
