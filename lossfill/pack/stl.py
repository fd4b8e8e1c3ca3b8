"""Binary STL, written and read back here: the gate must judge the bytes themselves.

The layout is an 80-byte header, a 32-bit count and 50 bytes a facet, little-endian::

    normal 3 x float32 | corner a | corner b | corner c | uint16 0

A header that begins with "solid" is taken for the text form by many readers. STL carries no unit;
the record beside it (`fill.json`) says millimetre.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from lossfill.errors import ExportError
from lossfill.mesh import Mesh
from lossfill.scan.weld import weld

HEADER_BYTES = 80
COUNT_BYTES = 4
FACET = np.dtype([("normal", "<f4", (3,)), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def stl_bytes(mesh: Mesh, label: str) -> bytes:
    """Lay out a mesh as a binary STL.

    Parameters
    ----------
    mesh : triangles, mm; coordinates are rounded to float32
    label : plain words for the header, cut to 80 bytes; must not begin with "solid"

    Raises
    ------
    ExportError
        Where the label would make readers take the file for the text form.
    """
    header = label.encode("ascii", "replace")[:HEADER_BYTES].ljust(HEADER_BYTES)
    if header[:5].lower() == b"solid":
        raise ExportError(
            f'the label "{label}" begins with "solid", which readers take for text: reword it'
        )
    facets = np.zeros(len(mesh.faces), dtype=FACET)
    facets["corners"] = mesh.vertices.astype(np.float32)[mesh.faces]
    # From the rounded corners, so that the normal agrees with the corners that the file holds.
    corners = facets["corners"].astype(np.float64)
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    lengths = np.linalg.norm(normals, axis=1, keepdims=True)
    facets["normal"] = np.divide(normals, lengths, out=np.zeros_like(normals), where=lengths > 0)
    return header + len(facets).to_bytes(COUNT_BYTES, "little") + facets.tobytes()


def read_corners(path: Path) -> NDArray[np.float32]:
    """Read a binary STL back as (F, 3, 3) float32 corners, exactly as stored.

    Raises
    ------
    ExportError
        Where the file is not as long as its facet count says, or cannot be read.
    """
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise ExportError(
            f"{path.name} cannot be read back ({error.strerror}): check the disk and run again"
        ) from error
    start = HEADER_BYTES + COUNT_BYTES
    count = int.from_bytes(raw[HEADER_BYTES:start], "little")
    expected = start + count * FACET.itemsize
    if len(raw) < start or len(raw) != expected:
        raise ExportError(
            f"{path.name} is {len(raw)} bytes long but should be {expected}: "
            "the disk may be full; free some space and run again"
        )
    corners: NDArray[np.float32] = np.frombuffer(raw, dtype=FACET, offset=start)["corners"]
    return corners


def welded(corners: NDArray[np.float32]) -> Mesh:
    """Join corners that hold the very same float32 numbers into shared vertices.

    Vertices come in order of first appearance, so the result depends on the triangles alone.
    Triangles that two equal corners have collapsed are kept, for the gate to find.

    Parameters
    ----------
    corners : (F, 3, 3) float32, mm
    """
    vertices, index = weld(corners)
    return Mesh(vertices.astype(np.float64), index.reshape(-1, 3))


def without_collapsed(mesh: Mesh) -> Mesh:
    """Weld at float32 and drop triangles that have become a line.

    A triangle (a, a, b) joins its two neighbours along the same edge a–b; without it they meet
    there directly, so a closed surface stays closed.
    """
    tidy = welded(mesh.vertices.astype(np.float32)[mesh.faces])
    a, b, c = tidy.faces.T
    keep = (a != b) & (b != c) & (c != a)
    return Mesh(tidy.vertices, tidy.faces[keep])
