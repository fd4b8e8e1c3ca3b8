"""glTF and GLB: units, axes, scene transforms, accessors, damage."""

from __future__ import annotations

import base64
import json
from pathlib import Path

import numpy as np
import pytest
import trimesh
from numpy.testing import assert_allclose, assert_array_equal
from scan.scan_makers import box, egg, glb_bytes, gltf_tree, triangles, volume, write

from lossfill.errors import InputError
from lossfill.scan import Unit, read_scan

# glTF 2.0, 3.4 (KhronosGroup/glTF): metres, right-handed, +Y up; a node whose matrix has a negative
# determinant reverses the winding, so that what is outside stays outside.


def metres(mesh: trimesh.Trimesh) -> trimesh.Trimesh:
    return trimesh.Trimesh(mesh.vertices / 1000.0, mesh.faces, process=False)


def box_glb(**changes) -> tuple[dict, bytes]:
    vertices, faces = box(0.060, 0.040, 0.030)
    tree, binary = gltf_tree(vertices, faces.ravel())
    tree["nodes"][0].update(changes)
    return tree, binary


def test_metres_become_millimetres_and_axes_stay(tmp_path: Path) -> None:
    made = egg()
    scan = read_scan(write(tmp_path / "egg.glb", metres(made).export(file_type="glb")))
    assert (scan.format, scan.unit, scan.unit_source) == ("GLB", Unit.METRE, "file")
    assert_allclose(np.ptp(scan.mesh.vertices, axis=0), np.ptp(made.vertices, axis=0), rtol=1e-6)
    assert_allclose(triangles(scan.mesh), made.vertices[made.faces], rtol=0, atol=1e-6 * 75)
    assert scan.warnings == ()


def test_scene_transforms_are_applied_as_trimesh_applies_them(tmp_path: Path) -> None:
    scene = trimesh.Scene()
    turn = trimesh.transformations.rotation_matrix(0.7, [1, 2, 3], [0.01, 0, 0])
    scene.add_geometry(metres(egg()), node_name="a", geom_name="egg", transform=turn)
    move = trimesh.transformations.translation_matrix([0.2, 0.0, 0.1])
    scene.add_geometry(scene.geometry["egg"], node_name="b", parent_node_name="a", transform=move)
    scan = read_scan(write(tmp_path / "two.glb", scene.export(file_type="glb")))
    other = scene.to_geometry()
    assert len(scan.mesh.faces) == len(other.faces)
    assert_allclose(1000 * other.bounds, scan.mesh.bounds, rtol=0, atol=1e-3)
    assert volume(scan.mesh) == pytest.approx(2 * egg().volume, rel=1e-5)


def test_translation_rotation_and_scale_are_applied_in_order(tmp_path: Path) -> None:
    # Half a right angle about z as (x, y, z, w): x goes to y.
    half = np.sqrt(0.5)
    tree, binary = box_glb(rotation=[0, 0, half, half], scale=[2, 1, 1], translation=[0.1, 0, 0])
    scan = read_scan(write(tmp_path / "a.glb", glb_bytes(tree, binary)))
    assert_allclose(scan.mesh.bounds, [[60, 0, 0], [100, 120, 30]], rtol=0, atol=1e-4)


def test_matrix_is_stored_by_columns(tmp_path: Path) -> None:
    tree, binary = box_glb(matrix=[1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0.01, 0.02, 0.03, 1])
    scan = read_scan(write(tmp_path / "a.glb", glb_bytes(tree, binary)))
    assert_allclose(scan.mesh.bounds, [[10, 20, 30], [70, 60, 60]], rtol=0, atol=1e-4)


def test_mirrored_node_stays_outward(tmp_path: Path) -> None:
    tree, binary = box_glb(scale=[-1, 1, 1])
    scan = read_scan(write(tmp_path / "a.glb", glb_bytes(tree, binary)))
    assert scan.mesh.bounds[0, 0] == pytest.approx(-60, abs=1e-4)
    assert volume(scan.mesh) == pytest.approx(60 * 40 * 30, rel=1e-5)


