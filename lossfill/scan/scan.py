"""What was in the file: triangles in millimetres, and how the unit became known."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from pathlib import Path
from typing import Literal

from lossfill.mesh import Mesh

UnitSource = Literal["file", "asked", "inferred"]


class Unit(Enum):
    """A length unit; the value is its size in millimetres (3MF Core Specification 1.4, 3.4)."""

    MICRON = 0.001
    MILLIMETRE = 1.0
    CENTIMETRE = 10.0
    METRE = 1000.0
    INCH = 25.4
    FOOT = 304.8

    @property
    def mm(self) -> float:
        """Size of one unit in millimetres."""
        return self.value


@dataclass(frozen=True, slots=True, eq=False)
class Scan:
    """A scan file as read; nothing is repaired yet.

    Parameters
    ----------
    mesh : triangles in mm, in the scan's own pose; colours kept where the file has them
    path : the file that was read; it is never written to
    format : short name of the file's format, such as "PLY (binary)"
    unit : the unit that the file's numbers were taken to be in
    unit_source : "file" (the format states it), "asked" (the caller said so) or "inferred"
    sha256 : hash of the file's bytes, hexadecimal
    warnings : sentences that every front end must show
    scale : what the file's lengths were multiplied by besides the unit, to meet a length measured
        on the pot; 1 where nothing was
    """

    mesh: Mesh
    path: Path
    format: str
    unit: Unit
    unit_source: UnitSource
    sha256: str
    warnings: tuple[str, ...] = ()
    scale: float = 1.0
