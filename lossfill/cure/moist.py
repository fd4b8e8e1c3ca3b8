"""Moist air by psychrolib: the one place that calls it.

psychrolib keeps its unit system in a global. It is set to SI around each call and put back, so
that neither another user of psychrolib nor we see the other's units.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

STANDARD_PRESSURE_PA = 101325.0
"""Pa; the standard atmosphere. The humidity ratio alone depends on it."""

_ONE_AT_A_TIME = threading.Lock()


@contextmanager
def _in_si() -> Iterator[Any]:
    """Psychrolib with SI units, its own state put back afterwards."""
    import psychrolib

    with _ONE_AT_A_TIME:
        units, step = psychrolib.PSYCHROLIB_UNITS, psychrolib.PSYCHROLIB_TOLERANCE
        psychrolib.SetUnitSystem(psychrolib.SI)
        try:
            yield psychrolib
        finally:
            psychrolib.PSYCHROLIB_UNITS, psychrolib.PSYCHROLIB_TOLERANCE = units, step


def saturation_pressure_pa(temperature_c: float) -> float:
    """Pressure of water vapour over water, or over ice below its triple point, Pa."""
    with _in_si() as moist:
        return float(moist.GetSatVapPres(temperature_c))


def vapour_pressure_pa(temperature_c: float, humidity_percent: float) -> float:
    """Pressure of the vapour in air of this humidity, Pa."""
    with _in_si() as moist:
        return float(moist.GetVapPresFromRelHum(temperature_c, humidity_percent / 100.0))


def dew_point_c(temperature_c: float, humidity_percent: float) -> float:
    """Temperature to which the air must cool to be saturated, °C."""
    with _in_si() as moist:
        return float(moist.GetTDewPointFromRelHum(temperature_c, humidity_percent / 100.0))


def dew_points_c(
    temperatures_c: Sequence[float], humidities_percent: Sequence[float]
) -> list[float]:
    """Dew points of many readings, °C; the state of psychrolib is set once for all of them."""
    with _in_si() as moist:
        return [
            float(moist.GetTDewPointFromRelHum(warm, damp / 100.0))
            for warm, damp in zip(temperatures_c, humidities_percent, strict=True)
        ]


def humidity_ratio(temperature_c: float, humidity_percent: float, pressure_pa: float) -> float:
    """Kilograms of vapour that go with a kilogram of dry air."""
    with _in_si() as moist:
        share = humidity_percent / 100.0
        return float(moist.GetHumRatioFromRelHum(temperature_c, share, pressure_pa))