def test_nodes_outside_the_scene_are_left_out(tmp_path: Path) -> None:
    tree, binary = box_glb()
    tree["nodes"].append({"mesh": 0, "translation": [5, 0, 0]})
    scan = read_scan(write(tmp_path / "a.glb", glb_bytes(tree, binary)))
    assert len(scan.mesh.faces) == 12
    del tree["scenes"], tree["scene"]
    tree["nodes"][1]["translation"] = [0.1, 0, 0]
    scan = read_scan(write(tmp_path / "b.glb", glb_bytes(tree, binary)))
    assert len(scan.mesh.faces) == 24


@pytest.mark.parametrize(
    ("mode", "row", "expected"),
    [
        # glTF 2.0, 3.7.2.1: strip (i, i + (1 + i % 2), i + (2 - i % 2)); fan (i + 1, i + 2, 0).
        (5, [0, 1, 2, 3, 4], [[0, 1, 2], [1, 3, 2], [2, 3, 4]]),
        (6, [0, 1, 2, 3], [[1, 2, 0], [2, 3, 0]]),
        (4, [0, 1, 2, 2, 1, 3], [[0, 1, 2], [2, 1, 3]]),
    ],
)
def test_strips_and_fans(tmp_path: Path, mode: int, row: list, expected: list) -> None:
    vertices = np.array([[0, 0, 0], [0.06, 0, 0], [0, 0.04, 0], [0.06, 0.04, 0], [0, 0.08, 0]])
    tree, binary = gltf_tree(vertices, row, mode=mode)
    scan = read_scan(write(tmp_path / "a.glb", glb_bytes(tree, binary)))
    assert_array_equal(scan.mesh.faces, expected)


def test_triangles_without_indices(tmp_path: Path) -> None:
    vertices, faces = box(0.060, 0.040, 0.030)
    tree, binary = gltf_tree(vertices[faces].reshape(-1, 3), [0])
    del tree["meshes"][0]["primitives"][0]["indices"]
    scan = read_scan(write(tmp_path / "a.glb", glb_bytes(tree, binary)))
    assert volume(scan.mesh) == pytest.approx(72000, rel=1e-5)


def test_normalised_interleaved_positions(tmp_path: Path) -> None:
    # KHR_mesh_quantization: int16 / 32767, padded to a stride of 8 bytes.
    vertices, faces = box(1.0, 0.5, 0.25)
    stored = np.zeros((8, 4), dtype="<i2")
    stored[:, :3] = np.rint(vertices * 32767)
    tree, old = gltf_tree(vertices, faces.ravel())
    indices = old[8 * 12 :]
    tree["bufferViews"][0].update(byteLength=64, byteStride=8)
    tree["bufferViews"][1]["byteOffset"] = 64
    tree["buffers"][0]["byteLength"] = 64 + len(indices)
    tree["accessors"][0].update(componentType=5122, normalized=True)
    tree["extensionsRequired"] = ["KHR_mesh_quantization"]
    tree["nodes"][0]["scale"] = [0.06, 0.06, 0.06]
    scan = read_scan(write(tmp_path / "a.glb", glb_bytes(tree, stored.tobytes() + indices)))
    assert_allclose(np.ptp(scan.mesh.vertices, axis=0), [60, 30, 15], rtol=1e-4)


def test_sparse_positions(tmp_path: Path) -> None:
    tree, binary = box_glb()
    moved = np.array([[0.12, 0.04, 0.03]], dtype="<f4").tobytes()
    corner = int(np.argmax(box()[0].sum(axis=1)))
    size = len(binary)
    tree["bufferViews"] += [
        {"buffer": 0, "byteOffset": size, "byteLength": 4},
        {"buffer": 0, "byteOffset": size + 4, "byteLength": 12},
    ]
    tree["accessors"][0]["sparse"] = {
        "count": 1,
        "indices": {"bufferView": 2, "componentType": 5125},
        "values": {"bufferView": 3},
    }
    tree["buffers"][0]["byteLength"] = size + 16
    content = binary + np.uint32(corner).tobytes() + moved
    scan = read_scan(write(tmp_path / "a.glb", glb_bytes(tree, content)))
    assert scan.mesh.vertices[:, 0].max() == pytest.approx(120, abs=1e-4)
    assert (scan.mesh.vertices[:, 0] > 60.001).sum() == 1


