"""PLY, binary (both byte orders) and as text.

Our own reader, because the general ones build several copies of the mesh on the way. A PLY header
names elements and, for each, its properties in order; a property is a scalar or a list with its
length in front. Elements and properties that are not needed are stepped over.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lossfill.errors import InputError
from lossfill.mesh import FloatArray
from lossfill.scan.polygons import triangulate
from lossfill.scan.raw import Raw, check_room, colours_from
from lossfill.scan.text import numbers, whole_numbers

_HEADER_LIMIT_BYTES = 1 << 20
_TYPES = {
    "char": "i1", "int8": "i1", "uchar": "u1", "uint8": "u1",
    "short": "i2", "int16": "i2", "ushort": "u2", "uint16": "u2",
    "int": "i4", "int32": "i4", "uint": "u4", "uint32": "u4",
    "float": "f4", "float32": "f4", "double": "f8", "float64": "f8",
}  # fmt: skip
_COLOURS = (("red", "green", "blue"), ("diffuse_red", "diffuse_green", "diffuse_blue"))
_NO_CORNERS = "its faces do not list their corners (no vertex_indices): export it again"
_NORMAL = ("nx", "ny", "nz")
_CORNERS = ("vertex_indices", "vertex_index")

Columns = dict[str, NDArray[Any]]


@dataclass(frozen=True, slots=True)
class _Property:
    name: str
    kind: str  # numpy type code without byte order
    count_kind: str | None = None  # type of the length in front, for a list


@dataclass(frozen=True, slots=True)
class _Element:
    name: str
    count: int
    properties: tuple[_Property, ...]

    @property
    def has_list(self) -> bool:
        return any(prop.count_kind for prop in self.properties)

    @property
    def least_bytes(self) -> int:
        """Bytes of one row whose lists are all empty."""
        return sum(np.dtype(prop.count_kind or prop.kind).itemsize for prop in self.properties)


@dataclass(frozen=True, slots=True, eq=False)
class _Lists:
    """One list property: all entries in a row, and how many each row has."""

    entries: NDArray[Any]
    counts: NDArray[np.int64] | int


def read(data: bytes) -> Raw:
    """Read a PLY of any of its three encodings."""
    encoding, elements, start = _read_header(data)
    if not any(element.name == "vertex" for element in elements):
        raise InputError("its header names no points (no vertex element): export the scan again")
    if any(element.name == "tristrips" and element.count for element in elements):
        raise InputError("its faces are stored as triangle strips: export it with plain triangles")
    if encoding == "ascii":
        columns, lists = _read_text(data[start:], elements)
        name = "PLY (text)"
    else:
        order = "<" if encoding == "binary_little_endian" else ">"
        columns, lists = _read_binary(data, start, elements, order)
        name = "PLY (binary)"
    if any(axis not in columns for axis in "xyz"):
        raise InputError("its points have no x, y and z: export the scan again")
    vertices = _stacked([columns[axis] for axis in "xyz"])
    if lists is None:
        if any(element.name == "face" and element.count for element in elements):
            raise InputError(_NO_CORNERS)
        named = [column for column in _NORMAL if column in columns]
        normals = _stacked([columns[axis] for axis in named]) if len(named) == 3 else None
        none = np.empty((0, 3), dtype=np.int32)
        return Raw(vertices, none, name, _colours(columns), normals=normals)
    faces = triangulate(lists.entries, lists.counts, vertices)
    return Raw(vertices, faces, name, _colours(columns))


def _read_header(data: bytes) -> tuple[str, list[_Element], int]:
    end = data.find(b"end_header", 0, _HEADER_LIMIT_BYTES)
    if end < 0:
        raise InputError("its PLY header has no end: the file is cut short or damaged")
    lines = data[:end].decode("latin-1").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    encoding, elements = "", list[_Element]()
    for line in lines[1:]:
        words = line.split()
        if not words or words[0] in ("comment", "obj_info"):
            continue
        if words[0] == "format" and len(words) == 3:
            encoding = words[1]
        elif words[0] == "element" and len(words) == 3 and words[2].isdecimal():
            elements.append(_Element(words[1], int(words[2]), ()))
        elif words[0] == "property" and elements:
            last = elements[-1]
            properties = (*last.properties, _property(words, line))
            elements[-1] = _Element(last.name, last.count, properties)
        else:
            raise InputError(f"its PLY header has a line that means nothing: {line.strip()[:60]!r}")
    if encoding not in ("ascii", "binary_little_endian", "binary_big_endian"):
        raise InputError(f"its PLY encoding {encoding!r} is unknown: export it as binary PLY")
    after = end + len(b"end_header")
    after += 2 if data[after : after + 2] == b"\r\n" else 1
    return encoding, elements, after


def _property(words: list[str], line: str) -> _Property:
    if len(words) == 5 and words[1] == "list" and words[2] in _TYPES and words[3] in _TYPES:
        if _TYPES[words[2]].startswith("f"):
            raise InputError("its PLY header counts list entries in fractions: export it again")
        return _Property(words[4], _TYPES[words[3]], _TYPES[words[2]])
    if len(words) == 3 and words[1] in _TYPES:
        return _Property(words[2], _TYPES[words[1]])
    raise InputError(f"its PLY header has a line that means nothing: {line.strip()[:60]!r}")


# Binary


def _read_binary(
    data: bytes, start: int, elements: list[_Element], order: str
) -> tuple[Columns, _Lists | None]:
    columns: Columns = {}
    faces: _Lists | None = None
    place = start
    for element in elements:
        check_room(_plural(element), element.count, element.least_bytes, len(data) - place)
        if element.has_list:
            wanted = _corner_property(element) if element.name == "face" else None
            place, lists = _binary_lists(data, place, element, order, wanted)
            faces = lists if wanted is not None else faces
        else:
            dtype = np.dtype([(f"{k}", order + p.kind) for k, p in enumerate(element.properties)])
            rows = np.frombuffer(data, dtype, element.count, place) if dtype.itemsize else None
            place += dtype.itemsize * element.count
            if element.name == "vertex" and rows is not None:
                columns = {p.name: rows[f"{k}"] for k, p in enumerate(element.properties)}
    return columns, faces


def _binary_lists(
    data: bytes, start: int, element: _Element, order: str, wanted: int | None
) -> tuple[int, _Lists | None]:
    """Read an element with lists; return where it ends and its wanted list."""
    if element.count == 0:
        return start, None
    lengths = _first_lengths(data, start, element, order)
    dtype = _row_type(element, lengths, order)
    end = start + dtype.itemsize * element.count
    if end <= len(data):
        # Nearly every scan: each row has as many corners as the first one.
        rows = np.frombuffer(data, dtype, element.count, start)
        if all(bool((rows[f"n{k}"] == n).all()) for k, n in enumerate(lengths) if n is not None):
            if wanted is None:
                return end, None
            length = lengths[wanted] or 0
            if length == 0:
                return end, _Lists(np.empty(0, np.int32), np.zeros(element.count, np.int64))
            return end, _Lists(_native(rows[f"v{wanted}"]).reshape(-1), length)
    return _walk_lists(data, start, element, order, wanted)


def _first_lengths(data: bytes, start: int, element: _Element, order: str) -> list[int | None]:
    """List lengths of an element's first row, None for scalars."""
    lengths: list[int | None] = []
    place = start
    for prop in element.properties:
        if prop.count_kind is None:
            lengths.append(None)
            place += np.dtype(prop.kind).itemsize
            continue
        lengths.append(_list_length(data, place, prop.count_kind, order))
        place += np.dtype(prop.count_kind).itemsize
        place += np.dtype(prop.kind).itemsize * (lengths[-1] or 0)
        check_room(_plural(element), element.count, 1, len(data) - place + element.count)
    return lengths


