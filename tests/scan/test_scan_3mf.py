"""3MF: every unit by size, transforms, components, damage."""

from __future__ import annotations

from pathlib import Path

import lib3mf
import numpy as np
import pytest
from numpy.testing import assert_allclose
from scan.scan_makers import box, threemf_bytes, volume, write

from lossfill.errors import InputError
from lossfill.scan import Unit, read_scan
from lossfill.scan.threemf import holds_model

# Units and their default: 3MF Core Specification 1.4.0, 3.4 (table and XSD). Sizes in mm: SI, and
# 1 inch = 25.4 mm, 1 foot = 304.8 mm (international yard, 1959).
UNITS = {
    "micron": (Unit.MICRON, 0.001),
    "millimeter": (Unit.MILLIMETRE, 1.0),
    "centimeter": (Unit.CENTIMETRE, 10.0),
    "inch": (Unit.INCH, 25.4),
    "foot": (Unit.FOOT, 304.8),
    "meter": (Unit.METRE, 1000.0),
}
LIBRARY_UNITS = {
    "micron": lib3mf.ModelUnit.MicroMeter,
    "millimeter": lib3mf.ModelUnit.MilliMeter,
    "centimeter": lib3mf.ModelUnit.CentiMeter,
    "inch": lib3mf.ModelUnit.Inch,
    "foot": lib3mf.ModelUnit.Foot,
    "meter": lib3mf.ModelUnit.Meter,
}


def library_model(side: float = 1.0):
    """Model with one 60 × 40 × 30 box, written by the reference library."""
    wrapper = lib3mf.get_wrapper()
    model = wrapper.CreateModel()
    thing = model.AddMeshObject()
    vertices, faces = box(60 * side, 40 * side, 30 * side)
    points, cells = [], []
    for vertex in vertices.tolist():
        points.append(lib3mf.Position())
        points[-1].Coordinates[:] = vertex
    for face in faces.tolist():
        cells.append(lib3mf.Triangle())
        cells[-1].Indices[:] = face
    thing.SetGeometry(points, cells)
    return wrapper, model, thing


def transform(matrix: np.ndarray):
    """3MF transform (rows act on row vectors) of a (4, 4) matrix for column vectors."""
    made = lib3mf.Transform()
    for row in range(4):
        made.Fields[row][:] = matrix[:3, row].tolist()
    return made


def save(model, path: Path) -> Path:
    model.QueryWriter("3mf").WriteToFile(str(path))
    return path


@pytest.mark.parametrize("name", UNITS)
def test_unit_by_size_from_plain_xml(tmp_path: Path, name: str) -> None:
    unit, mm = UNITS[name]
    vertices, faces = box(60 / mm, 40 / mm, 30 / mm)
    scan = read_scan(write(tmp_path / "a.3mf", threemf_bytes(vertices, faces, unit=name)))
    assert (scan.format, scan.unit, scan.unit_source) == ("3MF", unit, "file")
    assert_allclose(scan.mesh.bounds, [[0, 0, 0], [60, 40, 30]], rtol=0, atol=1e-5 * 60)
    assert scan.warnings == ()


@pytest.mark.parametrize("name", UNITS)
def test_unit_by_size_from_the_reference_library(tmp_path: Path, name: str) -> None:
    unit, mm = UNITS[name]
    wrapper, model, thing = library_model(1 / mm)
    model.SetUnit(LIBRARY_UNITS[name])
    model.AddBuildItem(thing, wrapper.GetIdentityTransform())
    scan = read_scan(save(model, tmp_path / "a.3mf"))
    assert scan.unit is unit
    # The library writes six decimals, which in feet is 0.0003 mm.
    assert_allclose(scan.mesh.bounds, [[0, 0, 0], [60, 40, 30]], rtol=0, atol=1e-3)
    assert volume(scan.mesh) == pytest.approx(72000, rel=1e-4)


def test_missing_unit_is_millimetre(tmp_path: Path) -> None:
    scan = read_scan(write(tmp_path / "a.3mf", threemf_bytes(*box())))
    assert (scan.unit, scan.unit_source) == (Unit.MILLIMETRE, "file")
    assert_allclose(scan.mesh.bounds[1], [60, 40, 30], rtol=1e-6)


