"""Point clouds get a surface where there are points, and none where there are not."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import open3d
import pytest
import trimesh
from scan.scan_makers import write
from shapes import bowl_shell

from lossfill.body import make_body
from lossfill.errors import InputError
from lossfill.mesh import FloatArray, Mesh, signed_volume_mm3
from lossfill.scan import Unit, read_scan
from lossfill.scan.points import mesh_points, point_spacing

BOWL = bowl_shell(128, spacing_mm=1.5)
N_POINTS = 40_000


def spread(n: int = N_POINTS, seed: int = 1) -> tuple[FloatArray, FloatArray]:
    """Points on the bowl's surface by trimesh, and their normals."""
    mesh = trimesh.Trimesh(BOWL.mesh.vertices, BOWL.mesh.faces, process=False)
    points, face = trimesh.sample.sample_surface(mesh, n, seed=seed)
    return np.asarray(points), np.asarray(mesh.face_normals[face])


POINTS, NORMALS = spread()


def text(*columns: FloatArray, first: str = "") -> bytes:
    out = io.BytesIO()
    np.savetxt(out, np.column_stack(columns), fmt="%.6f")
    return first.encode() + out.getvalue()


def from_surface(mesh: Mesh) -> FloatArray:
    """Distance of a mesh's vertices from the true bowl, by libigl, mm."""
    igl = pytest.importorskip("igl")
    found = igl.point_mesh_squared_distance(
        np.array(mesh.vertices), np.array(BOWL.mesh.vertices), np.array(BOWL.mesh.faces, np.int64)
    )
    return np.asarray(np.sqrt(found[0]))


@pytest.mark.parametrize("with_normals", [False, True])
def test_a_bowl_of_points_becomes_the_bowl(tmp_path: Path, with_normals: bool) -> None:
    columns = (POINTS, NORMALS) if with_normals else (POINTS,)
    scan = read_scan(write(tmp_path / "bowl.xyz", text(*columns)), units=Unit.MILLIMETRE)
    assert scan.format == "points (text)"
    body = make_body(scan)
    # Corners of the foot are rounded by about a spacing, 0.85 mm; the rest lies within hundredths.
    apart = from_surface(scan.mesh)
    assert np.median(apart) < 0.03
    assert np.quantile(apart, 0.99) < 0.6
    assert body.solid.volume() == pytest.approx(BOWL.volume_mm3, rel=0.01)
    (told,) = (text for text in scan.warnings if text.startswith("MESHED FROM POINTS"))
    assert f"{N_POINTS} points" in told
    assert ("from the file" if with_normals else "found from the points") in told


def test_the_spacing_is_told(tmp_path: Path) -> None:
    scan = read_scan(write(tmp_path / "bowl.xyz", text(POINTS)), units=Unit.MILLIMETRE)
    area = trimesh.Trimesh(BOWL.mesh.vertices, BOWL.mesh.faces).area
    told = float(scan.warnings[-1].split("about ")[1].split(" mm")[0])
    # Each point stands for a square of the surface.
    assert told == pytest.approx(np.sqrt(area / N_POINTS), rel=0.1)


def test_the_spacing_of_a_grid_is_its_step() -> None:
    from scipy.spatial import cKDTree

    x, y = np.meshgrid(np.arange(40) * 2.0, np.arange(40) * 2.0)
    grid = np.stack([x.ravel(), y.ravel(), np.zeros(x.size)], axis=1)
    # The eight nearest of a grid point are the square around it: √2 steps off, counted as 1.72.
    assert point_spacing(grid, cKDTree(grid)) == pytest.approx(2.0, rel=0.16)


def test_the_same_points_give_the_same_triangles() -> None:
    few = POINTS[::4]
    one, _ = mesh_points(few)
    other, _ = mesh_points(few)
    np.testing.assert_array_equal(one.vertices, other.vertices)
    np.testing.assert_array_equal(one.faces, other.faces)


def test_the_order_of_the_points_does_not_matter() -> None:
    few = POINTS[::4]
    one, _ = mesh_points(few)
    other, _ = mesh_points(np.random.default_rng(2).permutation(few))
    np.testing.assert_array_equal(one.vertices, other.vertices)


