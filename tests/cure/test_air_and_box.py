"""Moist air against steam tables, and the damp box against the ideal gas worked by hand."""

from __future__ import annotations

import math

import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lossfill.cure import moist
from lossfill.cure.air import Air, AirLimits, Side, judge_air
from lossfill.cure.box import (
    Wetting,
    air_at,
    condensation_at,
    vapour_density_g_m3,
    volume_of_size_l,
    water_needed_g,
    wets_at_c,
)
from lossfill.errors import InputError


def steam_pressure_pa(temperature_c: float) -> float:
    """Saturation pressure by IAPWS SR1-86 (1992); constants from memory, checked below."""
    kelvin, critical_k = temperature_c + 273.15, 647.096
    tau = 1.0 - kelvin / critical_k
    total = (
        -7.85951783 * tau
        + 1.84408259 * tau**1.5
        - 11.7866497 * tau**3
        + 22.6807411 * tau**3.5
        - 15.9618719 * tau**4
        + 1.80122502 * tau**7.5
    )
    return 22.064e6 * math.exp(critical_k / kelvin * total)


def test_the_steam_formula_boils_water_at_one_atmosphere() -> None:
    # The normal boiling point on ITS-90 is 99.974 °C: guards the constants from memory.
    assert steam_pressure_pa(99.974) == pytest.approx(101325.0, rel=2e-5)


@pytest.mark.parametrize("celsius", [0.01, 5.0, 20.0, 25.0, 30.0, 60.0, 99.0])
def test_saturation_pressure_is_that_of_steam(celsius: float) -> None:
    # The ASHRAE equation and the IAPWS one differ by 2e-4 at most in this range.
    assert moist.saturation_pressure_pa(celsius) == pytest.approx(
        steam_pressure_pa(celsius), rel=3e-4
    )


@pytest.mark.parametrize(
    ("celsius", "pascal"),
    # From memory: the library's own published examples, and steam tables for 20 °C.
    [
        (-20.0, 103.24),
        (-5.0, 401.74),
        (5.0, 872.6),
        (20.0, 2339.0),
        (25.0, 3169.7),
        (50.0, 12351.3),
    ],
)
def test_saturation_pressure_as_published(celsius: float, pascal: float) -> None:
    assert moist.saturation_pressure_pa(celsius) == pytest.approx(pascal, rel=4e-4)


@pytest.mark.parametrize(("celsius", "grams"), [(25.0, 23.0), (10.0, 9.40), (-10.0, 2.36)])
def test_saturated_air_holds_what_textbooks_say(celsius: float, grams: float) -> None:
    # OpenStax College Physics, table 13.5, three digits; it is over water at -10 °C there, and
    # over ice here, hence 0.11: ice holds a tenth less.
    apart = 0.11 if celsius < 0 else 0.006
    assert vapour_density_g_m3(Air(celsius, 100.0)) == pytest.approx(grams, rel=apart)


def test_psychrolib_is_left_as_it_was() -> None:
    before, step = psychrolib.PSYCHROLIB_UNITS, psychrolib.PSYCHROLIB_TOLERANCE
    try:
        psychrolib.SetUnitSystem(psychrolib.IP)
        kept = psychrolib.PSYCHROLIB_TOLERANCE
        assert Air(25.0, 50.0).vapour_pressure_pa == pytest.approx(1584.9, abs=1.0)
        assert psychrolib.GetUnitSystem() is psychrolib.IP
        assert kept == psychrolib.PSYCHROLIB_TOLERANCE
        with pytest.raises(ValueError, match="must be in range"):
            moist.saturation_pressure_pa(500.0)
        assert psychrolib.GetUnitSystem() is psychrolib.IP
    finally:
        psychrolib.PSYCHROLIB_UNITS, psychrolib.PSYCHROLIB_TOLERANCE = before, step


def test_dew_point_is_where_the_vapour_saturates() -> None:
    for celsius, percent in ((20.0, 50.0), (25.0, 75.0), (30.0, 90.0)):
        air = Air(celsius, percent)
        # Steam at the dew point has the pressure of the vapour; 0.01 K is 6e-4 of it.
        assert steam_pressure_pa(air.dew_point_c) == pytest.approx(
            percent / 100.0 * steam_pressure_pa(celsius), rel=8e-4
        )
    assert Air(22.0, 100.0).dew_point_c == pytest.approx(22.0, abs=2e-3)


def test_humidity_ratio_by_its_definition() -> None:
    vapour = 0.5 * steam_pressure_pa(25.0)
    ratio = 0.621945 * vapour / (101325.0 - vapour)
    assert Air(25.0, 50.0).humidity_ratio == pytest.approx(ratio, rel=5e-4)


def test_water_for_a_box_by_hand() -> None:
    # m = e V M / (R T), each state by itself.
    def grams(celsius: float, percent: float) -> float:
        pressure = percent / 100.0 * steam_pressure_pa(celsius)
        return pressure * 0.036 * 18.015268 / (8.314462618 * (celsius + 273.15))

    volume = volume_of_size_l(400.0, 300.0, 300.0)
    assert volume == pytest.approx(36.0, rel=1e-12)
    wanted = grams(25.0, 75.0) - grams(21.0, 45.0)
    assert wanted == pytest.approx(0.325, abs=1e-3)
    water = water_needed_g(volume, Air(21.0, 45.0), Air(25.0, 75.0))
    assert water == pytest.approx(wanted, rel=1e-3)  # two formulas for pressure, 3e-4 each


