"""Lengths are shown in the unit that was asked for, also inside sentences and fields."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest
from nicegui import ui
from page.page_cases import context_in

from lossfill.page.lengths import length, told_in
from lossfill.page.plot import PlotWords, join_plot
from lossfill.page.steps.parts import LengthInput
from lossfill.tolerances import CLEARANCE_MAX_MM


@pytest.mark.parametrize(
    ("mm", "inches"),
    [
        (119.2, "4.69 in"),  # 119.2 / 25.4 = 4.693
        (5.1, "0.201 in"),
        (0.15, "0.0059 in"),
        (-0.15, "-0.0059 in"),
        (None, "–"),
    ],
)
def test_a_length_in_inches(mm: float | None, inches: str) -> None:
    assert length(mm, "inch") == inches


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("sides of 107.5 × 115.0 × 25.4 mm.", "sides of 4.23 × 4.53 × 1.00 in."),
        ("runs out flush over 3 mm", "runs out flush over 0.118 in"),
        ("0 to 1 mm. 0.15 mm suits", "0 to 0.039 in. 0.0059 in suits"),
        ("up to 2.54 mm deep and 0.5 ml", "up to 0.100 in deep and 0.5 ml"),
        ("between 40-65 % and 254-508 mm", "between 40-65 % and 10.00-20.00 in"),
        # Areas and volumes stay: scales, syringes and data sheets have them so.
        ("12 mm² of 100 mm² shared 0 mm³", "12 mm² of 100 mm² shared 0 mm³"),
        ("read in mm", "read in mm"),
        ("loss 2 at 4:30, 25.4 mm above", "loss 2 at 4:30, 1.00 in above"),
    ],
)
def test_lengths_in_a_sentence(text: str, inches: str) -> None:
    assert told_in(text, "inch") == inches
    assert told_in(text, "mm") == text


@pytest.fixture
def on_a_page() -> object:
    """Elements need a page to stand on."""
    from nicegui.client import Client
    from nicegui.page import page

    with Client(page("")) as client:
        yield client


def test_a_field_in_inches_gives_back_what_it_was_given(tmp_path: Path, on_a_page: object) -> None:
    context = context_in(tmp_path, shown="inch")
    field = LengthInput(context, "gap", 0.15, most_mm=CLEARANCE_MAX_MM)
    (number,) = [one for one in ui.context.client.elements.values() if isinstance(one, ui.number)]
    assert number.value == 0.0059
    assert number.props["suffix"] == "in"
    assert field.mm == 0.15  # not 0.0059 · 25.4 = 0.14986: untouched, nothing is stale
    number.value = 0.01
    assert field.mm == pytest.approx(0.254)
    # The largest, rounded up to what can be typed, is still the largest.
    number.value = number.max
    assert number.max * 25.4 > CLEARANCE_MAX_MM
    assert field.mm == CLEARANCE_MAX_MM
    number.value = None
    assert field.mm is None


def test_a_plot_in_inches_has_ticks_that_can_be_read() -> None:
    along = [mm / 25.4 for mm in (0.0, 25.4, 50.8)]
    steps = [mm / 25.4 for mm in (0.2, 0.0, -0.2)]
    words = PlotWords("in along", "step, in", "outside", "inside", "label")
    drawn = join_plot(along, steps, [True] * 3, words, least_shown=0.1 / 25.4)
    # 0.2 mm is 0.0079 in: the scale ends at the next plain number above it.
    assert "+0.008" in drawn
    ticks = re.findall(r'text-anchor="middle">([\d.]+)<', drawn)
    assert ticks == ["0", "0.5", "1", "1.5", "2"]
    assert all(math.isfinite(float(tick)) for tick in ticks)
