"""What a user may choose when the scan of a made piece is checked."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lossfill.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckSettings:
    """How closely a made piece is looked at.

    Parameters
    ----------
    tolerance_mm : what stands off the design by less is as good as right; 0.1 mm is a coat of
        lacquer, and more than a good scan's noise
    lies_mm : the largest trimmed RMS at which a scan still counts as lying on a design; a piece
        warped by more has to be made anew
    touch_mm : a narrower gap counts as touching; a fine scan's own noise
    wide_gap_mm : a wider gap is told: there, thin adhesive runs out
    places : how many places of too much or too little are told at most
    seed : of the places that are looked at

    Raises
    ------
    InputError
        For a setting that is not above 0.
    """

    tolerance_mm: float = 0.1
    lies_mm: float = 0.5
    touch_mm: float = 0.02
    wide_gap_mm: float = 0.5
    places: int = 8
    seed: int = 1

    def __post_init__(self) -> None:
        told = {
            "tolerance of the check": self.tolerance_mm,
            "distance within which a scan lies on its design": self.lies_mm,
            "gap that counts as touching": self.touch_mm,
            "gap that counts as wide": self.wide_gap_mm,
        }
        for name, value in told.items():
            if not (value > 0 and np.isfinite(value)):
                raise InputError(f"the {name} is {value:g} mm, but it must be above 0 mm")
        if self.places < 1:
            raise InputError(f"{self.places} places are to be told, but it must be 1 or more")