def test_build_transform_acts_on_rows(tmp_path: Path) -> None:
    # 3.3: four rows of three; the last row moves. This one swaps x and y by a quarter turn.
    content = threemf_bytes(*box(), transform="0 1 0 -1 0 0 0 0 1 5 6 7")
    scan = read_scan(write(tmp_path / "a.3mf", content))
    assert_allclose(scan.mesh.bounds, [[-35, 6, 7], [5, 66, 37]], rtol=0, atol=1e-4)
    assert volume(scan.mesh) == pytest.approx(72000, rel=1e-6)


def test_components_are_placed_through_all_levels(tmp_path: Path) -> None:
    _, model, thing = library_model()
    turn = np.array([[0, -1, 0, 10], [1, 0, 0, 20], [0, 0, 1, 30], [0, 0, 0, 1]], dtype=float)
    move = np.eye(4)
    move[:3, 3] = (100, 0, 0)
    mirror = np.diag([1.0, 1.0, -1.0, 1.0])
    inner, outer = model.AddComponentsObject(), model.AddComponentsObject()
    inner.AddComponent(thing, transform(turn))
    outer.AddComponent(inner, transform(move))
    outer.AddComponent(thing, transform(mirror))
    model.AddBuildItem(outer, transform(turn))
    scan = read_scan(save(model, tmp_path / "a.3mf"))
    corners = np.column_stack([box()[0], np.ones(8)])
    first, second = (corners @ (turn @ move @ turn).T)[:, :3], (corners @ (turn @ mirror).T)[:, :3]
    assert_allclose(scan.mesh.vertices, np.concatenate([first, second]), rtol=0, atol=1e-3)
    assert volume(scan.mesh) == pytest.approx(2 * 72000, rel=1e-5)  # the mirrored one outward too


def test_only_what_is_built_is_read(tmp_path: Path) -> None:
    wrapper, model, thing = library_model()
    support = model.AddMeshObject()
    support.SetGeometry(thing.GetVertices(), thing.GetTriangleIndices())
    support.SetType(lib3mf.ObjectType.Support)
    unused = model.AddMeshObject()
    unused.SetGeometry(thing.GetVertices(), thing.GetTriangleIndices())
    model.AddBuildItem(thing, wrapper.GetIdentityTransform())
    model.AddBuildItem(support, wrapper.GetTranslationTransform(200.0, 0.0, 0.0))
    scan = read_scan(save(model, tmp_path / "a.3mf"))
    assert len(scan.mesh.faces) == 12
    assert any("1 print supports" in warning for warning in scan.warnings)


def test_parts_nested_to_billions_are_refused(tmp_path: Path) -> None:
    content = threemf_bytes(*box(), doublings=40)
    with pytest.raises(InputError, match=r"1\.1e\+12 copies"):
        read_scan(write(tmp_path / "a.3mf", content))


def test_doubled_parts_are_all_read(tmp_path: Path) -> None:
    scan = read_scan(write(tmp_path / "a.3mf", threemf_bytes(*box(), doublings=3)))
    assert len(scan.mesh.faces) == 8 * 12
    assert_allclose(scan.mesh.bounds, [[0, 0, 0], [63, 40, 30]], rtol=0, atol=1e-4)


def test_nothing_on_the_plate(tmp_path: Path) -> None:
    _, model, _ = library_model()
    with pytest.raises(InputError, match=r"build|damaged"):
        read_scan(save(model, tmp_path / "a.3mf"))


@pytest.mark.parametrize("keep", [30, 200, -30])
def test_cut_short(tmp_path: Path, keep: int) -> None:
    with pytest.raises(InputError, match="damaged 3MF"):
        read_scan(write(tmp_path / "a.3mf", threemf_bytes(*box())[:keep]))


def test_index_out_of_range(tmp_path: Path) -> None:
    vertices, faces = box()
    with pytest.raises(InputError, match="damaged"):
        read_scan(write(tmp_path / "a.3mf", threemf_bytes(vertices, faces + 1)))


def test_model_inside_is_found() -> None:
    content = threemf_bytes(*box())
    assert holds_model(content) is True
    assert holds_model(content[:100]) is None
