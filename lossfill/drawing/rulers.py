"""The check ruler: 100 mm with a tick every 10 mm, to be measured after printing."""

from __future__ import annotations

import numpy as np

from lossfill.drawing.model import Anchor, Layer, Line, Text

RULER_MM = 100.0

BAND_MM = 11.0
"""Width of the band that a ruler with its numbers takes up beside the drawing."""

ROOM_MM = 107.0
"""Length that it takes up with its last number, which reaches past its end."""

_TICK_MM = 2.5
_LONG_TICK_MM = 4.0
_NUMBER_HEIGHT_MM = 2.4
_GAP_MM = 2.0

_UPRIGHT_DROP_MM = 0.7
_LEVEL_DROP_MM = 2.5
"""From the ruler's line to the numbers' base line, which of turned letters faces the ruler."""


def level_ruler(corner_mm: tuple[float, float]) -> tuple[tuple[Line, ...], tuple[Text, ...]]:
    """A ruler that runs right from below the drawing's lower left corner."""
    return _ruler(corner_mm, upright=False)


def upright_ruler(corner_mm: tuple[float, float]) -> tuple[tuple[Line, ...], tuple[Text, ...]]:
    """A ruler that runs up on the left of the drawing's lower left corner."""
    return _ruler(corner_mm, upright=True)


def _ruler(
    corner_mm: tuple[float, float], *, upright: bool
) -> tuple[tuple[Line, ...], tuple[Text, ...]]:
    """The upright one is the level one mirrored across the diagonal: its ticks face the drawing."""
    base = -_GAP_MM - _LONG_TICK_MM

    def put(along: float, off: float) -> tuple[float, float]:
        x, y = (off, along) if upright else (along, off)
        return corner_mm[0] + x, corner_mm[1] + y

    def line(*points: tuple[float, float]) -> Line:
        return Line(np.array([put(*point) for point in points]), Layer.SCALE)

    lines = [line((0.0, base), (RULER_MM, base))]
    texts = []
    drop = base - (_UPRIGHT_DROP_MM if upright else _LEVEL_DROP_MM)
    for at in range(0, int(RULER_MM) + 1, 10):
        tick = _LONG_TICK_MM if at % 50 == 0 else _TICK_MM
        lines.append(line((at, base), (at, base + tick)))
        words = f"{at} mm" if at == RULER_MM else str(at)
        turned = 90.0 if upright else 0.0
        texts.append(Text(put(at, drop), words, _NUMBER_HEIGHT_MM, Anchor.MIDDLE, turned))
    return tuple(lines), tuple(texts)
