"""3MF, through the format's own reference library.

The model's unit attribute is honoured (millimetre where it is absent; 3MF Core Specification 1.4,
3.4), and what is read is what would be built: every build item, with its transform, through any
depth of components. Objects that only support a print are left out.
"""

from __future__ import annotations

import ctypes
import io
import re
import zipfile
import zlib
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lossfill.errors import InputError
from lossfill.mesh import FloatArray
from lossfill.scan.raw import Raw
from lossfill.scan.scan import Unit
from lossfill.tolerances import (
    MOST_PARTS_READ,
    MOST_RATIO_FROM_BYTES,
    MOST_TRIANGLES_READ,
    MOST_UNPACKED_BYTES,
    MOST_UNPACKED_RATIO,
)

_DAMAGED = "it is a damaged 3MF ({}): export or copy it again"
_DEEPEST = 64
_PART = re.compile(
    rb"<(?:\w+:)?(object|component|item)\b[^>]*?\s(?:id|objectid)\s*=\s*[\"'](\d+)[\"']"
)
_UNITS = {
    "MicroMeter": Unit.MICRON,
    "MilliMeter": Unit.MILLIMETRE,
    "CentiMeter": Unit.CENTIMETRE,
    "Inch": Unit.INCH,
    "Foot": Unit.FOOT,
    "Meter": Unit.METRE,
}

Part = tuple[NDArray[np.float32], NDArray[np.uint32]]
Placed = tuple[int, FloatArray]


def holds_model(data: bytes) -> bool | None:
    """Whether zip bytes hold a 3MF model; None where the zip itself is damaged."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            return any(name.lower().endswith(".model") for name in packed.namelist())
    except (zipfile.BadZipFile, ValueError, NotImplementedError):
        return None


@cache
def library() -> Any:
    """The library, loaded once: looking up its thousand functions takes as long as a piece."""
    import lib3mf

    return lib3mf.get_wrapper()


def read(data: bytes) -> Raw:
    """Read a 3MF."""
    import lib3mf

    _check_size(data)
    try:
        return _read_model(lib3mf, data)
    except lib3mf.Lib3MF.ELib3MFException as error:
        raise InputError(_DAMAGED.format(str(error).splitlines()[0])) from error


def _check_size(data: bytes) -> None:
    """Refuse a package that would unpack to more than it should.

    The library itself unfolds nested components while it reads, so this must come first.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            size = sum(entry.file_size for entry in packed.infolist())
            if size > MOST_UNPACKED_BYTES:
                raise InputError(
                    f"it would unpack to {size / 1e9:.0f} GB (limit "
                    f"{MOST_UNPACKED_BYTES / 1e9:.0f} GB): it is damaged or no scan"
                )
            packed_size = sum(entry.compress_size for entry in packed.infolist())
            if size > MOST_UNPACKED_RATIO * max(packed_size, MOST_RATIO_FROM_BYTES):
                raise InputError(
                    f"it would unpack to {size / max(packed_size, 1):.0f} times its size (limit "
                    f"{MOST_UNPACKED_RATIO:.0f}): it is damaged or no scan"
                )
            names = [name for name in packed.namelist() if name.lower().endswith(".model")]
            n_parts = max((_n_parts(packed.read(name)) for name in names), default=0)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
        raise InputError(_DAMAGED.format("its zip container cannot be opened")) from error
    if n_parts > MOST_PARTS_READ:
        raise InputError(
            f"it asks for {n_parts:.3g} copies of its parts (limit {MOST_PARTS_READ}): "
            "it is no scan; export the scan alone"
        )


def _n_parts(xml: bytes) -> int:
    """Meshes that a model's build items ask for once all components are unfolded."""
    if b"component" not in xml:
        return 1
    copies: dict[bytes, int] = {}
    total, current = 0, b""
    for tag, number in _PART.findall(xml):
        if tag == b"object":
            current = number
            copies[current] = 0
        elif tag == b"component":
            # An object must be defined before it is used (3MF Core Specification 1.4, 3.4).
            copies[current] = copies.get(current, 0) + max(1, copies.get(number, 1))
        else:
            total += max(1, copies.get(number, 1))
    return max(total, *copies.values(), 0)


