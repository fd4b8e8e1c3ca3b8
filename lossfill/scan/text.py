"""Numbers out of large text files, without a Python loop over lines.

STL, PLY, OBJ and OFF in text form are all lines of words. The helpers here find lines, pick those
that matter and turn their words into numbers, for a million lines in well under a second.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lossfill.errors import InputError
from lossfill.mesh import FloatArray

_NEWLINE, _BLANK, _MINUS, _ZERO, _SLASH = 10, 32, 45, 48, 47
_MOST_INDENT = 64
_MOST_DIGITS = 12


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Where the lines of a text are.

    Parameters
    ----------
    data : (N,) uint8, the text
    starts : (L,) position of each line's first byte that is not blank
    ends : (L,) position of each line's newline, or the text's length
    """

    data: NDArray[np.uint8]
    starts: NDArray[np.int64]
    ends: NDArray[np.int64]

    def byte(self, offset: int) -> NDArray[np.uint8]:
        """Byte at an offset in each line, (L,); a newline where the line is shorter."""
        place = self.starts + offset
        inside = place < self.ends
        picked = np.full(len(place), _NEWLINE, dtype=np.uint8)
        picked[inside] = self.data[place[inside]]
        return picked


def clean_text(data: bytes) -> bytes:
    r"""Text with newlines as ``\n`` and without a byte order mark."""
    if data.startswith(b"\xef\xbb\xbf"):
        data = data[3:]
    if b"\n" not in data:
        data = data.replace(b"\r", b"\n")
    return data


def split_lines(text: bytes) -> Lines:
    """Find the lines of a text."""
    data = np.frombuffer(text, dtype=np.uint8)
    newlines = np.flatnonzero(data == _NEWLINE)
    starts = np.concatenate([[0], newlines + 1]).astype(np.int64)
    ends = np.concatenate([newlines, [len(data)]]).astype(np.int64)
    indented = np.flatnonzero(starts < ends)
    for _ in range(_MOST_INDENT):
        indented = indented[data[starts[indented]] <= _BLANK]
        starts[indented] += 1
        indented = indented[starts[indented] < ends[indented]]
        if not len(indented):
            break
    return Lines(data, starts, ends)


def chosen_text(lines: Lines, chosen: NDArray[np.bool_], skip: int) -> bytes:
    """Text of the chosen lines, each without its first ``skip`` bytes and with its newline."""
    starts = np.minimum(lines.starts[chosen] + skip, lines.ends[chosen])
    ends = lines.ends[chosen] + 1
    steps = np.zeros(len(lines.data) + 2, dtype=np.int8)
    steps[starts] += 1
    steps[ends] -= 1
    np.cumsum(steps, dtype=np.int8, out=steps)
    return lines.data[steps[: len(lines.data)].view(np.bool_)].tobytes()


def numbers(text: bytes) -> FloatArray:
    """All numbers of a text of numbers, (N,).

    Raises
    ------
    InputError
        For a word that is not a number.
    """
    if not text or text.isspace():  # which older and newer numpy take differently
        return np.empty(0)
    with warnings.catch_warnings():
        # Older numpy only warns where newer numpy raises.
        warnings.simplefilter("error", DeprecationWarning)
        try:
            return np.fromstring(text, dtype=np.float64, sep=" ")
        except (ValueError, DeprecationWarning):
            raise InputError(_bad_word(text)) from None


def number_rows(text: bytes) -> tuple[FloatArray, NDArray[np.int64]]:
    """All numbers of a text, (N,), and how many stand on each line, (L,)."""
    values = numbers(text)
    counts = _words_per_line(np.frombuffer(text, dtype=np.uint8), _word_starts(text))
    if counts.sum() != len(values):
        raise InputError(_bad_word(text))
    return values, counts


def index_rows(text: bytes) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Whole number at the front of each word, (N,), and words on each line, (L,).

    A word is an index such as ``12`` or ``-3``, or one with parts such as ``12/7/3`` or ``12//3``.

    Raises
    ------
    InputError
        For a word that does not start with an index.
    """
    data = np.frombuffer(text + b"\n", dtype=np.uint8)
    starts = _word_starts(text)
    negative = data[starts] == _MINUS
    place = starts + negative
    values = np.zeros(len(starts), dtype=np.int64)
    going = np.arange(len(starts))
    for digit_number in range(_MOST_DIGITS):
        digit = data[place[going]] - np.uint8(_ZERO)  # wraps above 9 for anything not a digit
        is_digit = digit <= 9
        if digit_number == 0 and not is_digit.all():
            raise InputError(_bad_index(text, int(starts[np.argmin(is_digit)])))
        going = going[is_digit]
        if not len(going):
            break
        values[going] = values[going] * 10 + digit[is_digit]
        place[going] += 1
    after = data[place]
    wrong = (after > _BLANK) & (after != _SLASH)
    if wrong.any():
        raise InputError(_bad_index(text, int(starts[np.argmax(wrong)])))
    np.negative(values, out=values, where=negative)
    return values, _words_per_line(data[:-1], starts)


def whole_numbers(values: FloatArray) -> NDArray[np.int64]:
    """Vertex numbers and counts that were read as reals.

    Raises
    ------
    InputError
        For a fraction, or a number too large for any file.
    """
    if not (np.abs(values) < 2**53).all() or (values != np.rint(values)).any():
        raise InputError(
            "a fraction stands where a vertex number or a count should: the file is damaged; "
            "export it again"
        )
    return values.astype(np.int64)


def _word_starts(text: bytes) -> NDArray[np.int64]:
    filled = np.frombuffer(text, dtype=np.uint8) > _BLANK
    filled[1:] &= ~filled[:-1]
    return np.flatnonzero(filled)


def _words_per_line(data: NDArray[np.uint8], starts: NDArray[np.int64]) -> NDArray[np.int64]:
    newlines = np.flatnonzero(data == _NEWLINE)
    if len(data) and data[-1] != _NEWLINE:
        newlines = np.append(newlines, len(data))
    return np.diff(np.searchsorted(starts, newlines), prepend=0)


def _bad_word(text: bytes) -> str:
    for word in text.split():
        try:
            float(word)
        except ValueError:
            shown = word[:20].decode("ascii", "replace")
            return f"{shown!r} stands where a number should: the file is damaged; export it again"
    return "a number in it cannot be read: the file is damaged; export it again"


def _bad_index(text: bytes, start: int) -> str:
    shown = text[start : start + 20].split()[0].decode("ascii", "replace")
    return f"{shown!r} stands where a vertex number should: the file is damaged; export it again"
