"""The shapes that other tests rely on have the volumes that they claim."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from numpy.testing import assert_allclose
from shapes import (
    Shape,
    as_scan,
    bowl_shell,
    hemisphere_shell,
    revolve,
    slice_factor,
    sphere,
    turned_over,
)

from lossfill.body import make_body
from lossfill.mesh import Mesh, signed_volume_mm3


def vtk_volume(mesh: Mesh) -> float:
    """Volume by vtkMassProperties, an independent implementation of the divergence theorem."""
    from vtkmodules.util.numpy_support import numpy_to_vtk, numpy_to_vtkIdTypeArray
    from vtkmodules.vtkCommonCore import vtkPoints
    from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData
    from vtkmodules.vtkFiltersCore import vtkMassProperties

    points = vtkPoints()
    points.SetData(numpy_to_vtk(np.array(mesh.vertices), deep=True))
    starts = 3 * np.arange(len(mesh.faces) + 1, dtype=np.int64)
    corners = mesh.faces.ravel().astype(np.int64)
    polygons = vtkCellArray()
    polygons.SetData(
        numpy_to_vtkIdTypeArray(starts, deep=True), numpy_to_vtkIdTypeArray(corners, deep=True)
    )
    data = vtkPolyData()
    data.SetPoints(points)
    data.SetPolys(polygons)
    properties = vtkMassProperties()
    properties.SetInputData(data)
    properties.Update()
    return float(properties.GetVolume())


def torus(n: int) -> Shape:
    """Torus of radii 2 and 1; its profile is an n-gon of the circle as well."""
    angle = 2.0 * np.pi * np.arange(n) / n
    return revolve(np.column_stack([2.0 + np.cos(angle), np.sin(angle)]), n)


@pytest.mark.parametrize(
    "shape", [bowl_shell(64), hemisphere_shell(50.0, 46.0, 48), sphere(30.0, 40), torus(64)]
)
def test_stated_volume_is_the_mesh_volume(shape: Shape) -> None:
    # Rounding of some 10^4 terms: 1e-12 at most; 1e-9 as the house asks of polygon volumes.
    assert_allclose(signed_volume_mm3(shape.mesh), shape.volume_mm3, rtol=1e-9)
    assert shape.volume_mm3 < shape.smooth_volume_mm3


def test_the_solid_vtk_and_trimesh_agree_on_volume() -> None:
    shape = bowl_shell(64)
    body = make_body(as_scan(shape.mesh))
    outside = [
        vtk_volume(body.mesh),
        trimesh.Trimesh(body.mesh.vertices, body.mesh.faces, process=False).volume,
        body.solid.volume(),
    ]
    assert_allclose(outside, shape.volume_mm3, rtol=1e-9)


def test_torus_volume_is_that_of_the_textbook() -> None:
    # Larson & Edwards, Calculus, 7.6 Ex. 7: 4 pi² = 39.4784. For 512 x 512 slices vtk 9.7.2 and
    # trimesh 5.2.0 gave 39.4764358511 = 4 pi² (n-gon factor)².
    shape = torus(512)
    assert_allclose(shape.volume_mm3, 39.4764358511, rtol=1e-10)
    assert_allclose(make_body(as_scan(shape.mesh)).solid.volume(), 39.4764358511, rtol=1e-9)
    assert_allclose(4.0 * np.pi**2 * slice_factor(512) ** 2, shape.volume_mm3, rtol=1e-12)


def test_hemispherical_shell_nears_its_closed_form() -> None:
    # (2/3) pi (50³ - 46³) = 57 939.346 mm³ (closed form).
    exact = 57939.346
    short = [
        exact - hemisphere_shell(50.0, 46.0, n, steps=n).smooth_volume_mm3 for n in (32, 64, 128)
    ]
    assert all(gap > 0.0 for gap in short)
    # An inscribed polygon's error falls with the square of the step: a factor of 4 each time.
    assert_allclose([short[0] / short[1], short[1] / short[2]], 4.0, rtol=0.02)


def test_wedge_factor_of_an_inscribed_polygon() -> None:
    # (n / 2 pi) sin(2 pi / n): 64 -> 0.998394, 256 -> 0.999900 (formula, and manifold3d 3.5.4).
    assert_allclose([slice_factor(64), slice_factor(256)], [0.998394, 0.999900], atol=5e-7, rtol=0)


def test_faces_point_outward() -> None:
    shape = sphere(10.0, 24)
    assert signed_volume_mm3(shape.mesh) > 0.0
    assert signed_volume_mm3(turned_over(shape.mesh)) < 0.0
