"""OFF in text form, with the colours of COFF.

Our own reader, because the general one drops the colours and loops over the lines.
"""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from lossfill.errors import InputError
from lossfill.mesh import FloatArray
from lossfill.scan.polygons import triangulate
from lossfill.scan.raw import NO_FACES, Raw, check_room, colours_from
from lossfill.scan.text import clean_text, number_rows, whole_numbers

HEADER = re.compile(rb"\A(?:\s|#[^\n]*\n)*(ST)?(C)?(N)?(4)?(n)?OFF\b")


def read(data: bytes) -> Raw:
    """Read an OFF."""
    text = clean_text(data)
    header = HEADER.match(text)
    if header is None:
        raise InputError("it does not start with OFF: export the scan again")
    if header[4] or header[5]:
        raise InputError("its points have another number of coordinates than three")
    body = text[header.end() :]
    if body.lstrip()[:6].upper() == b"BINARY":
        raise InputError("it is a binary OFF, which is not read: export it as PLY")
    if b"#" in body:
        body = re.sub(rb"#[^\n]*", b"", body)
    values, widths = number_rows(body)
    widths = widths[widths > 0]
    firsts = np.cumsum(widths) - widths
    if not len(widths) or widths[0] < 2:
        raise InputError("it does not state how many points and faces it holds: export it again")
    n_vertices, n_faces = whole_numbers(values[:2]).tolist()
    check_room("points", n_vertices, 1, len(widths) - 1)
    if n_faces == 0:
        raise InputError(NO_FACES)
    check_room("faces", n_faces, 1, len(widths) - 1 - n_vertices)
    vertex_rows, face_rows = slice(1, 1 + n_vertices), slice(1 + n_vertices, None)
    vertices, colours = _vertices(
        values, firsts[vertex_rows], widths[vertex_rows], coloured=bool(header[2]),
        skip=3 * bool(header[3]), textured=bool(header[1]),
    )  # fmt: skip
    corners, counts = _faces(
        values, firsts[face_rows][:n_faces], widths[face_rows][:n_faces]
    )  # fmt: skip
    faces = triangulate(corners, counts, vertices)
    return Raw(vertices, faces, "OFF", colours)


def _vertices(
    values: FloatArray,
    firsts: NDArray[np.int64],
    widths: NDArray[np.int64],
    *,
    coloured: bool,
    skip: int,
    textured: bool,
) -> tuple[FloatArray, NDArray[np.uint8] | None]:
    if len(widths) == 0 or int(widths.min()) < 3 + skip:
        raise InputError("a point has fewer numbers than it should: the file is damaged")
    vertices = values[firsts[:, None] + np.arange(3)]
    # Position, then normal, then colour, then texture; some programs write colours after plain OFF.
    n_colour = int(widths.min()) - 3 - skip - 2 * textured
    if n_colour < 3 or not (coloured or n_colour in (3, 4)):
        return vertices, None
    return vertices, colours_from(values[firsts[:, None] + (3 + skip) + np.arange(3)])


def _faces(
    values: FloatArray, firsts: NDArray[np.int64], widths: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    counts = whole_numbers(values[firsts])
    if (counts < 0).any() or (counts >= widths).any():
        raise InputError("a face lists fewer corners than it promises: the file is damaged")
    shifts = np.repeat(firsts + 1 - (np.cumsum(counts) - counts), counts)
    return whole_numbers(values[shifts + np.arange(len(shifts))]), counts
