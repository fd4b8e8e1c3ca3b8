"""Salts against Greenspan's table, and a logger put right by them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lossfill.cautions import known_keys
from lossfill.cure.salts import SALTS, SaltReading, calibrate, humidity_over, salt_named, salts_near
from lossfill.errors import InputError

# Greenspan 1977, table 2, as printed. At 25 °C all were seen in reprints with two decimals (where
# two reprints differ by 0.02, both are within the tolerance); 20 and 30 °C are from memory.
TABLE = (
    ("MgCl2", 33.07, 32.78, 32.44),
    ("Mg(NO3)2", 54.38, 52.89, 51.40),
    ("NaBr", 59.14, 57.57, 56.03),
    ("KI", 69.90, 68.86, 67.89),
    ("NaCl", 75.47, 75.29, 75.09),
    ("KCl", 85.11, 84.34, 83.62),
    ("K2SO4", 97.59, 97.30, 97.00),
)


@pytest.mark.parametrize("row", TABLE, ids=[row[0] for row in TABLE])
def test_salts_hold_what_the_table_says(row: tuple[str, float, float, float]) -> None:
    salt = salt_named(row[0])
    for celsius, percent in zip((20.0, 25.0, 30.0), row[1:], strict=True):
        # The equations' printed digits give the table to 0.012 at worst; uncertainties are 0.1-0.5.
        assert humidity_over(salt, celsius) == pytest.approx(percent, abs=0.015)


@pytest.mark.parametrize(
    ("name", "at_10", "at_15"),
    # A conservator's table with one decimal, seen: 5 to 25 °C.
    [("MgCl2", 33.5, 33.3), ("NaCl", 75.7, 75.6), ("KCl", 86.8, 85.9), ("K2SO4", 98.2, 97.9)],
)
def test_equations_hold_in_the_cool(name: str, at_10: float, at_15: float) -> None:
    salt = salt_named(name)
    assert humidity_over(salt, 10.0) == pytest.approx(at_10, abs=0.0501)
    assert humidity_over(salt, 15.0) == pytest.approx(at_15, abs=0.0501)


def test_between_points_it_is_straight() -> None:
    assert humidity_over(salt_named("KI"), 22.5) == pytest.approx((69.90 + 68.86) / 2.0, abs=1e-9)
    assert humidity_over(salt_named("ki"), 20.0) == pytest.approx(69.90, abs=1e-9)


def test_what_was_not_seen_is_marked() -> None:
    assert salt_named("KI").is_from_memory(22.0)
    assert not salt_named("KI").is_from_memory(25.0)
    assert not salt_named("NaCl").is_from_memory(22.0)


def test_salts_stand_by_rising_humidity() -> None:
    held = [humidity_over(salt, 25.0) for salt in SALTS]
    assert held == sorted(held)
    assert [salt.formula for salt, _ in salts_near(76.0, 25.0)] == ["NaCl", "KI", "KCl"]
    assert salts_near(12.0, 25.0) == ()
    assert [salt.formula for salt, _ in salts_near(70.0, 12.0)] == ["NaCl"]  # KI is not known there


def test_one_salt_gives_an_offset() -> None:
    found = calibrate([SaltReading(salt_named("NaCl"), 72.0, 25.0)])
    assert found.slope == 1.0
    assert found.offset_percent == pytest.approx(3.29, abs=0.02)


@given(slope=st.floats(0.85, 1.15), offset=st.floats(-3.0, 3.0), celsius=st.floats(20.0, 30.0))
def test_two_salts_find_the_line_that_was_put_in(
    slope: float, offset: float, celsius: float
) -> None:
    readings = [
        SaltReading(salt, (humidity_over(salt, celsius) - offset) / slope, celsius)
        for salt in (salt_named("NaCl"), salt_named("KCl"), salt_named("KI"))
    ]
    for some in (readings[:2], readings):  # two exactly, three by least squares
        if max(abs(one.reading_percent - humidity_over(one.salt, celsius)) for one in some) > 15:
            continue
        found = calibrate(some)
        assert found.slope == pytest.approx(slope, abs=1e-9)
        assert found.offset_percent == pytest.approx(offset, abs=1e-6)


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        ([], "at least one"),
        ([("NaCl", 50.0, 25.0)], "had not settled"),
        ([("NaCl", float("nan"), 25.0)], "had not settled"),
        ([("NaCl", 75.0, 25.0), ("NaCl", 74.0, 25.0)], "two different salts"),
        ([("NaCl", 80.0, 25.0), ("KCl", 80.0, 25.0)], "does not answer"),
        ([("NaCl", 80.0, 25.0), ("KCl", 81.0, 25.0)], "slope of 9"),
        ([("NaCl", 75.0, 60.0)], "known here from 5 to 50 °C"),
        ([("KI", 69.0, 35.0)], "known here from 20 to 30 °C"),
    ],
)
def test_bad_readings_are_refused(readings: list[tuple[str, float, float]], words: str) -> None:
    with pytest.raises(InputError, match=words):
        calibrate([SaltReading(salt_named(name), *rest) for name, *rest in readings])


def test_an_unknown_salt_is_told_the_known_ones() -> None:
    with pytest.raises(InputError, match="NaCl, KCl"):
        salt_named("sugar")
    assert salt_named("Sodium chloride").formula == "NaCl"


def test_every_salt_raises_its_caution() -> None:
    for salt in SALTS:
        assert set(salt.cautions) <= set(known_keys())
        assert "salt" in salt.cautions
        assert ("oxidising salt" in salt.cautions) is ("NO3" in salt.formula)
