"""True scale: how large a picture is on paper, and how much larger the thing itself is."""

from __future__ import annotations

from dataclasses import dataclass

from lossfill.drawing.paper import Paper
from lossfill.errors import InputError

PX_PER_MM = 8
"""Pixels on a millimetre of paper (203 an inch): finer than an eye at reading distance, and at
each of the scales below 10 mm of the thing are a whole number of pixels."""

SCALES = (2.0, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02)
"""Paper to thing: twice its size down to a fiftieth, the usual scales of drawings (ISO 5455)."""

MARGIN_MM = 18.0
"""Kept free at the sides of a page: room for a punch and for notes."""

GAP_MM = 4.0
"""Between two pictures side by side."""

CAPTION_MM = 40.0
"""Least room for a caption, which under a narrow picture would be a column of single words."""


@dataclass(frozen=True, slots=True)
class Scale:
    """Paper to thing.

    Parameters
    ----------
    paper_mm_per_mm : 0.5 where half its size is printed
    """

    paper_mm_per_mm: float

    @property
    def words(self) -> str:
        """As it is written: "1:2"."""
        share = self.paper_mm_per_mm
        return f"{share:g}:1" if share >= 1.0 else f"1:{1.0 / share:g}"

    @property
    def px_per_mm(self) -> float:
        """Pixels of a picture on a millimetre of the thing."""
        return PX_PER_MM * self.paper_mm_per_mm


def text_width_mm(paper: Paper) -> float:
    """Width of a page between its margins."""
    return paper.value[0] - 2 * MARGIN_MM


def half_width_mm(paper: Paper) -> float:
    """Width of a picture of which two stand side by side."""
    return (text_width_mm(paper) - GAP_MM) / 2


def scale_for(wide_mm: float, tall_mm: float, room_mm: tuple[float, float]) -> Scale:
    """The largest scale at which a thing fits on paper.

    Raises
    ------
    InputError
        Where it fits at none.
    """
    for share in SCALES:
        if wide_mm * share <= room_mm[0] and tall_mm * share <= room_mm[1]:
            return Scale(share)
    raise InputError(
        f"a thing {wide_mm:.0f} × {tall_mm:.0f} mm large fits on no page at 1:50: "
        "its unit is wrong; fill the scan again with --units"
    )


def bar_mm(scale: Scale, room_mm: float) -> float:
    """Length of the scale bar, mm of the thing: the longest that takes up half the room at most."""
    lengths = (5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
    fitting = [one for one in lengths if one * scale.paper_mm_per_mm <= room_mm / 2]
    return fitting[-1] if fitting else lengths[0]
