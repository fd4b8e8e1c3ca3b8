"""What a format reader hands back: the file's own numbers, before any unit is settled."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lossfill.errors import InputError
from lossfill.scan.scan import Unit

NO_FACES = (
    "it holds points but no triangles (a point cloud): export it as a surface mesh, or its points "
    "as PLY or XYZ"
)


@dataclass(frozen=True, slots=True, eq=False)
class Raw:
    """Triangles as the file has them.

    Parameters
    ----------
    vertices : (V, 3) float32 or float64, in the file's own unit
    faces : (F, 3) integers; none where the file is a point cloud
    format : short name for people, such as "PLY (binary)"
    colours : (V, 3) uint8 sRGB or None
    unit : the unit that the file or its format states, or None
    warnings : sentences about what was skipped or mended while reading
    normals : (V, 3) of a point cloud, or None
    """

    vertices: NDArray[np.floating[Any]]
    faces: NDArray[np.integer[Any]]
    format: str
    colours: NDArray[np.uint8] | None = None
    unit: Unit | None = None
    warnings: tuple[str, ...] = ()
    normals: NDArray[np.floating[Any]] | None = None

    @property
    def is_cloud(self) -> bool:
        """True for points without triangles."""
        return len(self.faces) == 0


def colours_from(values: NDArray[Any]) -> NDArray[np.uint8]:
    """Bytes from (V, 3) colours stored as bytes, as 0–1 or 0–255 reals, or as 16-bit integers."""
    if values.dtype == np.uint8:
        return np.ascontiguousarray(values, dtype=np.uint8)
    if values.dtype.kind in "ui" and values.dtype.itemsize == 2:
        scale = 255.0 / 65535.0
    elif values.dtype.kind == "f":
        # Both conventions are about; nobody stores a pot whose every channel is at most 1 of 255.
        scale = 255.0 if float(np.nanmax(values, initial=0.0)) <= 1.0 else 1.0
    else:
        scale = 1.0
    with np.errstate(invalid="ignore"):
        scaled = np.nan_to_num(values.astype(np.float64) * scale, nan=0.0)
    return np.clip(np.rint(scaled), 0, 255).astype(np.uint8)


def check_room(what: str, count: int, bytes_each: int, bytes_left: int) -> None:
    """Refuse a count that the rest of the file cannot hold, before anything is allocated.

    Raises
    ------
    InputError
        Where ``count`` is negative or needs more bytes than the file has left.
    """
    if count < 0:
        raise InputError(f"it states {count} {what}, which cannot be: export the file again")
    if count * bytes_each > bytes_left:
        raise InputError(
            f"it promises {count} {what} but ends after {max(bytes_left, 0) // bytes_each}: "
            "the file is cut short or damaged; export or copy it again"
        )
