"""How long to wait: the table's usual times, and what the air in the box makes of them.

Every figure about lacquer here is common practice: craft and trade texts that differ among
themselves, gathered and not measured. Nothing is reckoned between them.
"""

from __future__ import annotations

from lossfill import tolerances as tol
from lossfill.cure.settings import PlanSettings, Waits
from lossfill.materials.material import CuresBy, Material

Span = tuple[float, float]
"""Least and most usual hours."""

COOL_C, DRY_PERCENT = 15.0, 60.0
"""°C and % for which a slower time is told: 8 to 12 hours in place of 5 to 6."""

COOL_STRETCH = (8.0 / 5.0, 12.0 / 6.0)
"""What that makes of the least and the most usual wait."""

SLOWEST_H = (24.0, 168.0)
"""Hours told for bad air: "1-2 days, even a week"."""

SAND_READY_H = (48.0, 336.0)
"""Hours until a lacquer fill can be sanded: "days to two weeks"; two days are the least days."""


def chosen(span: Span, waits: Waits) -> float:
    """The wait to plan with, hours."""
    least, most = span
    return {"least": least, "most": most, "usual": 0.5 * (least + most)}[waits]


def longest(*spans: Span) -> Span:
    """The longer of each bound: what is shared waits for its slowest."""
    return max((span[0] for span in spans), default=0.0), max(
        (span[1] for span in spans), default=0.0
    )


def in_damp_air(material: Material) -> bool:
    """Whether it goes to the damp box."""
    return material.cures_by is CuresBy.HUMIDITY


def layer_wait(material: Material, settings: PlanSettings) -> Span:
    """Hours before the next layer; for lacquer in poor air longer, as far as practice tells."""
    least, most = material.layer_hours
    if not in_damp_air(material):
        return least, most
    temperature, humidity = settings.temperature_c, settings.humidity_percent
    cool = temperature is not None and temperature < tol.CURE_TEMPERATURE_C[0]
    dry = humidity is not None and humidity < tol.CURE_HUMIDITY_PERCENT[0]
    if not (cool or dry):
        return least, most
    stretched = least * COOL_STRETCH[0], most * COOL_STRETCH[1]
    colder = temperature is not None and temperature < COOL_C
    drier = humidity is not None and humidity < DRY_PERCENT
    return longest(stretched, SLOWEST_H) if colder or drier else stretched


def sanding_wait(material: Material) -> Span:
    """Hours after the last layer of a fill until it can be sanded, counted from laying it."""
    return SAND_READY_H if in_damp_air(material) else (0.0, 0.0)


def cure_wait(material: Material) -> Span:
    """Hours from laying it until it may be handled."""
    least, most = material.cure_days
    return 24.0 * least, 24.0 * most


def box_warnings(settings: PlanSettings) -> tuple[str, ...]:
    """What is wrong with the air in the box for lacquer; a reminder where it is not known."""
    temperature, humidity = settings.temperature_c, settings.humidity_percent
    told: list[str] = []
    if temperature is not None:
        told.extend(_temperature_flags(temperature))
    if (
        humidity is not None
        and not tol.CURE_HUMIDITY_PERCENT[0] <= humidity <= tol.CURE_HUMIDITY_PERCENT[1]
    ):
        told.append(_humidity_flag(humidity))
    if temperature is None or humidity is None:
        told.append(
            f"the waits for lacquer hold in a box at {_span(tol.CURE_TEMPERATURE_C)} °C and "
            f"{_span(tol.CURE_HUMIDITY_PERCENT)} % relative humidity (common practice): measure "
            "both"
        )
    return tuple(told)


def _temperature_flags(temperature_c: float) -> list[str]:
    usual = f"(usual is {_span(tol.CURE_TEMPERATURE_C)} °C, common practice)"
    at = f"OUT OF RANGE: the box is at {temperature_c:g} °C {usual}:"
    if tol.CURE_TEMPERATURE_C[0] <= temperature_c <= tol.CURE_TEMPERATURE_C[1]:
        return []
    if temperature_c <= tol.CURE_STOPS_C:
        return [
            f"{at} lacquer does not cure at {tol.CURE_STOPS_C:g} °C or below; the dates do not hold"
        ]
    if tol.CURE_NONE_ABOVE_C[0] < temperature_c <= tol.CURE_NONE_ABOVE_C[1]:
        return [
            f"{at} lacquer does not cure at {_span(tol.CURE_NONE_ABOVE_C)} °C; "
            "the dates do not hold"
        ]
    if temperature_c > tol.CURE_NONE_ABOVE_C[1]:
        return [f"{at} that bakes lacquer, which is another craft; the dates do not hold"]
    if temperature_c > tol.CURE_TEMPERATURE_C[1]:
        return [f"{at} what cures too fast skins over and wrinkles; lay thin coats"]
    return [f"{at} it cures more slowly; {_stretch_words(temperature_c < COOL_C)}"]


def _humidity_flag(humidity_percent: float) -> str:
    at = (
        f"OUT OF RANGE: the box is at {humidity_percent:g} % relative humidity "
        f"(usual is {_span(tol.CURE_HUMIDITY_PERCENT)} %, common practice):"
    )
    if humidity_percent > tol.CURE_HUMIDITY_PERCENT[1]:
        return f"{at} what cures too fast skins over and wrinkles; lay thin coats"
    return f"{at} it cures more slowly; {_stretch_words(humidity_percent < DRY_PERCENT)}"


def _stretch_words(beyond: bool) -> str:
    if beyond:
        days = _span((SLOWEST_H[0] / 24.0, SLOWEST_H[1] / 24.0))
        return (
            f"no better figure is told than {days} days for a layer, which the plan waits at "
            "least; try each layer by touch"
        )
    return (
        f"the waits between layers are {COOL_STRETCH[0]:g} to {COOL_STRETCH[1]:g} times as long; "
        "try each layer by touch"
    )


def _span(span: Span) -> str:
    return f"{span[0]:g}-{span[1]:g}"
