"""A small plot of the step along a join, as SVG that needs no colour to be read."""

from __future__ import annotations

import html
import math
from collections.abc import Sequence
from dataclasses import dataclass

WIDE, TALL = 640.0, 220.0
LEFT, RIGHT, TOP, BOTTOM = 52.0, 12.0, 26.0, 40.0

LEAST_SHOWN_MM = 0.1
"""The plot reaches at least so far up and down: smaller steps are to look small."""


@dataclass(frozen=True, slots=True)
class PlotWords:
    """What stands at a plot: its axes, its two lines, and what a screen reader says of it."""

    along: str
    step: str
    outside: str
    inside: str
    label: str


def join_plot(
    along: Sequence[float],
    steps: Sequence[float | None],
    outside: Sequence[bool],
    words: PlotWords,
    *,
    least_shown: float = LEAST_SHOWN_MM,
) -> str:
    """Draw the step along one run of a join.

    Parameters
    ----------
    along : way along the join, ascending, in the unit that is shown
    steps : step there, in the same; None where none was measured, which breaks the line
    outside : which side of the wall each place is on: full lines outside, dotted inside
    least_shown : the plot reaches at least so far up and down
    """
    length = max(along[-1], 1e-6)
    most = max([least_shown, *(abs(step) for step in steps if step is not None)])
    most = _round_up(most)

    def x(at: float) -> float:
        return LEFT + (WIDE - LEFT - RIGHT) * at / length

    def y(step: float) -> float:
        return TOP + (TALL - TOP - BOTTOM) * (0.5 - 0.5 * step / most)

    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE:g} {TALL:g}" role="img" '
        f'aria-label="{html.escape(words.label)}">'
    ]
    for step in (-most, -0.5 * most, 0.0, 0.5 * most, most):
        strong = "#22201d" if step == 0 else "#b9b1a4"
        parts.append(_line(LEFT, y(step), WIDE - RIGHT, y(step), strong))
        parts.append(_text(LEFT - 6, y(step) + 4, _signed(step), "end"))
    for tick in _ticks(length):
        parts.append(_line(x(tick), y(-most), x(tick), y(-most) + 5, "#22201d"))
        parts.append(_text(x(tick), y(-most) + 18, f"{tick:g}", "middle"))
    parts.append(_text(0.5 * (LEFT + WIDE - RIGHT), TALL - 4, words.along, "middle"))
    parts.append(_text(4, 14, words.step, "start"))
    for number, (is_outside, name) in enumerate(((True, words.outside), (False, words.inside))):
        style = _style(is_outside)
        at = LEFT + 110 + 240 * number
        parts.append(f'<path d="M{at:g} 10H{at + 34:g}" {style}/>')
        parts.append(_text(at + 40, 14, name, "start"))
        for run in _runs(steps, outside, is_outside):
            places = [f"{x(along[k]):.1f} {y(steps[k] or 0.0):.1f}" for k in run]
            parts.append(f'<path d="M{"L".join(places)}" {style}/>')
    return "".join(parts) + "</svg>"


def _runs(steps: Sequence[float | None], outside: Sequence[bool], wanted: bool) -> list[list[int]]:
    """Runs of places on one side where a step was measured; a lone place is no line."""
    runs: list[list[int]] = [[]]
    for k, (step, side) in enumerate(zip(steps, outside, strict=True)):
        if step is None or side != wanted:
            runs.append([])
        else:
            runs[-1].append(k)
    return [run for run in runs if len(run) > 1]


def _style(outside: bool) -> str:
    dashes = "" if outside else ' stroke-dasharray="2 4" stroke-linecap="round"'
    ink = "#1c4f8a" if outside else "#22201d"
    return f'fill="none" stroke="{ink}" stroke-width="2"{dashes}'


def _line(x1: float, y1: float, x2: float, y2: float, ink: str) -> str:
    return f'<path d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}" stroke="{ink}" fill="none"/>'


def _text(x: float, y: float, said: str, anchor: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{html.escape(said)}</text>'


def _signed(step: float) -> str:
    return "0" if step == 0 else f"{step:+.3g}".replace("-", "−")


def _round_up(value: float) -> float:
    """The next number whose half is short to write, so that it can be read off half-way too."""
    power = 10.0 ** math.floor(math.log10(value))
    nice = next(
        (one for one in (1.0, 1.2, 1.6, 2.0, 3.0, 4.0, 6.0, 8.0) if _holds(one, value / power)),
        10.0,
    )
    return nice * power


def _holds(most: float, value: float) -> bool:
    # 0.1 divided by its power of ten is a last digit more or less than 1.
    return value <= most * (1.0 + 1e-9)


def _ticks(length: float) -> list[float]:
    power = 10.0 ** (math.floor(math.log10(length)) - 1)
    step = next(one * power for one in (1, 2, 5, 10, 20, 50) if length / (one * power) <= 8)
    return [step * k for k in range(int(length / step) + 1)]
