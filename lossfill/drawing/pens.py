"""How each layer is drawn: black throughout, told apart by width and dash."""

from __future__ import annotations

from dataclasses import dataclass

from lossfill.drawing.model import Layer


@dataclass(frozen=True, slots=True)
class Pen:
    """How the lines of one layer look.

    Parameters
    ----------
    width_mm : on paper
    fine_width_mm : in SVG, which often drives a knife or is enlarged on a screen
    dash_mm : lengths drawn and left out in turn; empty for a full line
    grey : the layer's colour number in DXF, a grey: black is 7, which shows white on black
    """

    width_mm: float
    fine_width_mm: float
    dash_mm: tuple[float, ...]
    grey: int


PENS = {
    Layer.CUT: Pen(0.25, 0.10, (), 7),
    Layer.MARK: Pen(0.13, 0.05, (), 250),
    Layer.AXIS: Pen(0.18, 0.07, (5.0, 1.0, 1.0, 1.0), 251),
    Layer.SCALE: Pen(0.09, 0.05, (), 252),
    Layer.WORDS: Pen(0.15, 0.06, (), 8),
}
"""Wide enough to follow with a knife, narrow enough to tell which side of a line is meant."""
