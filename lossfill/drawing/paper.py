"""Paper to print on, and what a user may choose about it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

from lossfill.errors import InputError


class Paper(Enum):
    """A sheet of paper; the value is its width and height upright, mm."""

    A4 = (210.0, 297.0)
    LETTER = (215.9, 279.4)


@dataclass(frozen=True, slots=True)
class PaperSettings:
    """How drawings are laid on paper. Sheets lie on their long side where that saves any.

    Parameters
    ----------
    paper : what is in the printer
    margin_mm : kept free all round; most home printers leave 3 to 6 mm white
    overlap_mm : by which neighbouring sheets of a large drawing show the same; enough to glue
    sheets_most : of one drawing; more than that is a wrong unit rather than a wish

    Raises
    ------
    InputError
        Where one of them is out of its range.
    """

    paper: Paper = Paper.A4
    margin_mm: float = 10.0
    overlap_mm: float = 10.0
    sheets_most: int = 100

    def __post_init__(self) -> None:
        for name, value in (("margin", self.margin_mm), ("overlap", self.overlap_mm)):
            if not (math.isfinite(value) and value >= 0):
                raise InputError(f"the {name} of a sheet is {value:g} mm; give 0 mm or more")
        if not 1 <= self.sheets_most <= 999:
            raise InputError(
                f"a drawing cannot be held to {self.sheets_most} sheets; give 1 to 999"
            )


USUAL_PAPER = PaperSettings()
"""What is used where nothing was chosen."""
