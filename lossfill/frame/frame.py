"""Where the axis is, which way is up, and the vessel's plain dimensions."""

from __future__ import annotations

from dataclasses import dataclass, field

from lossfill.frame.outline import Outline
from lossfill.frame.profile import Profile
from lossfill.frame.samples import Samples
from lossfill.mesh import FloatArray


@dataclass(frozen=True, slots=True)
class Roundness:
    """How far the outer wall is from round at one height.

    Parameters
    ----------
    height_mm : above the foot
    radius_mm : mean radius there
    amplitudes_mm : amplitude of the 2nd, 3rd and 4th angular harmonic of the radius
    """

    height_mm: float
    radius_mm: float
    amplitudes_mm: tuple[float, float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """The vessel's own coordinates: axis +z, foot on z = 0, angles counter-clockwise from above.

    Angle 0 (12 o'clock in reports) is the direction of the scan's own x axis seen along the axis.

    Parameters
    ----------
    vessel_from_scan : (4, 4) rigid transform, scan mm to vessel mm
    profile : the consensus section of the vessel
    outline : what makes an oval or lobed vessel round, or None where it is near round
    samples : points spread over the measured surface for later stages, in vessel coordinates and,
        where there is an outline, moved to the round vessel
    residual_mm : robust spread of the skin about the revolved profile (out of round included), mm
    noise_mm : the same with the low out-of-round harmonics allowed for: texture and scan noise
    coverage : fraction of the skin samples that the revolved profile explains
    height_mm, rim_diameter_mm, foot_diameter_mm : of the revolved profile; the rim is measured
        over the outside at the lip's widest
    wall_mm : median thickness of the wall
    capacity_ml : what the vessel held, whole, filled to the brim
    roundness : at several heights, from foot to rim
    warnings : sentences that every front end must show
    """

    vessel_from_scan: FloatArray
    profile: Profile
    outline: Outline | None
    samples: Samples = field(repr=False)
    residual_mm: float
    noise_mm: float
    coverage: float
    height_mm: float
    rim_diameter_mm: float
    foot_diameter_mm: float
    wall_mm: float
    capacity_ml: float
    roundness: tuple[Roundness, ...]
    warnings: tuple[str, ...] = ()
