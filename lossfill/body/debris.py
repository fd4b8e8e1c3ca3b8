"""Telling the vessel from the loose scraps that a scanner leaves around it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lossfill.body.topology import used_vertices
from lossfill.errors import InputError
from lossfill.mesh import BoolArray, FloatArray, IntArray
from lossfill.tolerances import (
    DEBRIS_AREA,
    DEBRIS_EXTENT,
    SCRAPS_AREA,
    SCRAPS_MIN,
)


@dataclass(frozen=True, slots=True, eq=False)
class Parts:
    """The parts of a triangle list that do not hang together.

    Parameters
    ----------
    label : (F,) part of each triangle
    area_mm2 : (P,)
    low, high : (P, 3) corners of each part's box, mm
    """

    label: IntArray
    area_mm2: FloatArray
    low: FloatArray
    high: FloatArray

    @property
    def extent_mm(self) -> FloatArray:
        """Diagonal of each part's box, (P,) mm."""
        extent: FloatArray = np.linalg.norm(self.high - self.low, axis=1)
        return extent


def parts_of(vertices: FloatArray, faces: IntArray, count: int, label: IntArray) -> Parts:
    """Measure the `count` parts that triangles are labelled with, (F,) from 0."""
    if count == 1:
        points = vertices[used_vertices(faces, len(vertices))]
        total = np.array([triangle_areas_mm2(vertices, faces).sum()])
        return Parts(label, total, points.min(axis=0)[None], points.max(axis=0)[None])
    area = np.bincount(label, triangle_areas_mm2(vertices, faces), count).astype(np.float64)
    order = np.argsort(label, kind="stable")
    first = np.flatnonzero(np.diff(label[order], prepend=-1))
    a, b, c = (vertices[faces[order, k]] for k in range(3))
    low = np.minimum.reduceat(np.minimum(np.minimum(a, b), c), first, axis=0)
    high = np.maximum.reduceat(np.maximum(np.maximum(a, b), c), first, axis=0)
    return Parts(label, area, low, high)


def triangle_areas_mm2(vertices: FloatArray, faces: IntArray) -> FloatArray:
    """Area of each triangle, (F,) mm²."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    area: FloatArray = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    return area


def find_debris(parts: Parts) -> BoolArray:
    """Find the parts that are scraps, (P,) bool: small next to the largest in area and extent.

    Raises
    ------
    InputError
        Where nothing in the scan is large next to the rest.
    """
    largest = int(np.argmax(parts.area_mm2))
    total = float(parts.area_mm2.sum())
    share = float(parts.area_mm2[largest]) / total if total > 0.0 else 0.0
    extent = parts.extent_mm
    if len(extent) >= SCRAPS_MIN and share < SCRAPS_AREA:
        raise InputError(
            f"the scan is {len(extent)} loose scraps, the largest {extent[largest]:.1f} mm across "
            f"with {share:.1%} of the surface (a vessel has at least {SCRAPS_AREA:.0%}): "
            "export it as one merged surface, without stray points"
        )
    small_area = parts.area_mm2 < DEBRIS_AREA * parts.area_mm2[largest]
    debris: BoolArray = small_area & (extent < DEBRIS_EXTENT * extent[largest])
    return debris
