"""What may be chosen of a press mould."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from lossfill.errors import InputError


@dataclass(frozen=True, slots=True)
class MouldSettings:
    """What may be chosen of a mould.

    Parameters
    ----------
    variant : "press" to press stuff into both halves and close them, "pour" to fill it closed
    wall_mm : thinnest wall of a half about the cavity, mm; 5 stands a clamp when printed
    draft_deg : lean of keys and outer flanks, degrees; the cavity's flanks are the piece's own
    land_mm : width of the land where the halves meet about the cavity, mm
    flash_width_mm : width of the channel that takes the surplus, mm; 0 for none
    flash_depth_mm : its depth, mm
    keys : cones that hold the halves in register, 0 to 6; 3 stand without wobble
    key_radius_mm, key_height_mm : of each, mm
    key_clearance_mm : gap about a key, mm; 0.2 lets printed parts close
    sprue_mm : width of the hole to pour through, mm
    vent_mm : width of the holes that let air out, mm
    vents : most of them
    release_offset_mm : how much the cavity is larger all over, mm: the thickness of a film that
        lines it

    Raises
    ------
    InputError
        For a value out of its range.
    """

    variant: Literal["press", "pour"] = "press"
    wall_mm: float = 5.0
    draft_deg: float = 2.0
    land_mm: float = 2.5
    flash_width_mm: float = 2.0
    flash_depth_mm: float = 1.0
    keys: int = 3
    key_radius_mm: float = 3.0
    key_height_mm: float = 4.0
    key_clearance_mm: float = 0.2
    sprue_mm: float = 5.0
    vent_mm: float = 1.5
    vents: int = 4
    release_offset_mm: float = 0.0

    def __post_init__(self) -> None:
        if self.variant not in ("press", "pour"):
            raise InputError(
                f"a mould of the kind '{self.variant}' is not known: take 'press' or 'pour'"
            )
        for name, (low, high, words) in _LIMITS.items():
            value = getattr(self, name)
            if not low <= value <= high:
                raise InputError(
                    f"the mould's {words} is {value:g}, but it must be from {low:g} to {high:g}"
                )
        lean = self.key_height_mm * np.tan(np.radians(self.draft_deg))
        if self.keys and not self.key_radius_mm - lean >= 0.5:
            raise InputError(
                f"keys {self.key_height_mm:g} mm tall that lean by {self.draft_deg:g}° run to a "
                f"point: make them wider than {self.key_radius_mm:g} mm, or lower"
            )


_LIMITS = {
    "wall_mm": (0.8, 50.0, "wall in mm"),
    "draft_deg": (0.0, 44.0, "draft in degrees"),
    "land_mm": (0.5, 30.0, "land in mm"),
    "flash_width_mm": (0.0, 20.0, "width of the flash channel in mm"),
    "flash_depth_mm": (0.0, 10.0, "depth of the flash channel in mm"),
    "keys": (0, 6, "number of keys"),
    "key_radius_mm": (1.0, 20.0, "radius of a key in mm"),
    "key_height_mm": (1.0, 20.0, "height of a key in mm"),
    "key_clearance_mm": (0.0, 1.0, "gap about a key in mm"),
    "sprue_mm": (1.0, 30.0, "width of the sprue in mm"),
    "vent_mm": (0.4, 5.0, "width of a vent in mm"),
    "vents": (0, 12, "number of vents"),
    "release_offset_mm": (0.0, 0.5, "offset for release in mm"),
}
