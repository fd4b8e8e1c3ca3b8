"""Share the corners of triangles that lie at exactly the same place.

STL stores three corners for every facet and no shared vertices, so joining equal corners is part
of reading it. This is not a repair: only positions that are equal to the last bit are joined.

The joining is an insertion into a hash table, done for all corners at once: each table slot keeps
the lowest corner that falls into it, each corner equal to its slot's keeper is done, and the few
others (different place, same slot) go round again with another hash. Equality is always tested
on the coordinates, so the hash can cost time but never give a wrong answer, and the result does
not depend on it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

_CHUNK = 1 << 18


def weld(
    corners: NDArray[np.floating[Any]],
) -> tuple[NDArray[np.floating[Any]], NDArray[np.int32]]:
    """Join corners at exactly equal positions.

    Parameters
    ----------
    corners : (..., 3k) finite float32 or float64 in any memory layout, N corners in all

    Returns
    -------
    vertices : (V, 3) the distinct positions, in order of first appearance; -0 becomes 0
    index : (N,) int32 with ``vertices[index] == corners.reshape(-1, 3)``
    """
    # The one copy that is made; in it, -0 and 0 have the same bits.
    positions = np.add(corners, 0.0, order="C", dtype=corners.dtype.newbyteorder("="))
    positions = positions.reshape(-1, 3)
    keeper = _lowest_equal(positions.view(np.uint32).reshape(len(positions), -1))
    is_first = keeper == np.arange(len(positions), dtype=np.int32)
    number = np.cumsum(is_first, dtype=np.int32)
    number -= 1
    return positions[is_first], number[keeper]


def _lowest_equal(words: NDArray[np.uint32]) -> NDArray[np.int32]:
    """Index of the first row with the same words, for each row."""
    random = np.random.default_rng(20)  # any seed gives the same result; see the module's text
    # Closed meshes have six corners at a place, so this leaves a few slots for each of them.
    slot_bits = max(4, len(words).bit_length() - 1)
    table = np.empty(1 << slot_bits, dtype=np.int32)
    keeper = np.empty(len(words), dtype=np.int32)
    waiting = np.arange(len(words), dtype=np.int32)
    while len(waiting):
        odd = 2 * random.integers(1 << 62, size=(words.shape[1],), dtype=np.uint64) + 1
        # Where an index repeats, numpy keeps the last value written: backwards, the lowest row.
        for part in reversed(list(_chunks(len(waiting)))):
            these = waiting[part]
            table[_slots(words.take(these, axis=0), odd, slot_bits)[::-1]] = these[::-1]
        still: list[NDArray[np.int32]] = []
        for part in _chunks(len(waiting)):
            these = waiting[part]
            rows = words.take(these, axis=0)
            found = table.take(_slots(rows, odd, slot_bits))
            keeper[these] = found
            still.append(these[_differ(rows, words.take(found, axis=0))])
        waiting = np.concatenate(still)
    return keeper


def _chunks(length: int) -> Iterator[slice]:
    return (slice(start, start + _CHUNK) for start in range(0, length, _CHUNK))


def _slots(rows: NDArray[np.uint32], odd: NDArray[np.uint64], slot_bits: int) -> NDArray[np.int64]:
    """Multiply-shift hash of each row, 0 to 2**slot_bits - 1."""
    mixed: NDArray[np.uint64] = rows[:, 0] * odd[0]
    for column in range(1, rows.shape[1]):
        mixed += rows[:, column] * odd[column]
    mixed >>= np.uint64(64 - slot_bits)
    slots: NDArray[np.int64] = mixed.view(np.int64)
    return slots


def _differ(these: NDArray[np.uint32], those: NDArray[np.uint32]) -> NDArray[np.bool_]:
    differ: NDArray[np.bool_] = these[:, 0] != those[:, 0]
    for column in range(1, these.shape[1]):
        differ |= these[:, column] != those[:, column]
    return differ
