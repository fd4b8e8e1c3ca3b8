"""What the repairer chooses before mixing."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from lossfill import tolerances as tol
from lossfill.errors import InputError

Sides = Literal["outer", "inner", "both"]
"""Which sides of the new skin are coated."""

NO_MATERIAL = "none"
"""Asks for nothing in place of a material's name."""

_ABOVE_NOUGHT = {
    "scale_step_g": "g",
    "syringe_step_ml": "ml",
    "laid_ml_min": "ml a minute",
    "poured_ml_min": "ml a minute",
}


@dataclass(frozen=True, slots=True)
class MixSettings:
    """Which materials, how many coats, and what the tools at hand can tell.

    Parameters
    ----------
    fill_with : material of every loss, or None: by the way recommended for each
    fill_for : material of some losses by their number, over `fill_with`
    paste_with, putty_with, insert_with : what the ways "paste in thin layers", "putty on a backing"
        and "a made insert" take; paste too where no way is known
    join_with : adhesive of inserts, or None for none
    coat_with : coats over the fill, or None for none
    coats : how many, or None: as usual for the material
    coat_sides : of the new skin, for coats and metal
    metal_with : metal powder, or None for none
    ground_with : what holds the powder and seals it
    waste_share : of what is laid that stays on board, spatula and brush (common practice)
    scale_step_g, syringe_step_ml : what a bench scale and a 1 ml syringe can tell
    ratio_error_share : how far a part may be off from being weighed in steps: the smallest batch
        whose least part is told to within this share (common practice)
    laid_ml_min, poured_ml_min : how fast a paste is laid and a liquid is poured, for batches that
        are used up before they set (common practice)
    wood_allowance_mm : wood left on every side of a blank, to be carved away (common practice)
    humidity_percent : lowest and highest relative humidity that a wood insert will live in
    temperature_c : of the air that it lives in

    Raises
    ------
    InputError
        For a value out of its range.
    """

    fill_with: str | None = None
    fill_for: Mapping[int, str] = field(default_factory=dict)
    paste_with: str = "stone-powder-and-lacquer paste"
    putty_with: str = "epoxy putty"
    insert_with: str = "filament print"
    join_with: str | None = "flour-and-lacquer paste"
    coat_with: str | None = "lacquer coat"
    coats: int | None = None
    coat_sides: Sides = "both"
    metal_with: str | None = None
    ground_with: str = "lacquer for metal"
    waste_share: float = 0.15
    scale_step_g: float = 0.01
    syringe_step_ml: float = 0.01
    ratio_error_share: float = 0.05
    laid_ml_min: float = 0.2
    poured_ml_min: float = 20.0
    wood_allowance_mm: float = 3.0
    humidity_percent: tuple[float, float] = (40.0, 65.0)
    temperature_c: float = 21.0

    def __post_init__(self) -> None:
        if not 0 <= self.waste_share <= tol.WASTE_MAX:
            raise InputError(
                f"the waste is {100 * self.waste_share:g} %, but it must be from 0 to "
                f"{100 * tol.WASTE_MAX:g} %: give what stays on board and tools as a share of what "
                "is laid"
            )
        if self.coats is not None and not 1 <= self.coats <= tol.COATS_MAX:
            raise InputError(
                f"{self.coats} coats were asked for, but it must be from 1 to {tol.COATS_MAX}; for "
                "no coat take none as the material of the coats"
            )
        if self.coat_sides not in ("outer", "inner", "both"):
            raise InputError(
                f"the coated side is '{self.coat_sides}', but it must be outer, inner or both"
            )
        for name, unit in _ABOVE_NOUGHT.items():
            value = getattr(self, name)
            if not 0 < value < math.inf:
                raise InputError(f"{name} is {value:g} {unit}, but it must be above 0")
        if not 0 < self.ratio_error_share <= 1:
            raise InputError(
                f"ratio_error_share is {self.ratio_error_share:g}, but it must be above 0, up to 1"
            )
        self._check_wood()

    def _check_wood(self) -> None:
        if not 0 <= self.wood_allowance_mm <= tol.WOOD_ALLOWANCE_MAX_MM:
            raise InputError(
                f"the wood left to carve away is {self.wood_allowance_mm:g} mm on a side, but it "
                f"must be from 0 to {tol.WOOD_ALLOWANCE_MAX_MM:g} mm"
            )
        dry, damp = self.humidity_percent
        if not 0 <= dry < damp <= 100:
            raise InputError(
                f"the humidity runs from {dry:g} to {damp:g} %, but it must rise within 0 to "
                "100 %: give the lower one first, such as 40-65"
            )
