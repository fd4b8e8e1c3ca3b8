"""Files that cannot be used: each one gives one clear line, and no other error escapes."""

from __future__ import annotations

import gzip
import io
import json
import zipfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scan.scan_makers import (
    box,
    egg,
    glb_bytes,
    gltf_tree,
    ply_bytes,
    stl_bytes,
    threemf_bytes,
    write,
)

from lossfill.errors import InputError
from lossfill.scan import Unit, read_scan

VERTICES, FACES = box()
CORNERS = VERTICES[FACES]
PROSE = "This bowl was found in the kiln shed. The rim is chipped in two places.\n" * 40


def zipped(name: str, content: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr(name, content)
    return out.getvalue()


def stl_with(value: float) -> bytes:
    corners = CORNERS.copy()
    corners[3, 1, 2] = value
    return stl_bytes(corners)


def ply_with(value: float) -> bytes:
    vertices = VERTICES.copy()
    vertices[2, 0] = value
    return ply_bytes(vertices, FACES)


CASES = {
    "empty": ("a.stl", b"", "empty"),
    "prose named stl": ("a.stl", PROSE, "text file, not STL"),
    "prose of 84 bytes named stl": ("a.stl", PROSE[:84], "text file, not STL"),
    "prose named ply": ("a.ply", PROSE, "text file, not PLY"),
    "prose named glb": ("a.glb", PROSE, "not GLB"),
    "prose named obj": ("a.obj", PROSE, "no points"),
    "prose named 3mf": ("a.3mf", PROSE, "not 3MF"),
    "prose about a solid": ("a.stl", "solid as a rock, this bowl\n" * 9, "no triangle"),
    "stl text without triangles": ("a.stl", "solid a\nendsolid a\n", "no triangle"),
    "stl cut short": ("a.stl", stl_bytes(CORNERS)[:-60], "promises 12 triangles"),
    "stl of a few bytes": ("a.stl", b"\0\1\2", "starts with 84"),
    "stl without triangles": ("a.stl", stl_bytes(CORNERS[:0]), "no triangle"),
    "stl with NaN": ("a.stl", stl_with(np.nan), "1 of 12 triangles"),
    "stl with infinity": ("a.stl", stl_with(np.inf), "no|without a finite position"),
    "ply cut short": ("a.ply", ply_bytes(VERTICES, FACES)[:-5], "cut short"),
    "ply with NaN": ("a.ply", ply_with(np.nan), "1 of 8 points"),
    "ply with infinity": ("a.ply", ply_with(-np.inf), "1 of 8 points"),
    "ply out of range": ("a.ply", ply_bytes(VERTICES, FACES + 1), "vertex 8 of 8"),
    "ply negative": ("a.ply", ply_bytes(VERTICES, FACES - 1), "damaged"),
    "ply point cloud": ("a.ply", ply_bytes(VERTICES, []), "point cloud"),
    "all points in one place": ("a.ply", ply_bytes(VERTICES * 0 + 5, FACES), "one place"),
    "numbers beyond any scan": (
        "a.obj", "v -1e308 0 0\nv 1e308 0 0\nv 0 1 0\nf 1 2 3\n", "too large",
    ),
    "unknown ending": ("a.step", PROSE, r"ending \.step"),
    "no ending": ("scan", PROSE, "without an ending"),
    "unknown bytes": ("a.xyz", bytes(range(256)) * 9, r"named \.xyz but holds something else"),
    "gzip": ("a.stl.gz", gzip.compress(stl_bytes(CORNERS)), "gzip: unpack"),
    "gzip named stl": ("a.stl", gzip.compress(stl_bytes(CORNERS)), "gzip: unpack"),
    "zip": ("a.zip", zipped("a.stl", stl_bytes(CORNERS)), "zip archive: unpack"),
    "zip named 3mf": ("a.3mf", zipped("a.stl", stl_bytes(CORNERS)), "without a 3MF model"),
    "empty zip named 3mf": ("a.3mf", b"PK\5\6" + b"\0" * 18, "without a 3MF model"),
    "3mf of nonsense": ("a.3mf", zipped("3D/3dmodel.model", b"<bowl/>"), "damaged 3MF"),
    "gltf of nonsense": ("a.gltf", '{"asset": 3}', "damaged"),
    "gltf cut short": ("a.gltf", '{"asset": {"version"', "damaged"),
    "gltf of a list": ("a.gltf", "[1, 2]", "not glTF"),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_one_clear_line(tmp_path: Path, case: str) -> None:
    name, content, message = CASES[case]
    path = write(tmp_path / name, content)
    with pytest.raises(InputError, match=message) as caught:
        read_scan(path)
    line = str(caught.value)
    assert line.startswith(f"{name}: ")
    assert "\n" not in line
    assert type(caught.value) is InputError


def test_missing_and_folder(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        read_scan(tmp_path / "gone.stl")
    with pytest.raises(InputError, match="folder"):
        read_scan(tmp_path)
    with pytest.raises(InputError, match="cannot be opened"):
        read_scan(write(tmp_path / "a.stl", b"x") / "b.stl")


@pytest.mark.parametrize(
    ("name", "content", "what"),
    [
        ("a.stl", ply_bytes(VERTICES, FACES), "PLY"),
        ("a.ply", stl_bytes(CORNERS), "binary STL"),
        ("a.obj", egg().export(file_type="stl_ascii"), "STL in text form"),
        ("a.stl", egg().export(file_type="obj"), "OBJ"),
        ("a.ply", egg().export(file_type="off"), "OFF"),
        ("a.ply", threemf_bytes(VERTICES, FACES), "3MF"),
        ("a.txt", egg().export(file_type="obj"), "OBJ"),
        ("a", glb_bytes(*gltf_tree(VERTICES / 1000, FACES.ravel())), "GLB"),
    ],
)
def test_wrong_name_is_read_for_what_it_is(
    tmp_path: Path, name: str, content: bytes | str, what: str
) -> None:
    scan = read_scan(write(tmp_path / name, content))
    assert len(scan.mesh.faces) in (12, len(egg().faces))
    assert any(f"holds {what}," in warning for warning in scan.warnings)
    (right,) = {"a": [".glb"]}.get(name, [None]) or [None]
    if right:
        again = read_scan(write(tmp_path / f"a{right}", content))
        assert not any("holds" in warning for warning in again.warnings)


GLB = glb_bytes(*gltf_tree(VERTICES / 1000, FACES.ravel()))
GLTF = json.dumps(gltf_tree(VERTICES / 1000, FACES.ravel())[0]).encode()
WHOLE = {
    "a.stl": stl_bytes(CORNERS),
    "b.stl": egg().export(file_type="stl_ascii").encode()[:3000],
    "a.ply": ply_bytes(VERTICES, FACES),
    "b.ply": egg().export(file_type="ply", encoding="ascii")[:3000],
    "a.obj": egg().export(file_type="obj").encode()[:3000],
    "a.off": egg().export(file_type="off").encode()[:3000],
    "a.glb": GLB,
    "a.gltf": GLTF,
    "a.3mf": threemf_bytes(VERTICES, FACES),
}


@settings(
    derandomize=True,
    deadline=None,
    max_examples=60,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.data())
@pytest.mark.parametrize("name", WHOLE)
def test_no_other_error_escapes_damage(tmp_path: Path, name: str, data: st.DataObject) -> None:
    content = bytearray(WHOLE[name])
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.integers(0, len(content) - 1))
        content[place] = data.draw(st.integers(0, 255))
    keep = data.draw(st.one_of(st.just(len(content)), st.integers(1, len(content))))
    path = write(tmp_path / name, bytes(content[:keep]))
    try:
        scan = read_scan(path, units=data.draw(st.sampled_from([None, Unit.MILLIMETRE])))
    except InputError as error:
        assert "\n" not in str(error)  # noqa: PT017 - most damage is refused, some is harmless
    else:
        assert np.isfinite(scan.mesh.vertices).all()
        assert scan.mesh.faces.max() < len(scan.mesh.vertices)
