"""How a drawing larger than a sheet is shared out among rows and columns of sheets."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from lossfill import tolerances as tol
from lossfill.mesh import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Tiling:
    """Rows and columns of equal windows over a drawing, in the drawing's coordinates, mm.

    Row 0 is at the top, column 0 on the left.

    Parameters
    ----------
    rows, columns : how many
    low_mm : (2,) lowest corner of all windows together
    window_mm : (2,) width and height of one
    overlap_mm : by which neighbours show the same
    """

    rows: int
    columns: int
    low_mm: FloatArray
    window_mm: FloatArray
    overlap_mm: float

    @property
    def n_tiles(self) -> int:
        """How many sheets the drawing takes."""
        return self.rows * self.columns

    def low_corner(self, row: int, column: int) -> FloatArray:
        """Lowest corner of one window, (2,)."""
        steps = np.array([column, self.rows - 1 - row])
        corner: FloatArray = self.low_mm + steps * (self.window_mm - self.overlap_mm)
        return corner

    def window(self, row: int, column: int) -> FloatArray:
        """Lowest and highest corner of one window, (2, 2)."""
        low = self.low_corner(row, column)
        return np.stack([low, low + self.window_mm])

    def cell(self, row: int, column: int) -> FloatArray:
        """A window's own share, (2, 2): it ends in the middle of what it shows with a neighbour.

        The shares meet without gap or overlap.
        """
        low, high = self.window(row, column)
        half = 0.5 * self.overlap_mm
        has_left_and_below = np.array([column > 0, row < self.rows - 1])
        has_right_and_above = np.array([column < self.columns - 1, row > 0])
        return np.stack([low + half * has_left_and_below, high - half * has_right_and_above])


def tile(extent: FloatArray, window: FloatArray, overlap_mm: float) -> Tiling:
    """Share out a drawing, in the middle of as few sheets as cover it.

    Parameters
    ----------
    extent : (2, 2) mm, lowest and highest corner of what is drawn
    window : (2, 2) mm, the same of the space on each sheet
    overlap_mm : less than the window's sides
    """
    size, room = extent[1] - extent[0], window[1] - window[0]
    steps = (size - room - tol.PAPER_ROUNDING_MM) / (room - overlap_mm)
    columns, rows = (1 + max(0, math.ceil(step)) for step in steps)
    covered = room + (np.array([columns, rows]) - 1) * (room - overlap_mm)
    return Tiling(rows, columns, 0.5 * (extent[0] + extent[1] - covered), room, overlap_mm)
