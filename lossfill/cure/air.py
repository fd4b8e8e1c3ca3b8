"""Air in which lacquer cures: whether it suits, and what its moisture is."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from lossfill import tolerances as tol
from lossfill.cure import moist
from lossfill.errors import InputError


class Side(StrEnum):
    """On which side of its range air lies; the value is the word shown."""

    DRY = "too dry"
    DAMP = "too damp"
    COLD = "too cold"
    WARM = "too warm"


@dataclass(frozen=True, slots=True)
class Air:
    """Air at the pressure of the room.

    Parameters
    ----------
    temperature_c : °C
    humidity_percent : relative humidity, %

    Raises
    ------
    InputError
        No air in a room or a box is like that.
    """

    temperature_c: float
    humidity_percent: float

    def __post_init__(self) -> None:
        low, high = tol.AIR_TEMPERATURE_RANGE_C
        if not low <= self.temperature_c <= high:  # also refuses NaN
            raise InputError(
                f"a temperature of {self.temperature_c:.4g} °C is outside {low:g} to {high:g} °C; "
                "write °F with an F, such as 70F"
            )
        least = tol.AIR_HUMIDITY_LEAST_PERCENT
        if not least <= self.humidity_percent <= 100.0:
            raise InputError(
                f"a relative humidity of {self.humidity_percent:.4g} % is outside {least:g} to "
                "100 %; give it in percent, such as 75%"
            )

    @property
    def vapour_pressure_pa(self) -> float:
        """Pressure of the water vapour in it, Pa."""
        return moist.vapour_pressure_pa(self.temperature_c, self.humidity_percent)

    @property
    def dew_point_c(self) -> float:
        """Temperature at which it begins to wet what it touches, °C."""
        return moist.dew_point_c(self.temperature_c, self.humidity_percent)

    @property
    def humidity_ratio(self) -> float:
        """Kilograms of vapour to a kilogram of dry air, at the standard pressure."""
        return moist.humidity_ratio(
            self.temperature_c, self.humidity_percent, moist.STANDARD_PRESSURE_PA
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class AirLimits:
    """Range of air that counts as fit for curing.

    Parameters
    ----------
    temperature_c : least and most, °C; the usual range is common practice
    humidity_percent : least and most relative humidity, %; the same

    Raises
    ------
    InputError
        A range is empty or beyond what air can be.
    """

    temperature_c: tuple[float, float] = tol.CURE_TEMPERATURE_C
    humidity_percent: tuple[float, float] = tol.CURE_HUMIDITY_PERCENT

    def __post_init__(self) -> None:
        for (low, high), unit, (least, most) in (
            (self.temperature_c, "°C", tol.AIR_TEMPERATURE_RANGE_C),
            (self.humidity_percent, "%", (0.0, 100.0)),
        ):
            if not least <= low < high <= most:
                raise InputError(
                    f"a range of {low:.4g} to {high:.4g} {unit} is none: give the lower first, "
                    f"both between {least:g} and {most:g} {unit}"
                )

    @property
    def is_usual(self) -> bool:
        """Whether it is the range of common practice."""
        return self == AirLimits()


@dataclass(frozen=True, slots=True)
class AirJudged:
    """What a state of air means for lacquer.

    Parameters
    ----------
    in_range : whether it lies within the limits, both ends counted
    sides : on which sides it lies outside
    can_cure : False where lacquer does not cure at all
    words : what to tell, the outcome first
    """

    in_range: bool
    sides: tuple[Side, ...]
    can_cure: bool
    words: tuple[str, ...]


def judge_air(air: Air, limits: AirLimits | None = None) -> AirJudged:
    """Say whether lacquer cures in such air.

    Parameters
    ----------
    air : as read or as planned
    limits : what counts as fit; the usual range without it
    """
    fit = limits or AirLimits()
    sides = sides_of(air.temperature_c, air.humidity_percent, fit)
    stop = _no_cure(air.temperature_c)
    told = [_outside(side, air, fit) for side in sides] or ["in range"]
    return AirJudged(not sides, sides, stop is None, (*told, *([stop] if stop else [])))


def sides_of(temperature_c: float, humidity_percent: float, limits: AirLimits) -> tuple[Side, ...]:
    """Sides on which a reading lies outside its limits; a reading on a limit is inside."""
    beyond = {
        Side.DRY: humidity_percent < limits.humidity_percent[0],
        Side.DAMP: humidity_percent > limits.humidity_percent[1],
        Side.COLD: temperature_c < limits.temperature_c[0],
        Side.WARM: temperature_c > limits.temperature_c[1],
    }
    return tuple(side for side, is_beyond in beyond.items() if is_beyond)


def limit_of(side: Side, limits: AirLimits) -> float:
    """Limit that a side lies beyond, °C or %."""
    pair = limits.humidity_percent if side in (Side.DRY, Side.DAMP) else limits.temperature_c
    return pair[0] if side in (Side.DRY, Side.COLD) else pair[1]


def _outside(side: Side, air: Air, limits: AirLimits) -> str:
    edge = limit_of(side, limits)
    what = {Side.DRY: "least", Side.COLD: "least", Side.DAMP: "most", Side.WARM: "most"}[side]
    advice = {
        Side.DRY: "lacquer cures slowly or not at all; damp the box",
        Side.DAMP: "lacquer may skin over, wrinkle or darken; let the box dry a little",
        Side.COLD: "lacquer cures slowly; warm the box gently",
        Side.WARM: "lacquer may skin over and wrinkle; let the box cool",
    }[side]
    if side in (Side.DRY, Side.DAMP):
        return f"{side.value}: {air.humidity_percent:.3g} %, {what} {edge:g} %: {advice}"
    return f"{side.value}: {air.temperature_c:.3g} °C, {what} {edge:g} °C: {advice}"


def _no_cure(temperature_c: float) -> str | None:
    low, high = tol.CURE_NONE_ABOVE_C
    if temperature_c <= tol.CURE_STOPS_C:
        return f"no cure: at {tol.CURE_STOPS_C:g} °C and below it stops (common practice)"
    if low < temperature_c <= high:
        return f"no cure: lacquer does not cure between {low:g} and {high:g} °C (common practice)"
    if temperature_c > high:
        return f"above {high:g} °C lacquer is cured by heat, which is not judged here"
    return None
