"""The door through which a scan file comes in.

Everything that can be wrong with a file ends here as one `InputError` with the file's name in
front: readers raise it themselves where they know what is wrong, and any other failure of parsing
is translated at this one place.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import cast

import numpy as np

from lossfill.errors import InputError
from lossfill.mesh import FloatArray, IntArray, Mesh
from lossfill.scan import gltf, obj, off, ply, stl, threemf, xyz
from lossfill.scan.detect import Format, detect
from lossfill.scan.points import mesh_points
from lossfill.scan.raw import Raw
from lossfill.scan.scan import Scan, Unit
from lossfill.scan.units import settle_unit

_READERS: dict[Format, Callable[[bytes, Path], Raw]] = {
    Format.STL_BINARY: lambda data, _: stl.read_binary(data),
    Format.STL_TEXT: lambda data, _: stl.read_text(data),
    Format.PLY: lambda data, _: ply.read(data),
    Format.OBJ: lambda data, _: obj.read(data),
    Format.OFF: lambda data, _: off.read(data),
    Format.GLB: gltf.read_glb,
    Format.GLTF: gltf.read_json,
    Format.THREEMF: lambda data, _: threemf.read(data),
    Format.XYZ: lambda data, _: xyz.read(data),
}

_PARSING_FAILURES = (
    ArithmeticError,
    AttributeError,
    LookupError,
    MemoryError,
    RecursionError,
    RuntimeError,
    TypeError,
    ValueError,
)
"""What damaged content makes Python, numpy and the libraries raise."""


def read_scan(path: str | Path, *, units: Unit | None = None, any_size: bool = False) -> Scan:
    """Read a scan file: STL, PLY, OBJ, OFF, GLB/glTF, 3MF, or points as PLY or XYZ.

    The format is told by the content; a wrong ending is warned about. Triangles stay in the pose
    that the file gives them (glTF's +Y stays y); only the unit changes, to millimetres. STL facets
    get shared vertices where corners are equal to the last bit; nothing else is mended here. Points
    without triangles get a surface laid through them, and a warning says so.

    Parameters
    ----------
    path : the file; it is opened for reading only
    units : unit of the file's numbers; None lets the file, or else its size, decide
    any_size : take any size, as the scale will be set by a length measured on the pot; where
        nothing states the unit, it is then called millimetres

    Returns
    -------
    Scan
        Triangles in mm, and warnings that every front end must show.

    Raises
    ------
    InputError
        Where the file is missing, empty, cut short, damaged, packed, or no mesh, or
        where its unit makes no vessel of 20–1000 mm.

    Examples
    --------
    >>> from lossfill.scan import Unit, read_scan
    >>> scan = read_scan("bowl.stl", units=Unit.MILLIMETRE)  # doctest: +SKIP
    >>> scan.mesh.diagonal_mm  # doctest: +SKIP
    """
    path = Path(path)
    try:
        data = _content(path)
        with ThreadPoolExecutor(max_workers=1) as pool:  # hashing leaves Python's lock free
            digest = pool.submit(hashlib.sha256, data)
            raw, warnings = _parsed(data, path)
            sha256 = digest.result().hexdigest()
        sides = _sides(raw)
        unit, source, unit_warnings = settle_unit(
            sides, stated=raw.unit, asked=units, any_size=any_size
        )
        mesh, meshed = _meshed(raw, unit) if raw.is_cloud else (_mesh_in_mm(raw, unit), ())
    except InputError as error:
        raise InputError(f"{path.name or path}: {error}") from error
    return Scan(
        mesh=mesh,
        path=path,
        format=raw.format,
        unit=unit,
        unit_source=source,
        sha256=sha256,
        warnings=(*warnings, *raw.warnings, *unit_warnings, *meshed),
    )


def _content(path: Path) -> bytes:
    if path.is_dir():
        raise InputError("it is a folder: pass the scan file itself")
    try:
        data = path.read_bytes()
    except FileNotFoundError as error:
        raise InputError(f"no such file ({path}): check the name and the folder") from error
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else str(error)
        raise InputError(f"it cannot be opened ({reason})") from error
    except MemoryError as error:
        raise InputError("it is larger than this computer's memory") from error
    if not data:
        raise InputError("the file is empty: export or copy it again")
    return data


def _parsed(data: bytes, path: Path) -> tuple[Raw, tuple[str, ...]]:
    found, warnings = detect(data, path.suffix.lower())
    try:
        return _READERS[found](data, path), warnings
    except _PARSING_FAILURES as error:
        raise InputError(
            f"it cannot be read as {found.value}: the file is damaged; export or copy it again"
        ) from error


def _sides(raw: Raw) -> FloatArray:
    """Sides of the bounding box, (3,) in the file's own unit."""
    if len(raw.vertices) == 0:
        raise InputError("it holds no points: export the scan again")
    with np.errstate(invalid="ignore", over="ignore"):  # judged below, on the result
        sides: FloatArray = np.ptp(raw.vertices, axis=0).astype(np.float64)
    if not np.isfinite(sides).all():
        if raw.is_cloud:
            _meshed(raw, Unit.MILLIMETRE)
        _mesh_in_mm(raw, Unit.MILLIMETRE)  # says how many points have no finite position
        raise InputError("its coordinates are too large for any scan: export it again")
    return sides


def _meshed(raw: Raw, unit: Unit) -> tuple[Mesh, tuple[str, ...]]:
    normals = None if raw.normals is None else raw.normals.astype(np.float64)
    points = raw.vertices.astype(np.float64) * unit.mm
    mesh, told = mesh_points(points, normals=normals, colours=raw.colours)
    return mesh, (told,)


def _mesh_in_mm(raw: Raw, unit: Unit) -> Mesh:
    vertices = raw.vertices.astype(np.float64, copy=False)
    if unit is not Unit.MILLIMETRE:
        vertices = vertices * unit.mm
    # The mesh checks the faces' range in whatever integers they come, and narrows them itself.
    return Mesh(vertices, cast(IntArray, raw.faces), raw.colours)
