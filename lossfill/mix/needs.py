"""What has to be known of each loss: from a design's record, or from figures that are given."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from lossfill.errors import InputError
from lossfill.mix.quantities import Need

if TYPE_CHECKING:
    from lossfill.make.brief import Brief
    from lossfill.pack.record import FillRecord, LossPart

GIVEN_NAME = "as given"

THROUGH = ("through", "rim", "handle")
"""Kinds of loss that are as deep as the wall is thick."""


def needs_of(record: FillRecord, briefs: Sequence[Brief] | None = None) -> tuple[Need, ...]:
    """What each loss of a design needs; cracks need nothing.

    Parameters
    ----------
    record : of the design
    briefs : its solids, for the size of blanks; without them a need has no box
    """
    boxes = {brief.number: _box(brief) for brief in briefs or ()}
    return tuple(
        _need(part, record.settings.clearance_mm, boxes.get(part.number)) for part in record.losses
    )


def need_given(
    volume_ml: float,
    *,
    skin_mm2: float = 0.0,
    break_mm2: float = 0.0,
    depth_mm: float | None = None,
    clearance_mm: float = 0.15,
) -> Need:
    """What a loss needs that was measured by other means than a scan.

    Parameters
    ----------
    volume_ml : of missing material
    skin_mm2 : area to be coated, all sides together
    break_mm2 : area of the break
    depth_mm : at its thickest; None takes the mean, the volume over the skin
    clearance_mm : gap along the break, for adhesive; 0.15 is that of `lossfill fill`

    Raises
    ------
    InputError
        For a value that is not finite, below 0, or a volume of 0.
    """
    given = {"area": skin_mm2, "break area": break_mm2, "clearance": clearance_mm}
    for name, value in {**given, "depth": depth_mm or 0.0}.items():
        if not 0 <= value < math.inf:
            raise InputError(f"the {name} is {value:g}, but it must be 0 or more")
    if not 0 < volume_ml < math.inf:
        raise InputError(f"the volume is {volume_ml:g} ml, but it must be above 0")
    if depth_mm is None:
        depth_mm = 1000.0 * volume_ml / skin_mm2 if skin_mm2 > 0 else 0.0
    return Need(
        name=GIVEN_NAME,
        number=0,
        volume_ml=volume_ml,
        volume_error_ml=0.0,
        outer_mm2=skin_mm2,
        inner_mm2=0.0,
        break_mm2=break_mm2,
        depth_mm=depth_mm,
        clearance_mm=clearance_mm,
        piece_ml=None,
        box_mm=None,
        way="",
    )


def _need(part: LossPart, clearance_mm: float, box: tuple[float, float, float] | None) -> Need:
    if part.clearance_mm is not None:
        clearance_mm = part.clearance_mm
    skin_mm2 = part.outer_area_mm2 + part.inner_area_mm2
    return Need(
        name=f"loss {part.number}",
        number=part.number,
        volume_ml=part.volume_ml,
        # The bound is on the error of the new skin, and a skin that lies off by b encloses b times
        # its area more or less. Both skins of a wall come from one form and may be off the same
        # way, so that they add; a chip or a spall has new skin on one side alone. The break is
        # the scan itself: its noise falls to both sides and averages out over its area.
        volume_error_ml=part.bound_mm * skin_mm2 / 1000.0,
        outer_mm2=part.outer_area_mm2,
        inner_mm2=part.inner_area_mm2,
        break_mm2=part.break_area_mm2,
        depth_mm=part.thickness_mm[1] if part.kind in THROUGH else part.depth_mm,
        clearance_mm=clearance_mm,
        piece_ml=part.piece_volume_ml,
        box_mm=box,
        way=part.way,
    )


def _box(brief: Brief) -> tuple[float, float, float]:
    """The box that holds the missing material, along its own axes."""
    from lossfill.mesh import extents

    length, breadth, thickness = (float(side) for side in extents(brief.lost.mesh.vertices))
    return length, breadth, thickness