def test_linear_colours_become_screen_colours(tmp_path: Path) -> None:
    # glTF 2.0, 3.9.2: COLOR_0 is linear. IEC 61966-2-1: linear 0.2140 is sRGB 0.5, byte 127.5;
    # linear 188/255 = 0.7373 is byte 223 (from the same formula, worked by hand).
    tree, binary = box_glb()
    linear = np.zeros((8, 4), dtype="u1")
    linear[:, 0], linear[:, 1], linear[:, 2], linear[:, 3] = 255, 188, 0, 255
    tree["bufferViews"].append({"buffer": 0, "byteOffset": len(binary), "byteLength": 32})
    tree["accessors"].append(
        {"bufferView": 2, "componentType": 5121, "normalized": True, "count": 8, "type": "VEC4"}
    )
    tree["meshes"][0]["primitives"][0]["attributes"]["COLOR_0"] = 2
    tree["buffers"][0]["byteLength"] += 32
    scan = read_scan(write(tmp_path / "a.glb", glb_bytes(tree, binary + linear.tobytes())))
    assert_array_equal(scan.mesh.colours, np.tile([255, 223, 0], (8, 1)))


def test_json_with_buffer_beside_it_or_inside(tmp_path: Path) -> None:
    tree, binary = box_glb()
    write(tmp_path / "my data.bin", binary)
    tree["buffers"][0]["uri"] = "my%20data.bin"
    scan = read_scan(write(tmp_path / "a.gltf", json.dumps(tree)))
    assert scan.format == "glTF"
    assert volume(scan.mesh) == pytest.approx(72000, rel=1e-5)
    inside = base64.b64encode(binary).decode()
    tree["buffers"][0]["uri"] = f"data:application/octet-stream;base64,{inside}"
    scan = read_scan(write(tmp_path / "b.gltf", json.dumps(tree)))
    assert volume(scan.mesh) == pytest.approx(72000, rel=1e-5)


def _changed(change) -> bytes:
    tree, binary = box_glb()
    change(tree)
    return glb_bytes(tree, binary)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda t: t.update(extensionsRequired=["KHR_draco_mesh_compression"]), "compression"),
        (lambda t: t["accessors"][0].pop("bufferView"), "compressed"),
        (lambda t: t["accessors"][0].update(count=10**12), "promises 1000000000000"),
        (lambda t: t["accessors"][0].update(count=-1), "-1 values"),
        (lambda t: t["accessors"][0].update(componentType=1), "damaged"),
        (lambda t: t["accessors"][0].update(byteOffset=-8), "outside"),
        (lambda t: t["bufferViews"][0].update(byteLength=10**9), "outside"),
        (lambda t: t["bufferViews"][0].update(byteStride=0), "outside"),
        (lambda t: t["accessors"][0].update(count=4), "point number 7"),
        (lambda t: t["nodes"][0].update(children=[0]), "twice"),
        (lambda t: t["nodes"][0].update(children=[9]), "not at all"),
        (lambda t: t["nodes"][0].update(mesh=3), "damaged"),
        (lambda t: t["nodes"][0].update(matrix=[1, 2]), "damaged"),
        (lambda t: t.update(nodes=[{}]), "point cloud"),
        (lambda t: t.update(meshes=[], nodes=[{}]), "no mesh"),
        (lambda t: t["meshes"][0]["primitives"][0].update(mode=0), "point cloud"),
        (lambda t: t.update(asset={"version": "1.0"}), "1.0"),
        (lambda t: t.update(nodes="bowl"), "damaged"),
        (lambda t: t["buffers"][0].update(byteLength=10**9), "cut short"),
        (lambda t: t["buffers"][0].update(uri="../secret.bin"), "outside its own folder"),
        (lambda t: t["buffers"][0].update(uri="/etc/hostname"), "outside its own folder"),
        (lambda t: t["buffers"][0].update(uri="http://a.example/b.bin"), "outside"),
        (lambda t: t["buffers"][0].update(uri="gone.bin"), "gone.bin beside it"),
        (lambda t: t["buffers"][0].update(uri="data:;base64,!!"), "damaged"),
    ],
)
def test_damaged_scenes(tmp_path: Path, change, message: str) -> None:
    with pytest.raises(InputError, match=message):
        read_scan(write(tmp_path / "a.glb", _changed(change)))


@pytest.mark.parametrize("keep", [8, 14, 30, 400, -20])
def test_cut_short(tmp_path: Path, keep: int) -> None:
    with pytest.raises(InputError, match=r"cut short|longer|damaged"):
        read_scan(write(tmp_path / "a.glb", glb_bytes(*box_glb())[:keep]))
