"""OBJ: faces in all their spellings."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scan.scan_makers import egg, triangles, volume, write

from lossfill.errors import InputError
from lossfill.scan import read_scan
from lossfill.scan.obj import read

# Outward quads of a 60 × 40 × 30 box whose corner number is 4x + 2y + z.
POINTS = [(x, y, z) for x in (0, 60) for y in (0, 40) for z in (0, 30)]
QUADS = [[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3]]
V_LINES = "".join(f"v {x} {y} {z}\n" for x, y, z in POINTS)

SPELLINGS = {
    "plain": lambda i: f"{i + 1}",
    "texture": lambda i: f"{i + 1}/{i + 3}",
    "normal": lambda i: f"{i + 1}//{i + 5}",
    "both": lambda i: f"{i + 1}/{i + 3}/{i + 5}",
    "backward": lambda i: f"{i - 8}",
    "backward with parts": lambda i: f"{i - 8}/-1/-2",
}


@pytest.mark.parametrize("spelling", SPELLINGS)
@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_quads_in_all_spellings(spelling: str, ending: str) -> None:
    word = SPELLINGS[spelling]
    faces = "".join("f " + " ".join(word(i) for i in quad) + "\n" for quad in QUADS)
    text = f"mtllib a.mtl\no box\n{V_LINES}vt 0 0\nvn 0 0 1\ng side\nusemtl red\ns off\n{faces}"
    raw = read(text.replace("\n", ending).encode())
    assert len(raw.faces) == 12
    assert volume(raw) == pytest.approx(60 * 40 * 30, rel=1e-12)


def test_backward_numbers_count_from_their_own_line() -> None:
    text = (
        "v 0 0 0\nv 60 0 0\nv 0 40 0\nf -3 -2 -1\ng second\n"
        "v 0 0 30\nv 60 0 30\nv 0 40 30\nf -3 -2 -1\nf 1 -1 2\n"
    )
    assert_array_equal(read(text.encode()).faces, [[0, 1, 2], [3, 4, 5], [0, 5, 1]])


def test_mixed_polygons_comments_and_continued_lines() -> None:
    text = (
        f"# a scan # of a box\n{V_LINES}"
        "f 1 2 4 3 # bottom\n  f 5 7 8\nf\t5 8 6\nf 1 5 \\\n 6 2\nf 3 4 8 7\n#f 1 1 1\n"
        "f 1 3 7 5\nf 2 6 8 4\nl 1 2\np 3"
    )
    raw = read(text.encode())
    assert volume(raw) == pytest.approx(60 * 40 * 30, rel=1e-12)


def test_colours_after_the_coordinates() -> None:
    text = "v 0 0 0 0 0.2 1\nv 60 0 0 1 1 1\nv 0 40 0 0 0 0.6\nf 1 2 3\n"
    expected = [[0, 51, 255], [255, 255, 255], [0, 0, 153]]
    assert_array_equal(read(text.encode()).colours, expected)
    in_bytes = "v 0 0 0 0 51 255\nv 60 0 0 255 255 255\nv 0 40 0 0 0 153\nf 1 2 3\n"
    assert_array_equal(read(in_bytes.encode()).colours, expected)


def test_weights_and_partly_coloured_points() -> None:
    text = "v 0 0 0 1\nv 60 0 0 1 0 0\nv 0 40 0\nf 1 2 3\n"
    raw = read(text.encode())
    assert_array_equal(raw.vertices, [[0, 0, 0], [60, 0, 0], [0, 40, 0]])
    assert raw.colours is None


def test_faces_of_two_corners_are_left_out_and_said() -> None:
    raw = read(f"{V_LINES}f 1 2\nf 1 2 4 3\n".encode())
    assert len(raw.faces) == 2
    assert any("1 faces" in warning for warning in raw.warnings)


def test_points_split_by_a_texture_seam_stay_split() -> None:
    text = "v 0 0 0\nv 60 0 0\nv 0 40 0\nv 0 0 0\nv 60 0 0\nf 1 2 3\nf 4 5 3\n"
    assert len(read(text.encode()).vertices) == 5


def test_written_by_trimesh(tmp_path: Path) -> None:
    made = egg()
    path = write(tmp_path / "egg.obj", made.export(file_type="obj", include_normals=True))
    scan = read_scan(path)
    assert scan.format == "OBJ"
    assert_allclose(triangles(scan.mesh), made.vertices[made.faces], rtol=0, atol=1e-6 * 75)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(st.data())
def test_any_faces_come_back(data: st.DataObject) -> None:
    count = data.draw(st.integers(3, 2000))
    index = st.integers(0, count - 1)
    faces = data.draw(st.lists(st.tuples(index, index, index), min_size=1, max_size=10))
    styles = data.draw(st.lists(st.sampled_from(["{}", "{}/1", "{}//2", "{}/7/9"]), min_size=1))
    lines = "".join("v 1 2 3\n" for _ in range(count))
    for k, face in enumerate(faces):
        style = styles[k % len(styles)]
        lines += "f " + " ".join(style.format(i + 1) for i in face) + "\n"
    assert_array_equal(read(lines.encode()).faces, faces)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (V_LINES, "point cloud"),
        ("f 1 2 3\n", "no points"),
        (f"{V_LINES}f 1 2 0\n", "number 0"),
        (f"{V_LINES}f 1 2 -9\n", "before the first point"),
        (f"{V_LINES}f 1 two 3\n", "'two'"),
        (f"{V_LINES}f 1 2.5 3\n", r"'2\.5'"),
        (f"{V_LINES}f 1 /2 3\n", "'/2'"),
        (f"{V_LINES}f 1 2 99999999999999999999\n", "9999"),
        ("v 0 0\nv 60 0 0\nv 0 40 0\nf 1 2 3\n", "fewer than three"),
        ("v 0 0 zero\nv 60 0 0\nv 0 40 0\nf 1 2 3\n", "'zero'"),
    ],
)
def test_lines_that_mean_nothing(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        read(text.encode())


def test_index_out_of_range_is_refused(tmp_path: Path) -> None:
    for faces in ("f 1 2 9\n", "f 1 2 4 9\n"):
        with pytest.raises(InputError, match="damaged"):
            read_scan(write(tmp_path / "a.obj", V_LINES + faces))


def test_not_convex_quad_keeps_its_area() -> None:
    points = np.array([[0, 0, 0], [60, 0, 0], [10, 10, 0], [0, 60, 0]])  # an arrow head
    for shift in range(4):
        lines = "".join("v {} {} {}\n".format(*points[(k + shift) % 4]) for k in range(4))
        raw = read(f"{lines}f 1 2 3 4\n".encode())
        a, b, c = (raw.vertices[raw.faces[:, k]] for k in range(3))
        heights = np.cross(b - a, c - a)[:, 2]
        assert (heights > 0).all()
        assert heights.sum() / 2 == pytest.approx(600.0, rel=1e-12)  # shoelace formula
