"""Points as text, one on each line: ``x y z``, or ``x y z nx ny nz``.

There is no standard. Programs also write a first line with the number of points, an intensity
after the place, and colours instead of normals or before them; those are told by their values.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lossfill.errors import InputError
from lossfill.mesh import FloatArray
from lossfill.scan.raw import Raw
from lossfill.scan.text import chosen_text, clean_text, number_rows, split_lines

_COMMENTS = (ord("#"), ord("/"), ord(";"))
_UNIT_LENGTH = 0.1
"""How far from 1 three numbers' length may be for them to be a normal: they may be rounded."""


def read(data: bytes) -> Raw:
    """Read points in text form.

    Raises
    ------
    InputError
        Where a line holds something else than numbers, or the lines differ in length.
    """
    lines = split_lines(clean_text(data).replace(b",", b" "))
    first = lines.byte(0)
    text = chosen_text(lines, ~np.isin(first, _COMMENTS), 0)
    values, counts = number_rows(text)
    counts = counts[counts > 0]
    if len(counts) > 1 and counts[0] == 1:
        counts, values = counts[1:], values[1:]  # the number of points
    if len(counts) == 0:
        raise InputError("it holds no points: export the scan again")
    width = int(counts[0])
    if (counts != width).any():
        row = int(np.argmax(counts != width)) + 1
        raise InputError(
            f"its lines differ: the first point has {width} numbers, point {row} has "
            f"{int(counts[row - 1])}: the file is damaged or no list of points"
        )
    if width < 3:
        raise InputError(
            f"a point has {width} numbers where x, y and z are needed: export it again"
        )
    rows = values.reshape(-1, width)
    normals, colours = _extras(rows[:, 3:])
    return Raw(
        np.ascontiguousarray(rows[:, :3]),
        np.empty((0, 3), dtype=np.int32),
        "points (text)",
        colours=colours,
        normals=normals,
    )


def _extras(rest: FloatArray) -> tuple[FloatArray | None, NDArray[np.uint8] | None]:
    """Normals and colours among the columns after the place."""
    normals: FloatArray | None = None
    colours: NDArray[np.uint8] | None = None
    # An intensity comes first, alone or before a triple.
    for start in range(rest.shape[1] % 3, rest.shape[1], 3):
        triple = rest[:, start : start + 3]
        length = np.linalg.norm(triple, axis=1)
        if normals is None and np.median(np.abs(length - 1.0)) < _UNIT_LENGTH:
            normals = triple
        elif colours is None and (triple >= 0).all() and (triple == np.rint(triple)).all():
            colours = np.clip(triple, 0, 255).astype(np.uint8)
    return normals, colours
