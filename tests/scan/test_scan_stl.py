"""STL: layout, shared corners, text forms."""

from __future__ import annotations

import struct
import sys
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.testing import assert_array_equal
from scan.scan_makers import egg, stl_bytes, triangles, volume, write

from lossfill.errors import InputError
from lossfill.scan import Unit, read_scan
from lossfill.scan import weld as weld_module
from lossfill.scan.stl import read_binary, read_text
from lossfill.scan.weld import weld


def test_binary_layout_is_84_bytes_and_50_per_facet(tmp_path: Path) -> None:
    # Layout: 80-byte header + uint32 count + 50 bytes a facet, little endian
    # (rpdrc.ic.polyu.edu.hk STL page; liquisearch "Binary STL").
    made = egg()
    content = made.export(file_type="stl")  # trimesh as the independent writer
    assert len(content) == 84 + 50 * len(made.faces)
    scan = read_scan(write(tmp_path / "egg.stl", content))
    assert scan.format == "STL (binary)"
    assert_array_equal(triangles(scan.mesh), made.vertices[made.faces].astype(np.float32))


def test_corners_are_shared_and_wound_outwards(tmp_path: Path) -> None:
    # Corners run counter-clockwise seen from outside (Burns, Automated Fabrication, 6.5).
    made = egg()
    scan = read_scan(write(tmp_path / "egg.stl", made.export(file_type="stl")))
    assert len(scan.mesh.vertices) == len(made.vertices)
    assert trimesh.Trimesh(scan.mesh.vertices, scan.mesh.faces, process=False).is_watertight
    assert volume(scan.mesh) == pytest.approx(made.volume, rel=1e-6)
    assert volume(scan.mesh) > 0


def test_text_form_equals_what_was_written(tmp_path: Path) -> None:
    made = egg()
    scan = read_scan(write(tmp_path / "egg.stl", made.export(file_type="stl_ascii")))
    assert scan.format == "STL (text)"
    assert len(scan.mesh.vertices) == len(made.vertices)
    np.testing.assert_allclose(
        triangles(scan.mesh), made.vertices[made.faces], rtol=0, atol=1e-5 * 45
    )


def test_binary_whose_header_says_solid_is_read_as_binary(tmp_path: Path) -> None:
    content = stl_bytes(egg().triangles, header=b"solid facet by a careless program")
    assert read_scan(write(tmp_path / "a.stl", content)).format == "STL (binary)"


def test_bytes_after_the_last_facet_are_warned_about(tmp_path: Path) -> None:
    scan = read_scan(write(tmp_path / "a.stl", stl_bytes(egg().triangles) + b"\0" * 7))
    assert any("7 bytes" in warning for warning in scan.warnings)
    assert len(scan.mesh.faces) == len(egg().faces)


FACET = "facet normal 0 0 1\nouter loop\nvertex {}\nvertex {}\nvertex {}\nendloop\nendfacet\n"


@pytest.mark.parametrize("change", [str, str.upper, lambda text: text.replace("\n", " ")])
@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_text_forms_that_programs_write(change, ending: str) -> None:
    one = FACET.format("0 0 0", "1e2 0 0", "0 5.5E1 0")
    two = FACET.format("0 0 -0.0", "1e2 0 0", "0 0 3")
    text = change(f"solid a\n{one}endsolid a\nsolid b 2\n{two}endsolid b 2\n")
    raw = read_text(text.replace("\n", ending).encode())
    assert_array_equal(raw.vertices, [[0, 0, 0], [100, 0, 0], [0, 55, 0], [0, 0, 3]])
    assert_array_equal(raw.faces, [[0, 1, 2], [0, 1, 3]])


@pytest.mark.parametrize("keep", [0.3, 0.5, 0.9])
def test_text_form_cut_short_is_refused(keep: float) -> None:
    content = egg().export(file_type="stl_ascii").encode()
    with pytest.raises(InputError, match=r"cut short|damaged"):
        read_text(content[: int(len(content) * keep)])


def test_count_of_four_billion_allocates_nothing() -> None:
    with pytest.raises(InputError, match="4294967295 triangles"):
        read_binary(b"x" * 80 + struct.pack("<I", 2**32 - 1) + b"\0" * 500)


# Joining of corners


def _as_rows(corners: np.ndarray) -> set[tuple[float, ...]]:
    return {tuple(row) for row in corners.tolist()}


@settings(derandomize=True, deadline=None)
@given(
    arrays(
        st.sampled_from([np.float32, np.float64]),
        st.tuples(st.integers(1, 60), st.just(3)),
        elements=st.sampled_from([-0.0, 0.0, 1.0, 1.5, -2.25, 1e-30]),
    )
)
def test_weld_is_exact(corners: np.ndarray) -> None:
    vertices, index = weld(corners)
    assert_array_equal(vertices[index], corners)
    assert len(vertices) == len(_as_rows(corners))  # Python's own notion of equal rows
    assert_array_equal(np.unique(index, return_index=True)[1], np.maximum.accumulate(
        np.unique(index, return_index=True)[1]
    ))  # fmt: skip


def test_weld_does_not_depend_on_the_hash(monkeypatch: pytest.MonkeyPatch) -> None:
    corners = np.random.default_rng(3).integers(0, 4, (200, 3)).astype(np.float32)
    expected = weld(corners)
    monkeypatch.setattr(
        weld_module, "_slots", lambda rows, _odd, _bits: np.zeros(len(rows), dtype=np.int64)
    )
    vertices, index = weld(corners)  # every place now falls into the same slot
    assert_array_equal(vertices, expected[0])
    assert_array_equal(index, expected[1])


def test_weld_across_chunks(monkeypatch: pytest.MonkeyPatch) -> None:
    corners = np.random.default_rng(4).integers(0, 5, (500, 3)).astype(np.float64)
    expected = weld(corners)
    monkeypatch.setattr(weld_module, "_CHUNK", 7)
    for got, wanted in zip(weld(corners), expected, strict=True):
        assert_array_equal(got, wanted)


COORDINATES = st.floats(-400, 400, width=32, allow_nan=False)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(arrays(np.float32, st.tuples(st.integers(1, 12), st.just(3), st.just(3)),
              elements=COORDINATES))  # fmt: skip
def test_round_trip_of_any_triangles(corners: np.ndarray) -> None:
    raw = read_binary(stl_bytes(corners))
    assert_array_equal(raw.vertices[raw.faces], corners)
    lines = "".join(FACET.format(*(" ".join(map(repr, row)) for row in facet.tolist()))
                    for facet in corners)  # fmt: skip
    text = read_text(f"solid x\n{lines}endsolid x\n".encode())
    assert_array_equal(text.vertices[text.faces], corners.astype(np.float64))


def test_module_is_light() -> None:
    import subprocess

    code = "import sys, lossfill.scan; print(*sys.modules)"
    loaded = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True,
        cwd=Path(__file__).parents[2],
    ).stdout.split()  # fmt: skip
    assert "lossfill.scan.read" in loaded
    heavy = {"trimesh", "open3d", "scipy", "lib3mf", "manifold3d", "matplotlib"}
    assert not heavy & set(loaded)


def test_file_is_hashed_and_left_alone(tmp_path: Path) -> None:
    import hashlib

    path = write(tmp_path / "egg.stl", stl_bytes(egg().triangles))
    before = path.stat().st_mtime_ns
    scan = read_scan(str(path), units=Unit.MILLIMETRE)
    assert scan.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert path.stat().st_mtime_ns == before
    assert scan.path == path
    assert not scan.mesh.vertices.flags.writeable
