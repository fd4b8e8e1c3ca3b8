"""Files for the reader's tests, written byte by byte or by other libraries, never by lossfill."""

from __future__ import annotations

import io
import json
import struct
import zipfile
from pathlib import Path

import numpy as np
import trimesh


def egg() -> trimesh.Trimesh:
    """Closed surface with three different sides (mm), so that swapped axes show."""
    ball = trimesh.creation.icosphere(subdivisions=2, radius=1.0)
    vertices = ball.vertices * (45.0, 40.0, 25.0) + (5.0, -7.0, 30.0)
    return trimesh.Trimesh(vertices.astype(np.float32), ball.faces, process=False)


def box(side_x: float = 60.0, side_y: float = 40.0, side_z: float = 30.0) -> tuple:
    """Eight vertices and twelve outward triangles of a box with one corner at 0."""
    made = trimesh.creation.box((side_x, side_y, side_z))
    vertices = np.array(made.vertices) + np.array([side_x, side_y, side_z]) / 2
    return vertices, np.array(made.faces)


def volume(mesh) -> float:
    """Signed volume by trimesh, which shares no code with the reader."""
    return float(trimesh.Trimesh(mesh.vertices, mesh.faces, process=False).volume)


def triangles(mesh) -> np.ndarray:
    """(F, 3, 3) corner positions."""
    return mesh.vertices[mesh.faces]


def stl_bytes(corners: np.ndarray, header: bytes = b"scan") -> bytes:
    """Binary STL of (F, 3, 3) corners: CHECKS of the layout are in test_scan_stl."""
    body = b"".join(
        struct.pack("<12fH", 0.0, 0.0, 0.0, *facet.astype(np.float32).ravel().tolist(), 0)
        for facet in corners
    )
    return header.ljust(80, b" ")[:80] + struct.pack("<I", len(corners)) + body


def ply_bytes(vertices, faces, *, order: str = "<", kind: str = "f", colours=None) -> bytes:
    """Binary PLY of polygons of any size, by struct alone."""
    name = {"<": "binary_little_endian", ">": "binary_big_endian"}[order]
    real = {"f": "float", "d": "double"}[kind]
    colour_lines = "".join(f"property uchar {c}\n" for c in ("red", "green", "blue"))
    out = io.BytesIO()
    out.write(
        (
            f"ply\nformat {name} 1.0\ncomment made by hand\nelement vertex {len(vertices)}\n"
            + "".join(f"property {real} {axis}\n" for axis in "xyz")
            + (colour_lines if colours is not None else "")
            + f"element face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n"
        ).encode()
    )
    for k, vertex in enumerate(vertices):
        out.write(struct.pack(f"{order}3{kind}", *(float(x) for x in vertex)))
        if colours is not None:
            out.write(struct.pack("3B", *(int(c) for c in colours[k])))
    for face in faces:
        out.write(struct.pack(f"{order}B{len(face)}i", len(face), *(int(i) for i in face)))
    return out.getvalue()


def threemf_bytes(
    vertices, faces, *, unit: str | None = None, transform: str | None = None, doublings: int = 0
) -> bytes:
    """3MF package written as plain XML (part names: 3MF Core Specification 1.4, 2.2).

    Each of the ``doublings`` is an object made of two copies of the one before.
    """
    unit_attribute = f' unit="{unit}"' if unit is not None else ""
    item = f' transform="{transform}"' if transform is not None else ""
    points = "".join(f'<vertex x="{x!r}" y="{y!r}" z="{z!r}"/>' for x, y, z in vertices.tolist())
    cells = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in faces.tolist())
    pairs = "".join(
        f'<object id="{k + 2}" type="model"><components><component objectid="{k + 1}"/>'
        f'<component objectid="{k + 1}" transform="1 0 0 0 1 0 0 0 1 1 0 0"/>'
        "</components></object>"
        for k in range(doublings)
    )
    model = (
        f'<?xml version="1.0" encoding="UTF-8"?><model{unit_attribute} xml:lang="en-US" '
        'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><resources>'
        f'<object id="1" type="model"><mesh><vertices>{points}</vertices>'
        f"<triangles>{cells}</triangles></mesh></object>{pairs}</resources>"
        f'<build><item objectid="{doublings + 1}"{item}/></build></model>'
    )
    types = (
        '<?xml version="1.0" encoding="UTF-8"?>'
        '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
        '<Default Extension="rels" '
        'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        '<Default Extension="model" '
        'ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
    )
    relations = (
        '<?xml version="1.0" encoding="UTF-8"?>'
        '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
        '<Relationship Target="/3D/3dmodel.model" Id="rel0" '
        'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("[Content_Types].xml", types)
        packed.writestr("_rels/.rels", relations)
        packed.writestr("3D/3dmodel.model", model)
    return out.getvalue()


def gltf_tree(vertices, row, *, mode: int = 4) -> tuple[dict, bytes]:
    """Scene of one primitive and its buffer: float positions, uint16 indices."""
    positions = np.asarray(vertices, dtype="<f4").tobytes()
    indices = np.asarray(row, dtype="<u2").tobytes()
    tree = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1, "mode": mode}]}],
        "buffers": [{"byteLength": len(positions) + len(indices)}],
        "bufferViews": [
            {"buffer": 0, "byteOffset": 0, "byteLength": len(positions)},
            {"buffer": 0, "byteOffset": len(positions), "byteLength": len(indices)},
        ],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": len(vertices), "type": "VEC3"},
            {"bufferView": 1, "componentType": 5123, "count": len(row), "type": "SCALAR"},
        ],
    }
    return tree, positions + indices


def glb_bytes(tree: dict, binary: bytes) -> bytes:
    """GLB container (glTF 2.0, GLB file format: 12-byte header, then JSON and BIN chunks)."""
    text = json.dumps(tree).encode()
    text += b" " * (-len(text) % 4)
    binary += b"\0" * (-len(binary) % 4)
    chunks = struct.pack("<I4s", len(text), b"JSON") + text
    chunks += struct.pack("<I4s", len(binary), b"BIN\0") + binary
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


def write(path: Path, content: bytes | str) -> Path:
    """Write a file and return its path."""
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path
