"""One place where material is missing, and its measures."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum

import manifold3d

from lossfill.form.choice import Trial


class LossKind(Enum):
    """What sort of loss it is; the value is the word shown to people.

    A chip takes some of an edge, that of the lip as a rule; a spall has gone from one skin and
    leaves the edges and the other skin alone.
    """

    THROUGH = "through"
    RIM = "rim"
    FOOT = "foot"
    CHIP = "chip"
    HANDLE = "handle"
    SPALL = "spall"


@dataclass(frozen=True, slots=True, eq=False)
class Loss:
    """A loss, numbered from the largest; those that had to be pointed at come after the others.

    Parameters
    ----------
    number : 1 for the largest by volume
    kind : see `LossKind`
    solid : the missing material, the exact complement of the body (no clearance), scan mm
    form_here, body_here : the intact form and the body about the loss, scan mm
    volume_ml : volume of `solid`
    outer_area_mm2, inner_area_mm2 : new skin outside and inside (lip counted to its nearer side)
    break_area_mm2 : area of the break
    join_length_mm : length of the line where fill skin meets body skin
    thickness_mm : smallest and largest wall thickness of the missing part (2nd and 98th percentile)
    depth_mm : how far the deepest point of the loss lies below the intact skin
    extent_along_mm : extent along the wall, from foot towards rim
    extent_around_mm : extent around the wall, on the outside
    angle_deg : where its middle lies around the axis, degrees counter-clockwise from above, 0–360
    clock : the same as a clock seen from above (12 at angle 0, running clockwise), such as "2:30"
    height_mm : height of its middle above the foot
    centre_mm : (x, y, z) of its centroid, scan coordinates
    expected_error_mm : expected RMS error of the fill's skin, from hiding patches that exist
    bound_mm : that error stays below this in nine of ten cases
    source : how the missing form was found, one of `form.sources.NAMES`
    trials : what every way was expected to err by, or why it does not apply
    on_wall : in a turned wall, along and around which it is measured; else, as in a handle or a
        box, `extent_around_mm` is its longest extent and `extent_along_mm` the next
    """

    number: int
    kind: LossKind
    solid: manifold3d.Manifold = field(repr=False)
    form_here: manifold3d.Manifold = field(repr=False)
    body_here: manifold3d.Manifold = field(repr=False)
    volume_ml: float
    outer_area_mm2: float
    inner_area_mm2: float
    break_area_mm2: float
    join_length_mm: float
    thickness_mm: tuple[float, float]
    depth_mm: float
    extent_along_mm: float
    extent_around_mm: float
    angle_deg: float
    clock: str
    height_mm: float
    centre_mm: tuple[float, float, float]
    expected_error_mm: float
    bound_mm: float
    source: str
    trials: tuple[Trial, ...]
    on_wall: bool = True
