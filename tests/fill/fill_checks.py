"""Outside judges of a piece: VTK's distances and volumes, and a plain count of edges."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.testing import assert_array_equal
from vtkmodules.util.numpy_support import numpy_to_vtk, numpy_to_vtkIdTypeArray, vtk_to_numpy
from vtkmodules.vtkCommonCore import vtkPoints
from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData
from vtkmodules.vtkFiltersCore import vtkImplicitPolyDataDistance, vtkMassProperties

from lossfill.mesh import FloatArray, Mesh, face_vectors

Distance = Callable[[FloatArray], FloatArray]


def vtk_mesh(mesh: Mesh) -> Any:
    """The same triangles as VTK holds them."""
    points = vtkPoints()
    points.SetData(numpy_to_vtk(np.array(mesh.vertices), deep=True))
    cells = vtkCellArray()
    starts = np.arange(0, 3 * len(mesh.faces) + 1, 3, dtype=np.int64)
    cells.SetData(
        numpy_to_vtkIdTypeArray(starts, deep=True),
        numpy_to_vtkIdTypeArray(mesh.faces.ravel().astype(np.int64), deep=True),
    )
    data = vtkPolyData()
    data.SetPoints(points)
    data.SetPolys(cells)
    return data


def vtk_volume_and_area(mesh: Mesh) -> tuple[float, float]:
    """Volume (mm³) and area (mm²) by vtkMassProperties."""
    measured = vtkMassProperties()
    measured.SetInputData(vtk_mesh(mesh))
    measured.Update()
    return float(measured.GetVolume()), float(measured.GetSurfaceArea())


def vtk_signed_distance(mesh: Mesh) -> Distance:
    """Distance function by VTK, negative inside."""
    judge = vtkImplicitPolyDataDistance()
    judge.SetInput(vtk_mesh(mesh))

    def distance(points: FloatArray) -> FloatArray:
        result = numpy_to_vtk(np.zeros(len(points)), deep=True)
        judge.FunctionValue(numpy_to_vtk(np.array(points), deep=True), result)
        return np.asarray(vtk_to_numpy(result), dtype=np.float64).copy()

    return distance


def assert_closed(mesh: Mesh) -> None:
    """Each edge is run along once each way, by exactly two triangles, and no vertex is idle."""
    faces = mesh.faces.astype(np.int64)
    tail, head = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    n = len(mesh.vertices)
    forth = np.sort(tail * n + head)
    assert_array_equal(forth, np.sort(head * n + tail))
    assert len(np.unique(forth)) == len(forth)
    assert_array_equal(np.unique(faces), np.arange(n))


def spread_over(mesh: Mesh, n: int, *, seed: int = 1) -> FloatArray:
    """Points drawn evenly by area over a surface, (n, 3)."""
    rng = np.random.default_rng(seed)
    area = np.linalg.norm(face_vectors(mesh), axis=1)
    face = rng.choice(len(area), n, p=area / area.sum())
    u, v = np.sqrt(rng.random(n)), rng.random(n)
    weights = np.stack([1.0 - u, u * (1.0 - v), u * v], axis=1)
    points: FloatArray = np.einsum("nk,nkx->nx", weights, mesh.vertices[mesh.faces[face]])
    return points
