"""OFF and COFF."""

from __future__ import annotations

from pathlib import Path

import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scan.scan_makers import egg, volume, write

from lossfill.errors import InputError
from lossfill.scan import read_scan
from lossfill.scan.off import read

POINTS = [(x, y, z) for x in (0, 60) for y in (0, 40) for z in (0, 30)]
QUADS = "4 0 1 3 2\n4 4 6 7 5\n4 0 4 5 1\n4 2 3 7 6\n4 0 2 6 4\n4 1 5 7 3\n"
ROWS = "".join("{} {} {}\n".format(*point) for point in POINTS)


def test_written_by_trimesh(tmp_path: Path) -> None:
    made = egg()
    scan = read_scan(write(tmp_path / "egg.off", made.export(file_type="off")))
    assert scan.format == "OFF"
    assert_allclose(scan.mesh.vertices, made.vertices, rtol=0, atol=1e-8 * 75)
    assert_array_equal(scan.mesh.faces, made.faces)


@pytest.mark.parametrize(
    "text",
    [
        f"OFF\n8 6 12\n{ROWS}{QUADS}",
        f"OFF 8 6 12\n{ROWS}{QUADS}",
        f"# made by hand\nOFF\n# counts\n8 6 0\n\n{ROWS}\n# faces\n{QUADS}",
        f"OFF\r\n8 6 12\r\n{ROWS}{QUADS}".replace("\n", "\r\n"),
        # Colours after the corners: none, an index, three bytes, four reals.
        f"OFF\n8 6 12\n{ROWS}" + QUADS.replace("4 0 4 5 1", "4 0 4 5 1 7")
        .replace("4 0 1 3 2", "4 0 1 3 2 255 0 0").replace("4 1 5 7 3", "4 1 5 7 3 .1 .2 .3 1"),
    ],
)  # fmt: skip
def test_quads_headers_comments_and_face_colours(text: str) -> None:
    raw = read(text.encode())
    assert len(raw.faces) == 12
    assert raw.colours is None
    assert volume(raw) == pytest.approx(60 * 40 * 30, rel=1e-12)


def test_mixed_polygons() -> None:
    mixed = "3 0 1 3\n3 0 3 2\n" + QUADS.split("\n", 1)[1]
    assert volume(read(f"OFF\n8 7 0\n{ROWS}{mixed}".encode())) == pytest.approx(72000, rel=1e-12)


@pytest.mark.parametrize("header", ["COFF", "OFF"])
@pytest.mark.parametrize("alpha", ["", " 255"])
def test_point_colours(header: str, alpha: str) -> None:
    text = f"{header}\n3 1 0\n0 0 0 1 2 3{alpha}\n60 0 0 4 5 6{alpha}\n0 40 0 7 8 255{alpha}\n"
    raw = read((text + "3 0 1 2\n").encode())
    assert_array_equal(raw.colours, [[1, 2, 3], [4, 5, 6], [7, 8, 255]])
    assert_array_equal(raw.vertices, [[0, 0, 0], [60, 0, 0], [0, 40, 0]])


def test_point_colours_as_reals_after_normals() -> None:
    rows = ["0 0 0 0 0 1 0 .2 1 1", "60 0 0 0 0 1 1 1 1 1", "0 40 0 0 0 1 0 0 .6 1"]
    raw = read(("CNOFF\n3 1 0\n" + "\n".join(rows) + "\n3 0 1 2\n").encode())
    assert_array_equal(raw.colours, [[0, 51, 255], [255, 255, 255], [0, 0, 153]])


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (f"OFF\n8 0 0\n{ROWS}", "point cloud"),
        (f"OFF\n8 6 0\n{ROWS}4 0 1 3 2\n", "promises 6 faces"),
        ("OFF\n8000000000000 6 0\n0 0 0\n", "promises 8000000000000 points"),
        (f"OFF\n8 1 0\n{ROWS}4 0 1 3\n", "fewer corners"),
        (f"OFF\n8 1 0\n{ROWS}3 0 1 1.5\n", "fraction"),
        (f"OFF\n8 1 0\n{ROWS}9e18 0 1 2\n", "fraction|fewer"),
        (f"OFF\n8 1 0\n{ROWS}4 0 1 3 8\n", "point number 8"),
        (f"OFF\n8 1 0\n{ROWS}4 0 1 3 -1\n", "point number -1"),
        ("OFF\n", "does not state"),
        ("OFF\n-3 1 0\n0 0 0\n", "-3 points"),
        ("OFF\n1 1 0\n0 0\n3 0 0 0\n", "fewer numbers"),
        ("OFF BINARY\n", "binary OFF"),
        ("4OFF\n1 1 0\n", "coordinates"),
        (f"OFF\n8 1 0\n{ROWS}3 0 x 2\n", "'x'"),
    ],
)
def test_content_that_means_nothing(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        read(text.encode())
