"""How wood moves with the damp of the air, and the gap that a wooden piece needs for it.

Numbers and equations are those of the Wood Handbook (Forest Products Laboratory, General Technical
Report FPL-GTR-190, 2010): equation 4-5 for the moisture that wood takes on, table 13-5 and
equations 13-2 and 13-3 for how far it swells. Temperatures are in °C throughout; the same
equation is printed elsewhere with its °C coefficients labelled °F, which gives nonsense.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np

from lossfill import tolerances as tol
from lossfill.errors import InputError


class Grain(Enum):
    """How a width lies in the trunk."""

    RADIAL = "radial"
    """Across the growth rings: the width of a quartersawn board."""
    TANGENTIAL = "tangential"
    """Along the growth rings: the width of a flatsawn board, which moves about twice as far."""


@dataclass(frozen=True, slots=True)
class Wood:
    """How far a wood moves.

    Parameters
    ----------
    name : of the wood
    radial, tangential : change of width as a share of it, for each percent of moisture
    """

    name: str
    radial: float
    tangential: float

    def change_for(self, grain: Grain) -> float:
        """Change of width as a share of it, for each percent of moisture, from 6 to 14 %."""
        return self.radial if grain is Grain.RADIAL else self.tangential


WOODS: tuple[Wood, ...] = (
    # FPL-GTR-190, table 13-5.
    Wood("apple", 0.00205, 0.00376),
    Wood("basswood", 0.00230, 0.00330),
    Wood("beech", 0.00190, 0.00431),
    Wood("black cherry", 0.00126, 0.00248),
    Wood("black walnut", 0.00190, 0.00274),
    Wood("red alder", 0.00151, 0.00256),
    Wood("sugar maple", 0.00165, 0.00353),
    # The same table; its tangential value is from memory, and gives back the worked example.
    Wood("white fir", 0.00112, 0.00245),
)


def wood_named(name: str) -> Wood:
    """The wood of that name.

    Raises
    ------
    InputError
        Where there is none.
    """
    for wood in WOODS:
        if wood.name == name.strip().lower():
            return wood
    known = ", ".join(wood.name for wood in WOODS)
    raise InputError(f"there are no figures for the wood '{name}': take one of {known}")


def wood_moisture_percent(humidity_percent: float, temperature_c: float) -> float:
    """Moisture that wood comes to in air of some humidity, % of its dry weight.

    Equation 4-5 of FPL-GTR-190 with its coefficients for °C.

    Raises
    ------
    InputError
        Where the humidity is not within 0 to 100 % or the temperature is out of the table's range.
    """
    if not 0 <= humidity_percent <= 100:
        raise InputError(
            f"the humidity of the air is {humidity_percent:g} %, but it must be from 0 to 100 %: "
            "give the relative humidity"
        )
    low, high = tol.WOOD_TEMPERATURES_C
    if not low <= temperature_c <= high:
        raise InputError(
            f"the temperature is {temperature_c:g} °C, but it must be from {low:g} to {high:g} °C: "
            "give it in °C"
        )
    t = temperature_c
    h = humidity_percent / 100
    W = 349 + 1.29 * t + 0.0135 * t**2
    K = 0.805 + 0.000736 * t - 0.00000273 * t**2
    K1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    K2 = 1.91 + 0.0407 * t - 0.000293 * t**2  # from memory; the sum agrees with table 4-2
    first = K * h / (1 - K * h)
    above = K1 * K * h + 2 * K1 * K2 * (K * h) ** 2
    below = 1 + K1 * K * h + K1 * K2 * (K * h) ** 2
    return 1800 / W * (first + above / below)


def wood_movement_mm(
    width_mm: float, change: float, *, moisture_from_percent: float, moisture_to_percent: float
) -> float:
    """How much wider wood becomes from one moisture to another; negative where it shrinks.

    From 6 to 14 % by equation 13-2, D C (M2 - M1). Where either is outside, by equation 13-3
    (its form from memory; with M1 = 10 % it gives back table 13-5, from which the total shrinkage
    that it needs is taken here). Wood moves no further once its fibres are full, at 30 %.

    Parameters
    ----------
    width_mm : width at the first moisture
    change : share for each percent, from `Wood.change_for`

    Raises
    ------
    InputError
        Where the width is not above 0.
    """
    if not 0 < width_mm < np.inf:
        raise InputError(f"the wood is {width_mm:g} mm wide, but it must be above 0 mm")
    full = tol.WOOD_FULL_PERCENT
    first, last = min(moisture_from_percent, full), min(moisture_to_percent, full)
    low, high = tol.WOOD_STRAIGHT_PERCENT
    if low <= min(first, last) and max(first, last) <= high:
        return width_mm * change * (last - first)
    # Equation 13-3 divides by 30 (100 / S) - 30 + M1; table 13-5 is its value for M1 = 10 %.
    hundred_shares = 1 / change + full - 10.0
    return width_mm * (last - first) / (hundred_shares - full + first)


def wood_clearance_mm(
    width_mm: float,
    wood: Wood,
    grain: Grain,
    *,
    dry_percent: float,
    damp_percent: float,
    temperature_c: float = 21.0,
) -> float:
    """Gap that a wooden piece fitted in dry air needs over its width, so that it never presses.

    It is the whole gap over the width: half of it on either side. Fired clay does not give way, so
    that a piece without it splits the wall or itself.

    Parameters
    ----------
    width_mm : width of the piece at right angles to its fibres; along them wood hardly moves
    dry_percent, damp_percent : relative humidity where it is fitted, and the dampest it will meet
    temperature_c : of the air

    Raises
    ------
    InputError
        Where the damp air is drier than the dry, or a value is out of its range.
    """
    if damp_percent < dry_percent:
        raise InputError(
            f"the damp air ({damp_percent:g} %) is drier than the dry air ({dry_percent:g} %): "
            "give the humidity where it is fitted first"
        )
    return wood_movement_mm(
        width_mm,
        wood.change_for(grain),
        moisture_from_percent=wood_moisture_percent(dry_percent, temperature_c),
        moisture_to_percent=wood_moisture_percent(damp_percent, temperature_c),
    )
