"""PLY: three encodings, polygons, colours, extra elements, headers that lie."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.testing import assert_array_equal
from scan.scan_makers import box, egg, ply_bytes, triangles, volume, write

from lossfill.errors import InputError
from lossfill.scan import read_scan
from lossfill.scan.ply import read

CORNERS = np.array([[x, y, z] for x in (0, 60) for y in (0, 40) for z in (0, 30)], dtype=float)
# Outward quads of a 60 × 40 × 30 box whose corner number is 4x + 2y + z.
BOX_QUADS = [[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3]]


@pytest.mark.parametrize("encoding", ["binary", "ascii"])
def test_written_by_trimesh(tmp_path: Path, encoding: str) -> None:
    made = egg()
    made.visual.vertex_colors = np.arange(len(made.vertices) * 3).reshape(-1, 3) % 251
    content = made.export(file_type="ply", encoding=encoding)
    scan = read_scan(write(tmp_path / "egg.ply", content))
    assert scan.format == ("PLY (binary)" if encoding == "binary" else "PLY (text)")
    np.testing.assert_allclose(scan.mesh.vertices, made.vertices, rtol=0, atol=1e-6 * 75)
    assert_array_equal(scan.mesh.faces, made.faces)
    assert scan.mesh.colours is not None
    assert scan.mesh.colours.dtype == np.uint8
    assert_array_equal(scan.mesh.colours, made.visual.vertex_colors[:, :3])


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("kind", ["f", "d"])
def test_byte_orders_and_precisions(order: str, kind: str) -> None:
    made = egg()
    colours = np.arange(len(made.vertices) * 3).reshape(-1, 3) % 256
    raw = read(ply_bytes(made.vertices, made.faces, order=order, kind=kind, colours=colours))
    assert raw.vertices.dtype == (np.float32 if kind == "f" else np.float64)
    assert_array_equal(raw.vertices, made.vertices)
    assert_array_equal(raw.faces, made.faces)
    assert_array_equal(raw.colours, colours)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(
    vertices=arrays(
        np.float32, st.tuples(st.integers(3, 20), st.just(3)),
        elements=st.floats(-400, 400, width=32, allow_nan=False),
    ),
    data=st.data(),
)  # fmt: skip
def test_round_trip_of_any_triangles(vertices: np.ndarray, data: st.DataObject) -> None:
    index = st.integers(0, len(vertices) - 1)
    faces = data.draw(st.lists(st.tuples(index, index, index), min_size=1, max_size=12))
    for order in "<>":
        raw = read(ply_bytes(vertices, faces, order=order))
        assert_array_equal(raw.vertices, vertices)
        assert_array_equal(raw.faces, faces)
    points = "".join(" ".join(map(repr, row)) + "\n" for row in vertices.tolist())
    cells = "".join("3 {} {} {}\n".format(*face) for face in faces)
    head = (
        f"ply\nformat ascii 1.0\nelement vertex {len(vertices)}\nproperty float x\n"
        f"property float y\nproperty float z\nelement face {len(faces)}\n"
        "property list uchar int vertex_indices\nend_header\n"
    )
    raw = read((head + points + cells).encode())
    assert_array_equal(raw.vertices, vertices.astype(np.float64))
    assert_array_equal(raw.faces, faces)


@pytest.mark.parametrize("order", ["<", ">"])
def test_quads_and_mixed_polygons(order: str) -> None:
    quads = read(ply_bytes(CORNERS, BOX_QUADS, order=order))
    assert volume(quads) == pytest.approx(60 * 40 * 30, rel=1e-12)
    mixed = [BOX_QUADS[0][:3], [BOX_QUADS[0][0], *BOX_QUADS[0][2:]], *BOX_QUADS[1:]]
    raw = read(ply_bytes(CORNERS, mixed, order=order))
    assert len(raw.faces) == 12
    assert volume(raw) == pytest.approx(60 * 40 * 30, rel=1e-12)
    assert_array_equal(raw.faces[0], mixed[0])  # order and winding are kept


def _header(*elements: str, encoding: str = "ascii") -> str:
    return "\n".join(["ply", f"format {encoding} 1.0", *elements, "end_header", ""])


XYZ = "property float x\nproperty float y\nproperty float z"


def test_other_elements_and_lists_are_stepped_over() -> None:
    # A list property beside the corners, and elements before, between and after.
    head = _header(
        "element camera 1\nproperty float f\nproperty list uchar short pixels",
        "element vertex 3\nproperty uchar flag\n" + XYZ,
        "element edge 2\nproperty int a\nproperty int b",
        "element face 2\nproperty int region\nproperty list uchar float texcoord\n"
        "property list ushort uint vertex_index\nproperty uchar q",
        encoding="binary_little_endian",
    ).encode()
    body = struct.pack("<fB3h", 35.0, 3, 1, 2, 3)
    for point in ((0, 0, 0), (70, 0, 0), (0, 50, 0)):
        body += struct.pack("<B3f", 9, *point)
    body += struct.pack("<4i", 0, 1, 1, 2)
    body += struct.pack("<iB2fH3IB", 1, 2, 0.5, 0.5, 3, 0, 1, 2, 7)
    body += struct.pack("<iBH3IB", 1, 0, 3, 2, 1, 0, 7)
    raw = read(head + body)
    assert_array_equal(raw.vertices, [[0, 0, 0], [70, 0, 0], [0, 50, 0]])
    assert_array_equal(raw.faces, [[0, 1, 2], [2, 1, 0]])


def test_text_with_other_elements_and_mixed_polygons() -> None:
    text = _header(
        "element vertex 5\n" + XYZ + "\nproperty float confidence",
        "element face 2\nproperty list uchar int vertex_indices\nproperty int region",
        "element edge 1\nproperty int a\nproperty int b",
    )
    text += "0 0 0 .5\n60 0 0 .5\n60 40 0 .5\n0 40 0 .5\n0 0 30 1\n"
    text += "4 0 1 2 3 8\n3 0 1 4 8\n0 1\n"
    raw = read(text.replace("\n", "\r\n").encode())
    assert_array_equal(raw.faces, [[0, 1, 2], [0, 2, 3], [0, 1, 4]])
    assert_array_equal(raw.vertices[4], [0, 0, 30])


def test_colours_stored_as_reals() -> None:
    text = _header(
        "element vertex 3\n" + XYZ + "\nproperty float red\nproperty float green\n"
        "property float blue",
        "element face 1\nproperty list uchar int vertex_indices",
    )
    text += "0 0 0 0 0.2 1\n60 0 0 1 1 1\n0 40 0 0 0 0.6\n3 0 1 2\n"
    assert_array_equal(read(text.encode()).colours, [[0, 51, 255], [255, 255, 255], [0, 0, 153]])


def test_concave_polygon_keeps_its_area() -> None:
    # An L: 60 × 40 less 30 × 20; a fan from corner 3's neighbour would leave the outline.
    outline = [[60, 0], [60, 20], [30, 20], [30, 40], [0, 40], [0, 0]]
    for shift in range(6):
        points = np.array([[*outline[(k + shift) % 6], 5.0] for k in range(6)], dtype=float)
        raw = read(ply_bytes(points, [list(range(6))]))
        cross = np.cross(*(raw.vertices[raw.faces[:, k]] - raw.vertices[raw.faces[:, 0]]
                           for k in (1, 2)))  # fmt: skip
        assert (cross[:, 2] >= 0).all()
        assert cross[:, 2].sum() / 2 == pytest.approx(60 * 40 - 30 * 20, rel=1e-6)


GOOD = ply_bytes(*box())


@pytest.mark.parametrize("keep", range(len(GOOD) - 160, len(GOOD), 23))
def test_binary_cut_anywhere_is_refused(keep: int) -> None:
    with pytest.raises(InputError, match=r"cut short|ends|damaged"):
        read(GOOD[:keep])


@pytest.mark.parametrize("keep", [0.4, 0.7, 0.95])
def test_text_cut_short_is_refused(keep: float) -> None:
    content = egg().export(file_type="ply", encoding="ascii")
    with pytest.raises(InputError, match="ends after"):
        read(content[: int(len(content) * keep)].rsplit(b"\n", 1)[0])


@pytest.mark.parametrize("encoding", ["ascii", "binary_little_endian", "binary_big_endian"])
@pytest.mark.parametrize("element", ["vertex", "face"])
def test_absurd_counts_allocate_nothing(encoding: str, element: str) -> None:
    counts = {"vertex": 3, "face": 1, element: 10**15}
    head = _header(
        f"element vertex {counts['vertex']}\n{XYZ}",
        f"element face {counts['face']}\nproperty list uchar int vertex_indices",
        encoding=encoding,
    )
    with pytest.raises(InputError, match=r"1000000000000000 (points|faces)"):
        read(head.encode() + b"0 0 0 1 1 1 2 2 2 3 0 1 2\n" * 4)


def test_list_length_of_four_billion_allocates_nothing() -> None:
    head = _header(
        f"element vertex 3\n{XYZ}",
        "element face 1\nproperty list uint int vertex_indices",
        encoding="binary_little_endian",
    )
    with pytest.raises(InputError):
        read(head.encode() + b"\0" * 36 + b"\xff" * 40)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (_header("element face 1\nproperty list uchar int vertex_indices"), "names no points"),
        (_header(f"element vertex 1\n{XYZ}", "element tristrips 1\nproperty list int int "
                 "vertex_indices"), "strips"),
        (_header(f"element vertex 1\n{XYZ}", "element face 1\nproperty int colour")
         + "0 0 0 1", "corners"),
        (_header("element vertex 1\nproperty float u", "element face 1\nproperty list uchar int "
                 "vertex_indices") + "1 3 0 0 0", "no x, y and z"),
        (_header("element vertex many"), "means nothing"),
        (_header("element vertex 1\nproperty quaternion x"), "means nothing"),
        (_header(encoding="ebcdic"), "names no points|encoding"),
        ("ply\nformat ascii 1.0\n", "no end"),
        (_header(f"element vertex 3\n{XYZ}", "element face 1\nproperty list uchar int "
                 "vertex_indices") + "0 0 0 5 0 0 0 5 0 3 0 1 1.5", "fraction"),
        (_header(f"element vertex 3\n{XYZ}", "element face 1\nproperty list uchar int "
                 "vertex_indices") + "0 0 0 5 0 zero 0 5 0 3 0 1 2", "'zero'"),
    ],
)  # fmt: skip
def test_headers_and_bodies_that_mean_nothing(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        read(text.encode())


@pytest.mark.parametrize("faces", [(), ("element face 0\nproperty list uchar int vertex_indices",)])
def test_points_without_faces_are_a_cloud(faces: tuple[str, ...]) -> None:
    normals = "property float nx\nproperty float ny\nproperty float nz"
    head = _header(f"element vertex 2\n{XYZ}\n{normals}", *faces)
    raw = read((head + "1 2 3 0 0 1 4 5 6 0 1 0").encode())
    assert raw.is_cloud
    np.testing.assert_array_equal(raw.vertices, [[1, 2, 3], [4, 5, 6]])
    np.testing.assert_array_equal(raw.normals, [[0, 0, 1], [0, 1, 0]])


def test_read_back_by_trimesh_agrees(tmp_path: Path) -> None:
    path = write(tmp_path / "box.ply", GOOD)
    other = trimesh.load(path, process=False)
    scan = read_scan(path)
    assert_array_equal(triangles(scan.mesh), other.vertices[other.faces])
