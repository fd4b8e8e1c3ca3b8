"""Quantities as they are typed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lossfill.errors import InputError
from lossfill.mix.units import Measured, quantity


@pytest.mark.parametrize(
    ("words", "measured", "value"),
    [
        ("1.8ml", "volume", 1.8),
        (" 1.8 mL ", "volume", 1.8),
        ("1800 mm³", "volume", 1.8),
        ("1.8 cm^3", "volume", 1.8),
        ("0.0018l", "volume", 1.8),
        (".18cl", "volume", 1.8),
        ("80in3", "volume", 80 * 16.387064),  # an inch is 25.4 mm, so that 1 in³ is 16.387064 ml
        ("6cm2", "area", 600),
        ("600 mm²", "area", 600),
        ("0.0006 m2", "area", 600),
        ("1in2", "area", 645.16),
        ("3mm", "length", 3),
        ("0.3cm", "length", 3),
        ("150 µm", "length", 0.15),
        ("0.5in", "length", 12.7),
        ("1e-1cm", "length", 1),
    ],
)
def test_units_say_the_same(words: str, measured: Measured, value: float) -> None:
    assert quantity(words, measured, "--it") == pytest.approx(value, rel=1e-12)


@given(st.floats(1e-3, 1e3))
def test_the_unit_does_not_matter(value: float) -> None:
    as_ml = quantity(f"{value!r}ml", "volume", "it")
    assert quantity(f"{value * 1000!r} mm3", "volume", "it") == pytest.approx(as_ml, rel=1e-12)
    assert quantity(f"{value / 1000!r} l", "volume", "it") == pytest.approx(as_ml, rel=1e-12)


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        ("1.8", "has no unit: add one of ml"),
        ("1.8 pints", "'pints' is no unit of volume"),
        ("1.8mm2", "'mm2' is no unit of volume"),
        ("2floz", "no unit of volume"),
        ("1,8ml", "volume"),
        ("ml", "such as 1.8ml"),
        ("", "such as 1.8ml"),
        ("nan ml", "such as 1.8ml"),
        ("-1ml", "above 0"),
        ("0ml", "above 0"),
        ("1e999ml", "finite"),
    ],
)
def test_what_is_no_volume_is_refused(words: str, reason: str) -> None:
    with pytest.raises(InputError, match=reason) as caught:
        quantity(words, "volume", "--volume")
    assert str(caught.value).startswith("--volume ")
