"""The plot of the step along a join says what its numbers are."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from lossfill.page.plot import BOTTOM, LEFT, RIGHT, TALL, TOP, WIDE, PlotWords, join_plot

WORDS = PlotWords("mm along", "step, mm", "outside", "inside", 'a "label" <of> 5 & more')
SVG = "{http://www.w3.org/2000/svg}"


def lines_of(drawn: str, *, dotted: bool) -> list[list[tuple[float, float]]]:
    """The plotted lines of one side, the sample in the legend left out."""
    lines = []
    for path in ET.fromstring(drawn).iter(f"{SVG}path"):
        if path.get("stroke-width") != "2" or "H" in path.attrib["d"]:
            continue
        if (path.get("stroke-dasharray") is not None) == dotted:
            numbers = [float(n) for n in re.findall(r"-?[\d.]+", path.attrib["d"])]
            lines.append(list(zip(numbers[::2], numbers[1::2], strict=True)))
    return lines


def test_places_and_steps_are_where_the_axes_say() -> None:
    drawn = join_plot([0.0, 5.0, 10.0], [0.2, 0.0, -0.2], [True] * 3, WORDS)
    (line,) = lines_of(drawn, dotted=False)
    middle, half = TOP + 0.5 * (TALL - TOP - BOTTOM), 0.5 * (TALL - TOP - BOTTOM)
    # The scale ends at 0.2 mm, the largest step; SVG's y runs downwards; tenths are written.
    wanted = (LEFT, middle - half, 0.5 * (LEFT + WIDE - RIGHT), middle, WIDE - RIGHT, middle + half)
    assert [value for place in line for value in place] == pytest.approx(wanted, abs=0.06)
    texts = [text.text for text in ET.fromstring(drawn).iter(f"{SVG}text")]
    assert {"+0.2", "0", "−0.2", "mm along", "step, mm", "outside", "inside", "10"} <= set(texts)


def test_small_steps_look_small() -> None:
    drawn = join_plot([0.0, 1.0], [0.01, 0.01], [True, True], WORDS)
    (line,) = lines_of(drawn, dotted=False)
    # A tenth of the way to the top, which stands for 0.1 mm.
    assert line[0][1] == pytest.approx(TOP + 0.9 * 0.5 * (TALL - TOP - BOTTOM), abs=0.06)


def test_a_line_breaks_where_nothing_was_measured_and_where_the_side_changes() -> None:
    steps = [0.1, 0.1, None, 0.1, 0.1, 0.1, 0.1, 0.1]
    outside = [True, True, True, True, True, False, False, True]
    drawn = join_plot([float(k) for k in range(8)], steps, outside, WORDS)
    assert [len(line) for line in lines_of(drawn, dotted=False)] == [2, 2]
    assert [len(line) for line in lines_of(drawn, dotted=True)] == [2]


def test_what_it_is_called_is_escaped() -> None:
    root = ET.fromstring(join_plot([0.0, 1.0], [None, None], [True, True], WORDS))
    assert root.get("aria-label") == WORDS.label
    assert root.get("role") == "img"
