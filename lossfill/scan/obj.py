"""OBJ: ``v`` lines and ``f`` lines; everything else is stepped over.

Our own reader, because the general ones take seconds for a scan. Faces may be polygons, may carry
texture and normal numbers (``7/3/2``, ``7//2``) and may count backwards from the last point so far
(``-1``). Colours are the three numbers that many programs put after x, y, z. Points that a texture
seam has split are left split here.
"""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from lossfill.errors import InputError
from lossfill.mesh import FloatArray
from lossfill.scan.polygons import triangulate
from lossfill.scan.raw import NO_FACES, Raw, colours_from
from lossfill.scan.text import Lines, chosen_text, clean_text, index_rows, number_rows, split_lines

_BLANK = 32


def read(data: bytes) -> Raw:
    """Read an OBJ."""
    text = _plain(clean_text(data))
    lines = split_lines(text)
    is_vertex, is_face = _lines_with(lines, "v"), _lines_with(lines, "f")
    if not is_vertex.any():
        raise InputError("it holds no points (no line starts with v): export the scan again")
    if not is_face.any():
        raise InputError(NO_FACES)
    vertices, colours = _vertices(chosen_text(lines, is_vertex, skip=1))
    corners, counts = index_rows(chosen_text(lines, is_face, skip=1))
    corners = _from_zero(corners, counts, is_vertex, is_face)
    warnings: tuple[str, ...] = ()
    n_slivers = int((counts < 3).sum())
    if n_slivers:
        warnings = (f"{n_slivers} faces with fewer than three corners were left out",)
    faces = triangulate(corners, counts, vertices)
    return Raw(vertices, faces, "OBJ", colours, warnings=warnings)


def _plain(text: bytes) -> bytes:
    """Text without comments and with continued lines joined."""
    if b"#" in text:
        text = re.sub(rb"#[^\n]*", b"", text)
    if b"\\" in text:
        text = re.sub(rb"\\\r?\n", b" ", text)
    return text


def _lines_with(lines: Lines, keyword: str) -> NDArray[np.bool_]:
    chosen: NDArray[np.bool_] = (lines.byte(0) == ord(keyword)) & (lines.byte(1) <= _BLANK)
    return chosen


def _vertices(text: bytes) -> tuple[FloatArray, NDArray[np.uint8] | None]:
    values, counts = number_rows(text)
    least = int(counts.min())
    if least < 3:
        raise InputError("a point has fewer than three numbers: the file is damaged")
    if (counts == least).all():
        rows = values.reshape(-1, least)
    else:
        firsts = np.cumsum(counts) - counts
        rows = values[firsts[:, None] + np.arange(min(least, 6))]
    vertices = np.ascontiguousarray(rows[:, :3])
    # Four numbers are x, y, z and a weight that meshes do not use.
    return vertices, colours_from(rows[:, 3:6]) if least >= 6 else None


def _from_zero(
    corners: NDArray[np.int64],
    counts: NDArray[np.int64],
    is_vertex: NDArray[np.bool_],
    is_face: NDArray[np.bool_],
) -> NDArray[np.int64]:
    """Vertex numbers counted from 0; backward ones resolved from where their line stands."""
    if (corners == 0).any():
        raise InputError("a face uses point number 0, but OBJ counts from 1: export it again")
    backward = corners < 0
    resolved = corners - 1
    if backward.any():
        points_so_far = np.cumsum(is_vertex)[is_face]
        resolved[backward] = (np.repeat(points_so_far, counts) + corners)[backward]
        if (resolved[backward] < 0).any():
            raise InputError("a face counts back before the first point: the file is damaged")
    return resolved