def test_normals_that_look_inward_are_turned() -> None:
    mesh, _ = mesh_points(POINTS, normals=-NORMALS)
    assert signed_volume_mm3(mesh) == pytest.approx(BOWL.volume_mm3, rel=0.01)


def test_no_surface_where_there_are_no_points() -> None:
    gone = np.linalg.norm(POINTS - [56.0, 0.0, 40.0], axis=1) < 15.0
    mesh, _ = mesh_points(POINTS[~gone], normals=NORMALS[~gone])
    from scipy.spatial import cKDTree

    tree = cKDTree(POINTS[~gone])
    spacing = point_spacing(POINTS[~gone], tree)
    assert tree.query(mesh.vertices)[0].max() <= 3.0 * spacing
    edges = np.sort(mesh.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    _, uses = np.unique(edges, axis=0, return_counts=True)
    assert (uses == 1).sum() > 50  # open at the gap


def test_colours_come_from_the_nearest_point() -> None:
    colours = np.where(POINTS[:, :1] > 0.0, [200, 10, 10], [10, 10, 200]).astype(np.uint8)
    mesh, _ = mesh_points(POINTS, normals=NORMALS, colours=colours)
    assert mesh.colours is not None
    right = mesh.vertices[:, 0] > 2.0
    np.testing.assert_array_equal(np.unique(mesh.colours[right], axis=0), [[200, 10, 10]])


@pytest.mark.parametrize("with_normals", [False, True])
@pytest.mark.parametrize("ascii_form", [False, True])
def test_ply_without_faces(tmp_path: Path, with_normals: bool, ascii_form: bool) -> None:
    """Written by Open3D, in metres."""
    cloud = open3d.geometry.PointCloud(open3d.utility.Vector3dVector(POINTS / 1000.0))
    if with_normals:
        cloud.normals = open3d.utility.Vector3dVector(NORMALS)
    path = tmp_path / "bowl.ply"
    assert open3d.io.write_point_cloud(str(path), cloud, write_ascii=ascii_form)
    scan = read_scan(path)
    assert scan.unit is Unit.METRE
    assert np.ptp(scan.mesh.vertices[:, 0]) == pytest.approx(120.0, abs=0.5)
    assert np.median(from_surface(scan.mesh)) < 0.03


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("a.pts", text(POINTS, first=f"{N_POINTS}\n")),
        ("a.xyz", text(POINTS, first="# x y z\n// more\n")),
        ("a.XYZ", text(POINTS).replace(b" ", b", ")),
        ("a.xyz", text(POINTS).replace(b"\n", b"\r\n")),
        ("a.pts", text(POINTS, np.zeros(N_POINTS), np.full((N_POINTS, 3), 200.0))),
    ],
    ids=["count first", "comments", "commas", "Windows", "intensity and colour"],
)
def test_dialects_of_points_in_text_form(tmp_path: Path, name: str, content: bytes) -> None:
    scan = read_scan(write(tmp_path / name, content), units=Unit.MILLIMETRE)
    assert np.ptp(scan.mesh.vertices[:, 0]) == pytest.approx(120.0, abs=0.5)
    if name == "a.pts" and b"200.0" in content[:200]:
        assert scan.mesh.colours is not None
        assert (scan.mesh.colours == 200).all()


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.xyz", b"", "empty"),
        ("a.xyz", b"# nothing\n", "no points"),
        ("a.xyz", text(POINTS[:100]), "100 points, too few"),
        ("a.xyz", text(POINTS[:, :2]), "2 numbers where x, y and z"),
        ("a.xyz", text(POINTS[:600]) + b"1 2 3 4\n", "point 601 has 4"),
        ("a.xyz", b"the bowl was found\n" * 9, "'the' stands where a number"),
        ("a.xyz", text(POINTS[:600]) + b"nan 2 3\n", "1 of 601 points"),
        ("a.txt", text(POINTS[:600]), "name the file .xyz"),
        ("a.xyz", text(np.tile(POINTS[:1], (600, 1))), "one place"),
    ],
)
def test_points_that_cannot_be_used(tmp_path: Path, name: str, content: bytes, words: str) -> None:
    with pytest.raises(InputError, match=words) as caught:
        read_scan(write(tmp_path / name, content), units=Unit.MILLIMETRE)
    assert "\n" not in str(caught.value)
