"""A flat drawing in millimetres, from which every drawing file is written.

x runs to the right and y upwards, as on paper held in front of you; one unit is one millimetre.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum

import numpy as np

from lossfill.errors import InputError
from lossfill.mesh import FloatArray


class Layer(Enum):
    """What a line is for; the value names the layer in the files."""

    CUT = "cut"
    """Cut along it."""
    MARK = "mark"
    """Mark it on the work, or glue a part there."""
    AXIS = "axis"
    """Axes and foot lines: to line up by."""
    SCALE = "scale"
    """Ticks and rulers: to measure by."""
    WORDS = "words"
    """Text."""


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A polyline.

    Parameters
    ----------
    points : (N, 2) mm, N at least 2
    layer : what it is for
    closed : whether it runs back to its first point, which is not given twice
    """

    points: FloatArray
    layer: Layer = Layer.CUT
    closed: bool = False

    def __post_init__(self) -> None:
        points = np.ascontiguousarray(self.points, dtype=np.float64)
        if points.ndim != 2 or points.shape[1] != 2 or len(points) < 2:
            raise InputError(f"a line needs two points or more of x, y; got {points.shape}")
        if not np.isfinite(points).all():
            raise InputError("a point of a drawing has no finite position")
        object.__setattr__(self, "points", points)


class Anchor(Enum):
    """Which end of a text lies at its place."""

    LEFT = "left"
    MIDDLE = "middle"
    RIGHT = "right"


@dataclass(frozen=True, slots=True)
class Text:
    """A word or two on a drawing.

    Parameters
    ----------
    at_mm : (x, y) of its base line's end or middle
    words : one line
    height_mm : of its capitals' type size (the font's size)
    anchor : which end lies at `at_mm`
    turned_deg : counter-clockwise
    """

    at_mm: tuple[float, float]
    words: str
    height_mm: float = 3.0
    anchor: Anchor = Anchor.LEFT
    turned_deg: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """One drawing, 1:1.

    Parameters
    ----------
    name : of its files, without ending, such as "loss_1_rib"
    title : what it is, in words
    part : of which vessel and loss
    lines, texts : what is drawn
    notes : sentences for the person who uses it, printed beside the title
    """

    name: str
    title: str
    part: str
    lines: tuple[Line, ...]
    texts: tuple[Text, ...] = ()
    notes: tuple[str, ...] = field(default=())

    @property
    def bounds(self) -> FloatArray:
        """Lowest and highest corner of its lines, (2, 2) mm.

        Raises
        ------
        InputError
            Where it holds no line.
        """
        if not self.lines:
            raise InputError(f"the drawing {self.name} is empty")
        points = np.concatenate([line.points for line in self.lines])
        return np.stack([points.min(axis=0), points.max(axis=0)])
