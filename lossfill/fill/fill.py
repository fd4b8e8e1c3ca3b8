"""The solid that replaces one loss, and the proof that it is sound."""

from __future__ import annotations

from dataclasses import dataclass, field

import manifold3d

from lossfill.fill.thin import Trimmed
from lossfill.loss.loss import Loss
from lossfill.mesh import Mesh


@dataclass(frozen=True, slots=True)
class Check:
    """The gate that every piece passes, measured on its file as written and read back.

    Parameters
    ----------
    watertight, outward, one_part : what the words say
    clash_mm3 : volume shared with the body, mm³
    clash_limit_mm3 : what rounding to the file's 32-bit numbers alone can cause, mm³
    volume_mm3 : volume of the piece as read back
    """

    watertight: bool
    outward: bool
    one_part: bool
    clash_mm3: float
    clash_limit_mm3: float
    volume_mm3: float

    @property
    def passed(self) -> bool:
        """True where the piece is one sound solid that shares no volume with the body."""
        sound = self.watertight and self.outward and self.one_part
        return sound and self.clash_mm3 <= self.clash_limit_mm3


@dataclass(frozen=True, slots=True, eq=False)
class Fill:
    """One piece, in scan coordinates, mm.

    Parameters
    ----------
    loss : the loss that it fills
    mesh : closed triangles whose coordinates are exact in 32-bit floats, so that a file holds them
    solid : the same as a solid
    body_nearby : the part of the body around the loss, for checks against the piece
    clearance_mm : gap left along the break
    volume_ml : volume of the piece, after the clearance
    warnings : sentences that every front end must show
    trimmed : edges too thin for the process that were taken off, the largest first
    """

    loss: Loss
    mesh: Mesh
    solid: manifold3d.Manifold = field(repr=False)
    body_nearby: manifold3d.Manifold = field(repr=False)
    clearance_mm: float
    volume_ml: float
    warnings: tuple[str, ...] = ()
    trimmed: tuple[Trimmed, ...] = ()