def _row_type(element: _Element, lengths: list[int | None], order: str) -> np.dtype[Any]:
    fields: list[Any] = []
    for k, (prop, length) in enumerate(zip(element.properties, lengths, strict=True)):
        if length is None:
            fields.append((f"v{k}", order + prop.kind))
        else:
            fields.append((f"n{k}", f"{order}{prop.count_kind}"))
            fields.append((f"v{k}", order + prop.kind, (length,)))
    return np.dtype(fields)


def _walk_lists(
    data: bytes, start: int, element: _Element, order: str, wanted: int | None
) -> tuple[int, _Lists | None]:
    """Step through rows of differing length; only files with mixed polygons come here."""
    sizes = [
        (prop.count_kind, np.dtype(prop.kind).itemsize, np.dtype(prop.count_kind or "u1").itemsize)
        for prop in element.properties
    ]
    firsts = np.empty(element.count, dtype=np.int64)
    counts = np.zeros(element.count, dtype=np.int64)
    place = start
    for row in range(element.count):
        for k, (count_kind, size, count_size) in enumerate(sizes):
            if count_kind is None:
                place += size
                continue
            length = _list_length(data, place, count_kind, order)
            place += count_size
            if k == wanted:
                firsts[row], counts[row] = place, length
            place += length * size
        if place > len(data):
            raise InputError(_cut_short(element, row))
    if wanted is None:
        return place, None
    entry = np.dtype(order + element.properties[wanted].kind)
    rows = np.repeat(firsts - entry.itemsize * (np.cumsum(counts) - counts), counts)
    places = rows + entry.itemsize * np.arange(len(rows))
    octets = np.frombuffer(data, np.uint8)[places[:, None] + np.arange(entry.itemsize)]
    return place, _Lists(_native(octets.reshape(-1).view(entry)), counts)


