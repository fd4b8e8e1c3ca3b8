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
    """

    mesh: Mesh
    patched: NDArray[np.bool_]
    solid: manifold3d.Manifold = field(repr=False)
    repairs: tuple[Repair, ...] = ()
    warnings: tuple[str, ...] = ()
