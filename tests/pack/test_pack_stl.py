"""The bytes of an STL, judged by struct and by two independent readers."""

from __future__ import annotations

import struct
from pathlib import Path

import manifold3d
import numpy as np
import pytest
import trimesh
from numpy.testing import assert_allclose
from pack.pack_designs import rounded32

from lossfill.errors import ExportError
from lossfill.mesh import Mesh, signed_volume_mm3
from lossfill.pack.stl import read_corners, stl_bytes, welded, without_collapsed

TETRAHEDRON = Mesh(
    np.array([[0.0, 0, 0], [10, 0, 0], [0, 10, 0], [0, 0, 10]]),
    np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]]),
)


def test_layout_is_header_count_and_50_bytes_a_facet():
    # Size 84 + 50 n, little-endian, no "solid" header: the layout as given on the STL page of
    # rpdrc.ic.polyu.edu.hk.
    raw = stl_bytes(TETRAHEDRON, "a piece")
    assert len(raw) == 84 + 50 * 4
    assert raw[:80] == b"a piece".ljust(80)
    assert struct.unpack("<I", raw[80:84]) == (4,)
    facet = struct.unpack("<12fH", raw[84:134])
    assert facet == (0, 0, -1, 0, 0, 0, 0, 10, 0, 10, 0, 0, 0)


def test_normals_agree_with_the_corners_by_the_right_hand_rule():
    # fabbers.com, text of the STL format, section 6.5: counter-clockwise seen from outside.
    last = struct.unpack("<12fH", stl_bytes(TETRAHEDRON, "x")[84 + 150 : 84 + 200])
    assert_allclose(last[:3], [3**-0.5] * 3, rtol=1e-7)


@pytest.mark.parametrize("label", ["solid piece", "Solid", "SOLIDS"])
def test_a_header_that_says_text_is_refused(label):
    with pytest.raises(ExportError, match="begins with"):
        stl_bytes(TETRAHEDRON, label)


def test_a_long_label_is_cut_and_a_strange_one_stays_ascii():
    raw = stl_bytes(TETRAHEDRON, "茶碗 " + "x" * 200)
    assert raw[:3] == b"?? "
    assert len(raw) == 284


def test_a_cut_off_file_is_refused(tmp_path: Path):
    path = tmp_path / "short.stl"
    for length in (0, 50, 84, 283):
        path.write_bytes(stl_bytes(TETRAHEDRON, "x")[:length])
        with pytest.raises(ExportError, match="bytes long"):
            read_corners(path)


def test_a_missing_file_is_one_plain_line(tmp_path: Path):
    with pytest.raises(ExportError, match="cannot be read back"):
        read_corners(tmp_path / "none.stl")


def test_read_back_is_bit_for_bit(tmp_path: Path):
    solid = manifold3d.Manifold.sphere(31.7, 60).translate([123.4, -0.001, 77.0])
    mesh = rounded32(solid)
    path = tmp_path / "ball.stl"
    path.write_bytes(stl_bytes(mesh, "ball"))
    corners = read_corners(path)
    assert np.array_equal(corners, mesh.vertices[mesh.faces].astype(np.float32))
    back = welded(corners)
    assert len(back.vertices) == len(mesh.vertices)
    assert_allclose(signed_volume_mm3(back), signed_volume_mm3(mesh), rtol=1e-12)


def test_two_other_readers_find_the_same_volume(tmp_path: Path):
    # Outside check: y = x² - 4x + 5, 1 <= x <= 4, about x has V = 78π/5 (a textbook problem seen
    # on expertsmind.com); revolved at 256 segments 49.0039393 in three libraries.
    x = np.linspace(1.0, 4.0, 400)
    outline = np.vstack([[1.0, 0.0], [4.0, 0.0], np.column_stack([x, x**2 - 4 * x + 5])[::-1]])
    # manifold revolves about y: swap the axes so that x becomes the axis.
    section = manifold3d.CrossSection([outline[:, ::-1][::-1]])
    solid = manifold3d.Manifold.revolve(section, 256)
    path = tmp_path / "turned.stl"
    path.write_bytes(stl_bytes(rounded32(solid), "turned"))
    ours = signed_volume_mm3(welded(read_corners(path)))
    n_gon = (256 / (2 * np.pi)) * np.sin(2 * np.pi / 256)
    # A chord h of a curve whose second derivative is 2 lies h²/6 above it on average, 9.4e-6 mm
    # here, of a radius of 1 to 5: the volume comes out a little large, by less than 2e-5 of it.
    ratio = ours / (78 * np.pi / 5 * n_gon)
    assert 1.0 < ratio < 1.0 + 2e-5
    assert_allclose(trimesh.load_mesh(path).volume, ours, rtol=1e-6)
    assert_allclose(_volume_by_vtk(path), ours, rtol=1e-6)


def _volume_by_vtk(path: Path) -> float:
    from vtkmodules.vtkFiltersCore import vtkMassProperties, vtkTriangleFilter
    from vtkmodules.vtkIOGeometry import vtkSTLReader

    reader = vtkSTLReader()
    reader.SetFileName(str(path))
    triangles = vtkTriangleFilter()
    triangles.SetInputConnection(reader.GetOutputPort())
    mass = vtkMassProperties()
    mass.SetInputConnection(triangles.GetOutputPort())
    mass.Update()
    return mass.GetVolume()


def test_weld_joins_equal_numbers_only():
    a = np.array([[[0, 0, 0], [1, 0, 0], [0, 1, 0]], [[-0.0, 0, 0], [0, 1, 0], [0, 0, 1]]])
    assert len(welded(a.astype(np.float32)).vertices) == 4
    a[1, 0, 0] = np.nextafter(np.float32(0), np.float32(1))
    assert len(welded(a.astype(np.float32)).vertices) == 5


def test_collapsed_triangles_go_and_the_surface_stays_closed():
    # A vertex split by less than float32 can hold makes two slivers; both must go.
    vertices = np.vstack([TETRAHEDRON.vertices, [[10.0 + 1e-9, 0.0, 0.0]]])
    faces = np.array([[0, 2, 4], [0, 4, 1], [0, 1, 3], [0, 3, 2], [1, 4, 3], [4, 2, 3]])
    mesh = without_collapsed(Mesh(vertices, faces))
    assert (len(mesh.vertices), len(mesh.faces)) == (4, 4)
    assert_allclose(signed_volume_mm3(mesh), 1000 / 6, rtol=1e-12)
