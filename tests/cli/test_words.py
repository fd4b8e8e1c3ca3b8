from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lossfill.cli.words import LINE_WIDTH, millilitres, one_line, rounded, whole_mm, wrapped
from lossfill.figures import found_words, square_cm


@pytest.mark.parametrize(
    ("value", "digits", "words"),
    [
        (9.428, 3, "9.43"),
        (9.4, 3, "9.40"),
        (9.996, 3, "10.0"),
        (0.0412, 2, "0.041"),
        (0.0996, 2, "0.10"),
        (412.0, 2, "410"),
        (1234.5, 3, "1230"),
        (0.0, 3, "0"),
        (-0.118, 2, "-0.12"),
        # A printed example of two-digit rounding: 0.791 is stated as 0.79 (GUM 7.2.4, from memory).
        (0.791, 2, "0.79"),
    ],
)
def test_rounded(value: float, digits: int, words: str) -> None:
    assert rounded(value, digits) == words


@given(st.floats(1e-6, 1e9), st.integers(1, 6))
def test_rounding_moves_a_value_by_half_a_unit_of_the_last_digit_at_most(
    value: float, digits: int
) -> None:
    unit = 10.0 ** (math.floor(math.log10(value)) - digits + 1)
    # A hair over one half, for values that lie on the edge between two roundings.
    assert abs(float(rounded(value, digits)) - value) <= 0.5001 * unit
    assert "e" not in rounded(value, digits)


def test_small_volumes_carry_two_digits() -> None:
    assert millilitres(9.428) == "9.43 ml"
    assert millilitres(0.0412) == "0.041 ml"


def test_small_areas_carry_two_digits() -> None:
    assert square_cm(3120.86) == "31.2 cm²"
    assert square_cm(65.8) == "0.66 cm²"


@pytest.mark.parametrize(
    ("found", "limit", "words"),
    [
        (0.0, 0.0, "0"),
        (0.0004, 0.2, "below 0.001"),
        (0.0004, 0.001, "below 0.001"),
        # "below 0.001" would not tell whether such a limit was kept.
        (0.0000004, 0.000001, "0.00000040"),
        (0.00000000001, 0.0001, "below 0.00001"),
        (0.0004, 0.0, "0.00040"),
        (0.0368, 0.1, "0.037"),
    ],
)
def test_what_was_found_can_be_held_against_its_limit(
    found: float, limit: float, words: str
) -> None:
    assert found_words(found, limit) == words


def test_lengths_are_whole_from_ten_millimetres() -> None:
    assert whole_mm(61.6) == "62"
    assert whole_mm(9.96) == "10"
    assert whole_mm(9.94) == "9.9"


def test_one_line_collapses_breaks() -> None:
    assert one_line(" a\n b\t c ") == "a b c"


def test_wrapping_keeps_paths_whole_and_lines_short() -> None:
    path = "/".join(["a-rather-long-folder"] * 8)
    lines = list(wrapped(f"{'word ' * 40}{path}", "  - ", "    "))
    assert lines[0].startswith("  - word")
    assert any(path in line for line in lines)
    assert all(len(line) <= LINE_WIDTH or line.strip() == path for line in lines)
