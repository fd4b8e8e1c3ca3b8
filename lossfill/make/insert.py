"""The gap that a wooden insert needs, so that it does not press when the air grows damp."""

from __future__ import annotations

from dataclasses import dataclass

from lossfill.errors import InputError
from lossfill.make.brief import Brief
from lossfill.make.wood import Grain, wood_clearance_mm, wood_named
from lossfill.mesh import extents


@dataclass(frozen=True, slots=True)
class WoodGap:
    """What a wooden insert moves by.

    Parameters
    ----------
    each_side_mm : to be added to the clearance along the break
    says : the same in words, with what it came from
    """

    each_side_mm: float
    says: str


def wood_gap(brief: Brief, name: str, humidity: tuple[float, float] | None) -> WoodGap:
    """The gap for an insert of some wood, its grain along the longest extent of the loss.

    Across the grain it moves by the tangential figure at most, which is the larger one, over the
    next extent; along the grain wood hardly moves.

    Parameters
    ----------
    name : one of `wood.WOODS`
    humidity : lowest and highest relative humidity, percent; it is fitted at the lowest

    Raises
    ------
    InputError
        For an unknown wood, or a range that cannot be.
    """
    wood = wood_named(name)
    if humidity is None:
        raise InputError("a wood moves with the damp of the air: give --humidity, such as 40-65")
    dry, damp = humidity
    if not dry < damp:
        raise InputError(
            f"the humidity runs from {dry:g} to {damp:g} %: give the lower one first, such as 40-65"
        )
    width = float(extents(brief.lost.mesh.vertices)[1])
    gap = wood_clearance_mm(width, wood, Grain.TANGENTIAL, dry_percent=dry, damp_percent=damp)
    return WoodGap(
        0.5 * gap,
        f"{wood.name} {width:.0f} mm wide across the grain swells by up to {gap:.2f} mm from "
        f"{dry:g} to {damp:g} % humidity: {0.5 * gap:.2f} mm was added to the clearance; fit it in "
        "the dry, with the grain along the longest side",
    )
