"""STL, binary and as text.

Our own reader, because the general ones build several copies of the mesh on the way. Layout of the
binary form: 80 bytes, a little-endian uint32 count, then 50 bytes a facet (normal and three corners
as float32, two spare bytes). Normals are not used: the corners' order says the same. STL has no
unit and no colour that programs agree on.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from lossfill.errors import InputError
from lossfill.scan.raw import Raw
from lossfill.scan.text import Lines, chosen_text, clean_text, numbers, split_lines
from lossfill.scan.weld import weld

HEADER_BYTES = 84
_FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", 9), ("spare", "<u2")])


def facet_count(data: bytes) -> int:
    """Count that a binary STL header states."""
    return int.from_bytes(data[80:HEADER_BYTES], "little")


def has_binary_size(data: bytes) -> bool:
    """Whether the file is exactly as long as its binary header says."""
    return (
        len(data) >= HEADER_BYTES
        and len(data) == HEADER_BYTES + _FACET.itemsize * facet_count(data)
    )  # fmt: skip


def read_binary(data: bytes) -> Raw:
    """Read a binary STL."""
    if len(data) < HEADER_BYTES:
        raise InputError(
            f"it is {len(data)} bytes long, but a binary STL starts with {HEADER_BYTES}: "
            "the file is cut short; export or copy it again"
        )
    count = facet_count(data)
    needed = HEADER_BYTES + count * _FACET.itemsize
    if len(data) < needed:
        raise InputError(
            f"its header promises {count} triangles, which take {needed} bytes, but the file has "
            f"{len(data)}: it is cut short or no STL; export or copy it again"
        )
    warnings: tuple[str, ...] = ()
    if len(data) > needed:
        warnings = (
            f"{len(data) - needed} bytes after the last of {count} promised triangles were "
            "ignored: check that nothing is missing",
        )
    facets = np.frombuffer(data, dtype=_FACET, count=count, offset=HEADER_BYTES)
    return _welded(facets["corners"], "STL (binary)", warnings)


def read_text(data: bytes) -> Raw:
    """Read an STL in text form, also one with several solids."""
    text = clean_text(data)
    lines, is_corner, n_facets = _facet_lines(text)
    if n_facets == 0 or n_facets * 3 != int(is_corner.sum()):
        # Cut short, or legal but rare: several words of the grammar on one line.
        text = _one_word_a_line(text)
        lines, is_corner, n_facets = _facet_lines(text)
    corners = numbers(chosen_text(lines, is_corner, skip=len("vertex")))
    if len(corners) != 9 * n_facets or b"endsolid" not in text[-4096:].lower():
        raise InputError(
            f"it starts {n_facets} triangles but gives {len(corners) / 9:.1f} and "
            "does not end as an STL should: it is cut short; export or copy it again"
        )
    return _welded(corners.reshape(-1, 9), "STL (text)", ())


def _facet_lines(text: bytes) -> tuple[Lines, NDArray[np.bool_], int]:
    """Lines, which of them give a corner, and how many start a facet."""
    lines = split_lines(text)
    letters = lines.byte(0) | 0x20  # lower case
    return lines, letters == ord("v"), int((letters == ord("f")).sum())


def _one_word_a_line(text: bytes) -> bytes:
    text = text.lower()
    for word in (b"facet", b"outer", b"vertex", b"endloop", b"endfacet", b"endsolid"):
        text = text.replace(word, b"\n" + word)
    return text.replace(b"end\nfacet", b"endfacet")


def _welded(corners: NDArray[np.floating[Any]], format_name: str, warnings: tuple[str, ...]) -> Raw:
    if len(corners) == 0:
        raise InputError("it holds no triangle: export the scan again")
    finite = np.isfinite(corners)
    if not finite.all():
        n_bad = int((~finite.all(axis=1)).sum())
        raise InputError(
            f"{n_bad} of {len(corners)} triangles have a corner without a finite position "
            "(NaN or infinity): export the scan again"
        )
    vertices, index = weld(corners)
    return Raw(vertices, index.reshape(-1, 3), format_name, warnings=warnings)