def _read_model(lib3mf: Any, data: bytes) -> Raw:
    model = library().CreateModel()
    reader = model.QueryReader("3mf")
    # The wrapper's own method turns each byte into a Python number first.
    native = reader._wrapper.lib
    buffer = ctypes.cast(ctypes.c_char_p(data), ctypes.POINTER(ctypes.c_uint8))
    reader._wrapper.checkError(
        reader,
        native.lib3mf_reader_readfrombuffer(reader._handle, ctypes.c_uint64(len(data)), buffer),
    )
    placed = list[Placed]()
    n_triangles = 0
    n_supports = 0
    sizes: dict[int, int] = {}
    items = model.GetBuildItems()
    while items.MoveNext():
        item = items.GetCurrent()
        matrix = _matrix(item.GetObjectTransform()) if item.HasObjectTransform() else np.eye(4)
        thing = item.GetObjectResource()
        if thing.GetType() in (lib3mf.ObjectType.Support, lib3mf.ObjectType.SolidSupport):
            n_supports += 1
            continue
        n_triangles += _n_triangles(model, thing, sizes, 0)
        if n_triangles > MOST_TRIANGLES_READ:
            raise InputError(f"it builds more than {MOST_TRIANGLES_READ} triangles")
        placed.extend(_meshes(model, thing, matrix))
    if not placed:
        raise InputError("it would build nothing: put the scan on the build plate and export again")
    vertices, faces = _joined(model, placed)
    warnings = [f"{n_supports} print supports were left out"] if n_supports else []
    if reader.GetWarningCount():
        first = str(reader.GetWarning(0)[0]).strip()
        warnings.append(
            f"the file departs from the 3MF standard in {reader.GetWarningCount()} places "
            f"(first: {first})"
        )
    unit = _UNITS[lib3mf.ModelUnit(model.GetUnit()).name]
    return Raw(vertices, faces, "3MF", unit=unit, warnings=tuple(warnings))


def _n_triangles(model: Any, thing: Any, sizes: dict[int, int], depth: int) -> int:
    """Triangles of an object with all its components, counted without unfolding them."""
    number = int(thing.GetUniqueResourceID())
    if depth > _DEEPEST:
        raise InputError(_DAMAGED.format("its components are nested without end"))
    if number not in sizes:
        if thing.IsMeshObject():
            # At least 1, or nested empty parts could be unfolded without end.
            sizes[number] = max(1, int(model.GetMeshObjectByID(number).GetTriangleCount()))
        else:
            parts = _components(model, number)
            sizes[number] = sum(_n_triangles(model, part, sizes, depth + 1) for part, _ in parts)
    return sizes[number]


def _meshes(model: Any, thing: Any, matrix: FloatArray) -> list[Placed]:
    number = int(thing.GetUniqueResourceID())
    if thing.IsMeshObject():
        return [(number, matrix)]
    return [
        placed
        for part, local in _components(model, number)
        for placed in _meshes(model, part, matrix @ local)
    ]


def _components(model: Any, number: int) -> list[tuple[Any, FloatArray]]:
    parent = model.GetComponentsObjectByID(number)
    parts = []
    for k in range(parent.GetComponentCount()):
        component = parent.GetComponent(k)
        local = _matrix(component.GetTransform()) if component.HasTransform() else np.eye(4)
        parts.append((component.GetObjectResource(), local))
    return parts


def _matrix(transform: Any) -> FloatArray:
    """(4, 4) for column vectors from the format's 4 rows of 3, which act on row vectors."""
    matrix = np.eye(4)
    matrix[:3, :] = np.array([list(row) for row in transform.Fields], dtype=np.float64).T
    return matrix


def _joined(model: Any, placed: list[Placed]) -> tuple[FloatArray, NDArray[np.int64]]:
    parts: dict[int, Part] = {}
    all_vertices, all_faces = [], []
    shift = 0
    for number, matrix in placed:
        if number not in parts:
            parts[number] = _arrays(model.GetMeshObjectByID(number))
        vertices, faces = parts[number]
        all_vertices.append(vertices.astype(np.float64) @ matrix[:3, :3].T + matrix[:3, 3])
        # A mirrored copy would be inside out.
        faces = faces[:, ::-1] if np.linalg.det(matrix[:3, :3]) < 0 else faces
        all_faces.append(faces.astype(np.int64) + shift)
        shift += len(vertices)
    return np.concatenate(all_vertices), np.concatenate(all_faces)


def _arrays(mesh: Any) -> Part:
    """Vertices and faces, copied by the library straight into arrays.

    The wrapper's own methods make one Python object for each vertex and each face.
    """
    wrapper, library = mesh._wrapper, mesh._wrapper.lib
    vertices = np.empty((int(mesh.GetVertexCount()), 3), dtype=np.float32)
    faces = np.empty((int(mesh.GetTriangleCount()), 3), dtype=np.uint32)
    for array, fill in (
        (vertices, library.lib3mf_meshobject_getvertices),
        (faces, library.lib3mf_meshobject_gettriangleindices),
    ):
        element = fill.argtypes[3]._type_
        needed = ctypes.c_uint64(0)
        pointer = ctypes.cast(array.ctypes.data, ctypes.POINTER(element))
        status = fill(mesh._handle, ctypes.c_uint64(len(array)), ctypes.byref(needed), pointer)
        wrapper.checkError(mesh, status)
    return vertices, faces
