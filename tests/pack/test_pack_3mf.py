"""3MF files, read back by the format's reference library.

Numbers in the text: 3MF Core Specification 1.4.0, sections 2.2, 3.4 and 4.1.
"""

from __future__ import annotations

import time
import zipfile
from pathlib import Path
from xml.etree import ElementTree as ET

import lib3mf
import manifold3d
import numpy as np
import pytest
from numpy.testing import assert_allclose
from pack.pack_designs import rounded32

from lossfill.errors import ExportError
from lossfill.mesh import signed_volume_mm3
from lossfill.pack.threemf import read_3mf, write_3mf

CORE = "{http://schemas.microsoft.com/3dmanufacturing/core/2015/02}"
NAME = "tea bowl, loss 1, rim"


@pytest.fixture
def mesh():
    return rounded32(manifold3d.Manifold.sphere(20.0, 40).translate([50.3, -12.1, 100.7]))


@pytest.fixture
def path(mesh, tmp_path: Path) -> Path:
    path = tmp_path / "piece.3mf"
    write_3mf(mesh, path, name=NAME)
    return path


def test_read_back_by_the_reference_library(mesh, path: Path):
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(str(path))
    assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter  # 1, not 0, which is the micrometre
    shapes = model.GetMeshObjects()
    assert shapes.Count() == 1
    shapes.MoveNext()
    shape = shapes.GetCurrentMeshObject()
    assert shape.GetName() == NAME
    assert shape.IsManifoldAndOriented()
    assert shape.GetVertexCount() == len(mesh.vertices)
    assert shape.GetTriangleCount() == len(mesh.faces)
    points = np.array([list(p.Coordinates) for p in shape.GetVertices()])
    # Size and place, not the label of the unit alone: within one spacing of float32 per number.
    spacing = np.spacing(np.float32(np.abs(mesh.vertices).max()))
    assert_allclose(points, mesh.vertices, rtol=0, atol=float(spacing))
    items = model.GetBuildItems()
    assert items.Count() == 1


def test_package_layout_and_unit_as_the_specification_has_them(path: Path):
    with zipfile.ZipFile(path) as package:
        assert set(package.namelist()) == {
            "3D/3dmodel.model",
            "[Content_Types].xml",
            "_rels/.rels",
        }
        root = ET.fromstring(package.read("3D/3dmodel.model"))
        rels = package.read("_rels/.rels").decode()
    assert root.tag == f"{CORE}model"
    assert root.get("unit") == "millimeter"
    assert "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel" in rels


def test_every_edge_is_shared_by_two_triangles_in_opposite_order(path: Path):
    with zipfile.ZipFile(path) as package:
        root = ET.fromstring(package.read("3D/3dmodel.model"))
    triangles = [[int(t.get(k)) for k in ("v1", "v2", "v3")] for t in root.iter(f"{CORE}triangle")]
    edges = [(t[k], t[(k + 1) % 3]) for t in triangles for k in range(3)]
    assert len(set(edges)) == len(edges)
    assert {(b, a) for a, b in edges} == set(edges)
    assert all(len(set(t)) == 3 for t in triangles)


def test_our_own_reader_agrees(mesh, path: Path):
    found = read_3mf(path)
    assert found.name == NAME
    assert found.is_manifold
    assert np.array_equal(found.mesh.faces, mesh.faces)
    assert_allclose(signed_volume_mm3(found.mesh), signed_volume_mm3(mesh), rtol=1e-6)


def test_same_piece_same_bytes_even_later(mesh, path: Path, tmp_path: Path):
    # Zip entries hold times to two seconds: wait for the clock to leave that step.
    time.sleep(2.1)
    write_3mf(mesh, tmp_path / "again.3mf", name=NAME)
    assert (tmp_path / "again.3mf").read_bytes() == path.read_bytes()


def test_another_piece_has_other_identifiers(mesh, path: Path, tmp_path: Path):
    write_3mf(mesh, tmp_path / "other.3mf", name="tea bowl, loss 2, chip")
    uuids = []
    for file in (path, tmp_path / "other.3mf"):
        with zipfile.ZipFile(file) as package:
            root = ET.fromstring(package.read("3D/3dmodel.model"))
        uuids.append({v for e in root.iter() for k, v in e.attrib.items() if k.endswith("UUID")})
    assert len(uuids[0]) == len(uuids[1]) == 3
    assert not uuids[0] & uuids[1]


def test_other_units_and_broken_files_are_refused(mesh, path: Path, tmp_path: Path):
    wrapper = lib3mf.get_wrapper()
    model = wrapper.CreateModel()
    model.QueryReader("3mf").ReadFromFile(str(path))
    model.SetUnit(lib3mf.ModelUnit.Inch)
    model.QueryWriter("3mf").WriteToFile(str(tmp_path / "inch.3mf"))
    with pytest.raises(ExportError, match="millimetres"):
        read_3mf(tmp_path / "inch.3mf")
    (tmp_path / "short.3mf").write_bytes(path.read_bytes()[:500])
    with pytest.raises(ExportError, match="did not read back"):
        read_3mf(tmp_path / "short.3mf")
    with pytest.raises(ExportError, match="cannot be written"):
        write_3mf(mesh, tmp_path / "no" / "such.3mf", name=NAME)