def _list_length(data: bytes, place: int, count_kind: str, order: str) -> int:
    size = int(count_kind[1])
    if place + size > len(data):
        raise InputError("it ends in the middle of its faces: export or copy it again")
    if size == 1:
        length = data[place]
    else:
        length = int.from_bytes(data[place : place + size], "little" if order == "<" else "big")
    if count_kind[0] == "i" and length >= 1 << (8 * size - 1):
        raise InputError("a face has a negative number of corners: the file is damaged")
    return length


def _native(values: NDArray[Any]) -> NDArray[Any]:
    """Contiguous copy in this machine's byte order."""
    return np.ascontiguousarray(values, dtype=values.dtype.newbyteorder("="))


# Text


def _read_text(body: bytes, elements: list[_Element]) -> tuple[Columns, _Lists | None]:
    for element in elements:  # a number and the blank after it take two bytes
        check_room(_plural(element), element.count, 2 * len(element.properties), len(body) + 1)
    values = numbers(body)
    columns: Columns = {}
    faces: _Lists | None = None
    place = 0
    for element in elements:
        if element.has_list:
            wanted = _corner_property(element) if element.name == "face" else None
            place, lists = _text_lists(values, place, element, wanted)
            faces = lists if wanted is not None else faces
            continue
        width = len(element.properties)
        end = place + width * element.count
        if end > len(values):
            raise InputError(_cut_short(element, (len(values) - place) // max(width, 1)))
        if element.name == "vertex":
            rows = values[place:end].reshape(element.count, width)
            columns = {
                p.name: np.clip(rows[:, k], 0, 255).astype("u1") if p.kind == "u1" else rows[:, k]
                for k, p in enumerate(element.properties)
            }
        place = end
    return columns, faces


def _text_lists(
    values: FloatArray, start: int, element: _Element, wanted: int | None
) -> tuple[int, _Lists | None]:
    if element.count == 0:
        return start, None
    if len(element.properties) == 1 and wanted == 0 and start < len(values):
        # Nearly every scan: nothing but corners, and as many in each row as in the first.
        width = 1 + int(values[start])
        end = start + width * element.count
        if width > 1 and end <= len(values):
            rows = values[start:end].reshape(element.count, width)
            if (rows[:, 0] == width - 1).all():
                return end, _Lists(whole_numbers(rows[:, 1:].reshape(-1)), width - 1)
    firsts, counts = [], []
    place = start
    for row in range(element.count):
        for k, prop in enumerate(element.properties):
            if place >= len(values):
                raise InputError(_cut_short(element, row))
            length = (
                0 if prop.count_kind is None else int(whole_numbers(values[place : place + 1])[0])
            )
            if length < 0:
                raise InputError("a face has a negative number of corners: the file is damaged")
            if k == wanted:
                firsts.append(place + 1)
                counts.append(length)
            place += 1 + length
        if place > len(values):
            raise InputError(_cut_short(element, row))
    if wanted is None:
        return place, None
    sizes = np.array(counts, dtype=np.int64)
    shifts = np.repeat(np.array(firsts, dtype=np.int64) - (np.cumsum(sizes) - sizes), sizes)
    return place, _Lists(whole_numbers(values[shifts + np.arange(len(shifts))]), sizes)


# Both


def _corner_property(element: _Element) -> int:
    for k, prop in enumerate(element.properties):
        if prop.name in _CORNERS and prop.count_kind is not None and not prop.kind.startswith("f"):
            return k
    raise InputError(_NO_CORNERS)


def _stacked(columns: list[NDArray[Any]]) -> NDArray[np.floating[Any]]:
    kind = (
        np.float32
        if all(c.dtype.kind == "f" and c.dtype.itemsize == 4 for c in columns)
        else np.float64
    )
    stacked = np.empty((len(columns[0]), 3), dtype=kind)
    for k, column in enumerate(columns):
        stacked[:, k] = column
    return stacked


def _colours(columns: Columns) -> NDArray[np.uint8] | None:
    for names in _COLOURS:
        if all(name in columns for name in names):
            return colours_from(np.stack([_native(columns[name]) for name in names], axis=1))
    return None


def _plural(element: _Element) -> str:
    return {"vertex": "points", "face": "faces"}.get(element.name, f"{element.name!r} rows")


def _cut_short(element: _Element, found: int) -> str:
    return (
        f"it promises {element.count} {_plural(element)} but ends after {found}: the file is "
        "cut short; export or copy it again"
    )