air_states = st.builds(
    Air,
    st.floats(1.0, 45.0, allow_nan=False),
    st.floats(2.0, 100.0, allow_nan=False),
)


@given(start=air_states, end=air_states, litres=st.floats(1.0, 500.0), times=st.floats(1.0, 10.0))
def test_water_grows_with_the_box_and_turns_round(
    start: Air, end: Air, litres: float, times: float
) -> None:
    water = water_needed_g(litres, start, end)
    assert water_needed_g(litres * times, start, end) == pytest.approx(water * times, abs=1e-9)
    assert water_needed_g(litres, end, start) == pytest.approx(-water, abs=1e-12)


@given(air=air_states, celsius=st.floats(1.0, 45.0))
def test_a_box_without_water_keeps_its_water(air: Air, celsius: float) -> None:
    rest = air_at(50.0, air, celsius)
    lost = -water_needed_g(50.0, air, rest.air)
    if rest.air.humidity_percent > 1.0:  # drier is not told
        assert rest.condensed_g == pytest.approx(lost, abs=1e-9)
    assert rest.condensed_g == 0.0 or rest.air.humidity_percent == 100.0


def test_warming_dries_and_cooling_wets() -> None:
    air = Air(20.0, 60.0)
    # At constant vapour content: 60 % x (es(20)/293.15) / (es(30)/303.15).
    expected = 60.0 * steam_pressure_pa(20.0) / 293.15 / (steam_pressure_pa(30.0) / 303.15)
    assert air_at(10.0, air, 30.0).air.humidity_percent == pytest.approx(expected, rel=1e-3)
    at = wets_at_c(air)
    # As the whole box cools, so does its vapour: saturated where e(T)/T meets the old e/T.
    assert steam_pressure_pa(at) / (at + 273.15) == pytest.approx(
        0.6 * steam_pressure_pa(20.0) / 293.15, rel=5e-4
    )
    assert at < air.dew_point_c
    assert air_at(10.0, air, at + 0.05).condensed_g == 0.0
    assert air_at(10.0, air, at - 0.05).condensed_g > 0.0


@pytest.mark.parametrize(
    ("above", "wetting"),
    [(-1.0, Wetting.WET), (0.0, Wetting.WET), (1.9, Wetting.NEAR), (2.1, Wetting.DRY)],
)
def test_a_surface_wets_at_the_dew_point(above: float, wetting: Wetting) -> None:
    air = Air(25.0, 75.0)
    risk = condensation_at(air, air.dew_point_c + above)
    assert risk.wetting is wetting
    assert risk.margin_k == pytest.approx(above, abs=1e-9)


@pytest.mark.parametrize(
    ("celsius", "percent", "sides", "cures"),
    [
        (25.0, 75.0, (), True),
        (20.0, 65.0, (), True),  # CHECKS 5.1: 20-30 °C and 65-85 %, ends counted
        (30.0, 85.0, (), True),
        (19.9, 64.9, (Side.DRY, Side.COLD), True),
        (30.1, 85.1, (Side.DAMP, Side.WARM), True),
        (0.0, 75.0, (Side.COLD,), False),  # CHECKS 5.2
        (0.1, 75.0, (Side.COLD,), True),
        (40.0, 75.0, (Side.WARM,), True),
        (40.1, 75.0, (Side.WARM,), False),
        (80.0, 75.0, (Side.WARM,), False),
    ],
)
def test_air_is_judged_by_its_limits(
    celsius: float, percent: float, sides: tuple[Side, ...], cures: bool
) -> None:
    judged = judge_air(Air(celsius, percent))
    assert judged.sides == sides
    assert judged.in_range is (not sides)
    assert judged.can_cure is cures
    assert ("no cure" in " ".join(judged.words)) is not cures


def test_own_limits_count() -> None:
    own = AirLimits(temperature_c=(15, 25), humidity_percent=(55, 70))
    assert judge_air(Air(18.0, 60.0), own).in_range
    assert judge_air(Air(18.0, 75.0), own).sides == (Side.DAMP,)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Air(math.nan, 50.0), "write °F with an F"),
        (lambda: Air(120.0, 50.0), "outside -30 to 100 °C"),
        (lambda: Air(20.0, 0.5), "in percent"),
        (lambda: Air(20.0, 101.0), "outside 1 to 100 %"),
        (lambda: AirLimits(temperature_c=(30.0, 20.0)), "the lower first"),
        (lambda: AirLimits(humidity_percent=(50.0, 120.0)), "between 0 and 100 %"),
        (lambda: water_needed_g(0.0, Air(20, 50), Air(20, 60)), "inner size"),
    ],
)
def test_what_is_no_air_is_refused_in_one_line(make: object, words: str) -> None:
    assert callable(make)
    with pytest.raises(InputError, match=words) as caught:
        make()
    assert "\n" not in str(caught.value)
