"""The damp box: water that its air takes up, and how far it may cool before it wets.

Water vapour is taken as an ideal gas: mass = e V / (R T) with e its pressure. At room temperature
that is right to 0.2 %, far below what a spray bottle can dose.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from lossfill import tolerances as tol
from lossfill.cure import moist
from lossfill.cure.air import Air
from lossfill.errors import InputError

VAPOUR_GAS_CONSTANT = 8.314462618 / 18.015268e-3
"""J/(kg K); CODATA 2018 gas constant over the molar mass of water."""

ZERO_C_IN_K = 273.15

AIR_ALONE = (
    "This is the water that the air alone takes up. Wood, cloth, card and the vessel take up many "
    "times more before the air changes: damp the cloth, wait, and read the hygrometer (common "
    "practice)."
)
"""What goes with every amount of water."""


class Wetting(StrEnum):
    """Whether a surface gets wet; the value is the word shown."""

    DRY = "dry"
    NEAR = "near the dew point"
    WET = "wet"


@dataclass(frozen=True, slots=True)
class Rest:
    """Air of a closed box at another temperature, no water added.

    Parameters
    ----------
    air : what it becomes
    condensed_g : water that settled on what is in it, g
    """

    air: Air
    condensed_g: float


@dataclass(frozen=True, slots=True)
class Condensation:
    """A surface beside the air.

    Parameters
    ----------
    surface_c : temperature of the coldest surface, °C
    dew_point_c : of the air, °C
    wetting : wet at and below the dew point, near it within a margin
    """

    surface_c: float
    dew_point_c: float
    wetting: Wetting

    @property
    def margin_k(self) -> float:
        """How much warmer than the dew point the surface is, K."""
        return self.surface_c - self.dew_point_c


def volume_of_size_l(length_mm: float, width_mm: float, height_mm: float) -> float:
    """Volume of a box by its inner size, l."""
    return length_mm * width_mm * height_mm / 1e6


def vapour_density_g_m3(air: Air) -> float:
    """Water vapour in a cubic metre of air, g."""
    kelvin = air.temperature_c + ZERO_C_IN_K
    return 1000.0 * air.vapour_pressure_pa / (VAPOUR_GAS_CONSTANT * kelvin)


def water_needed_g(volume_l: float, start: Air, end: Air) -> float:
    """Water to bring the air of a closed box from one state to another.

    Parameters
    ----------
    volume_l : of the air in it, l
    start, end : its air before and after

    Returns
    -------
    g; negative where water has to be taken out. Of the air alone: see `AIR_ALONE`.

    Raises
    ------
    InputError
        The volume is none that a box has.
    """
    _check_volume(volume_l)
    return (vapour_density_g_m3(end) - vapour_density_g_m3(start)) * volume_l / 1000.0


def air_at(volume_l: float, air: Air, temperature_c: float) -> Rest:
    """What the air of a closed box becomes when the temperature changes and no water is added.

    Parameters
    ----------
    volume_l : of the air in it, l
    air : before
    temperature_c : after, °C

    Raises
    ------
    InputError
        Volume or temperature is none that a box has.
    """
    _check_volume(volume_l)
    density = vapour_density_g_m3(air)
    full = vapour_density_g_m3(Air(temperature_c, 100.0))
    percent = min(100.0 * density / full, 100.0)
    least = tol.AIR_HUMIDITY_LEAST_PERCENT
    settled = max(density - full, 0.0) * volume_l / 1000.0
    return Rest(Air(temperature_c, max(percent, least)), settled)


def wets_at_c(air: Air) -> float:
    """Temperature to which a closed box may cool as a whole before its air is saturated, °C.

    Below the dew point, a little: as all of the air cools, so does the pressure of its vapour.
    """
    from scipy.optimize import brentq

    density = vapour_density_g_m3(air)

    def spare(temperature_c: float) -> float:
        kelvin = temperature_c + ZERO_C_IN_K
        full = moist.saturation_pressure_pa(temperature_c)
        return 1000.0 * full / (VAPOUR_GAS_CONSTANT * kelvin) - density

    # The pressure falls with the kelvins by a quarter at most: the answer lies within 5 K.
    dew = air.dew_point_c
    return float(brentq(spare, dew - 5.0, air.temperature_c + 1e-6, xtol=1e-6))


def condensation_at(air: Air, surface_c: float) -> Condensation:
    """Whether air wets a surface of some temperature."""
    dew = air.dew_point_c
    margin = surface_c - dew
    wetting = Wetting.DRY if margin >= tol.DEW_MARGIN_K else Wetting.NEAR
    return Condensation(surface_c, dew, wetting if margin > 0.0 else Wetting.WET)


def _check_volume(volume_l: float) -> None:
    low, high = tol.BOX_VOLUME_RANGE_L
    if not low <= volume_l <= high:
        raise InputError(
            f"a box of {volume_l:.4g} l is outside {low:g} to {high:g} l; give its inner size in "
            "millimetres, such as 400x300x300"
        )
