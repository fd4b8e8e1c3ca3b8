"""glTF 2.0, as one GLB file or as JSON with buffers beside it.

The standard (Khronos glTF 2.0, section 3.4) fixes metres and a right-handed frame with +Y up and
the front towards +Z. Positions keep those axes here: only the metres become millimetres, so that a
piece made for the scan fits onto the file as it is; the way up is found from the pot itself later.
Node transforms of the scene are applied, and triangles that a mirroring node turns inside out are
turned back (same standard, on winding). Colours are linear in glTF and become sRGB.

Our own reader, because the general one silently leaves out triangle fans, takes normalised
integers and sparse accessors at face value, and loads textures that are not needed.
"""

from __future__ import annotations

import base64
import binascii
import json
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any
from urllib.parse import unquote

import numpy as np
from numpy.typing import NDArray

from lossfill.errors import InputError
from lossfill.mesh import FloatArray
from lossfill.scan.polygons import check_indices
from lossfill.scan.raw import NO_FACES, Raw, check_room
from lossfill.scan.scan import Unit
from lossfill.tolerances import MOST_TRIANGLES_READ

_JSON_CHUNK, _BINARY_CHUNK = b"JSON", b"BIN\0"
_COMPONENTS = {5120: "<i1", 5121: "<u1", 5122: "<i2", 5123: "<u2", 5125: "<u4", 5126: "<f4"}
_WIDTHS = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4, "MAT2": 4, "MAT3": 9, "MAT4": 16}
_TRIANGLES, _STRIP, _FAN = 4, 5, 6
_HARMLESS = ("KHR_materials", "KHR_texture", "EXT_texture", "KHR_mesh_quant", "KHR_lights")

Json = dict[str, Any]
Part = tuple[FloatArray, NDArray[np.int64], NDArray[np.uint8] | None]


def read_glb(data: bytes, path: Path) -> Raw:
    """Read a GLB; ``path`` tells where files that it names are."""
    tree, binary = _chunks(data)
    return _read_scene(tree, _buffers(tree, path, binary), "GLB")


def read_json(data: bytes, path: Path) -> Raw:
    """Read a glTF in JSON form; ``path`` tells where files that it names are."""
    tree = _parsed(data)
    return _read_scene(tree, _buffers(tree, path, None), "glTF")


def _chunks(data: bytes) -> tuple[Json, bytes | None]:
    version, length = (int.from_bytes(data[k : k + 4], "little") for k in (4, 8))
    if version != 2:
        raise InputError(f"it is GLB version {version}; only version 2 is read: export it again")
    if length > len(data) or len(data) < 20:
        raise InputError(
            f"its header promises {length} bytes but it has {len(data)}: "
            "the file is cut short; export or copy it again"
        )
    chunks: dict[bytes, bytes] = {}
    place = 12
    while place + 8 <= length:
        size = int.from_bytes(data[place : place + 4], "little")
        if place + 8 + size > length:
            raise InputError("a part of it is longer than the file: export or copy it again")
        chunks.setdefault(data[place + 4 : place + 8], data[place + 8 : place + 8 + size])
        place += 8 + size
    if _JSON_CHUNK not in chunks:
        raise InputError("it has no description of its scene (JSON chunk): export it again")
    return _parsed(chunks[_JSON_CHUNK]), chunks.get(_BINARY_CHUNK)


def _parsed(text: bytes) -> Json:
    try:
        tree = json.loads(text.decode("utf-8-sig"))
    except (UnicodeDecodeError, json.JSONDecodeError) as error:
        raise InputError("its scene description is damaged: export or copy it again") from error
    if not isinstance(tree, dict):
        raise InputError("its scene description is damaged: export or copy it again")
    version = str(tree.get("asset", {}).get("version", ""))
    if not version.startswith("2."):
        raise InputError(f"it is glTF version {version or '?'}; only 2.x is read: export it again")
    for extension in tree.get("extensionsRequired", []):
        if not str(extension).startswith(_HARMLESS):
            raise InputError(
                f"it needs the extension {extension}, which is not read: export it again "
                "without compression and extensions"
            )
    return tree


def _buffers(tree: Json, path: Path, binary: bytes | None) -> list[bytes]:
    buffers = []
    for number, buffer in enumerate(tree.get("buffers", [])):
        uri = buffer.get("uri")
        if uri is None:
            if number or binary is None:
                raise InputError("its geometry is missing (no binary part): export it again")
            content = binary
        elif uri.startswith("data:"):
            try:
                content = base64.b64decode(uri.partition(",")[2], validate=True)
            except binascii.Error as error:
                raise InputError("its geometry is damaged: export or copy it again") from error
        else:
            content = _file_beside(path, unquote(uri))
        if len(content) < int(buffer["byteLength"]):
            raise InputError(
                f"its geometry should take {buffer['byteLength']} bytes but has {len(content)}: "
                "the file is cut short; export or copy it again"
            )
        buffers.append(content)
    return buffers


def _file_beside(path: Path, name: str) -> bytes:
    folder = path.resolve().parent
    # Before it is looked for: Windows takes some names for other computers, and asks those.
    away = "://" in name or PureWindowsPath(name).anchor or PurePosixPath(name).anchor
    target = folder if away else (folder / name).resolve()
    if away or not target.is_relative_to(folder):
        raise InputError(f"it names a file outside its own folder ({name}): export it as GLB")
    try:
        return target.read_bytes()
    except OSError as error:
        raise InputError(
            f"it needs the file {name} beside it, which cannot be opened: copy both, or export "
            "it as GLB"
        ) from error


def _read_scene(tree: Json, buffers: list[bytes], name: str) -> Raw:
    parts: list[Part] = []
    n_triangles = 0
    read_meshes: dict[int, list[Part]] = {}
    for number, matrix in _placed_meshes(tree):
        if number not in read_meshes:
            primitives = tree["meshes"][number]["primitives"]
            found = (_primitive(tree, buffers, primitive) for primitive in primitives)
            read_meshes[number] = [part for part in found if part is not None]
        for vertices, faces, colours in read_meshes[number]:
            n_triangles += len(faces)
            if n_triangles > MOST_TRIANGLES_READ:
                raise InputError(f"its scene has more than {MOST_TRIANGLES_READ} triangles")
            moved = vertices @ matrix[:3, :3].T + matrix[:3, 3]
            mirrored = np.linalg.det(matrix[:3, :3]) < 0
            parts.append((moved, faces[:, ::-1] if mirrored else faces, colours))
    if n_triangles == 0:
        raise InputError(NO_FACES if tree.get("meshes") else "it holds no mesh: export it again")
    shifts = np.cumsum([0, *(len(vertices) for vertices, _, _ in parts)])
    return Raw(
        np.concatenate([vertices for vertices, _, _ in parts]),
        np.concatenate([part[1] + shift for part, shift in zip(parts, shifts, strict=False)]),
        name,
        _joined_colours(parts),
        Unit.METRE,
    )


def _joined_colours(parts: list[Part]) -> NDArray[np.uint8] | None:
    if all(colours is None for _, _, colours in parts):
        return None
    return np.concatenate(
        [
            np.full((len(vertices), 3), 255, dtype=np.uint8) if colours is None else colours
            for vertices, _, colours in parts
        ]
    )


def _placed_meshes(tree: Json) -> list[tuple[int, FloatArray]]:
    """Number and (4, 4) scene transform of each mesh that the scene shows."""
    nodes = tree.get("nodes", [])
    scenes = tree.get("scenes", [])
    if scenes:
        roots = scenes[tree.get("scene", 0)].get("nodes", [])
    else:
        children = {child for node in nodes for child in node.get("children", [])}
        roots = [number for number in range(len(nodes)) if number not in children]
    placed: list[tuple[int, FloatArray]] = []
    waiting = [(number, np.eye(4)) for number in reversed(roots)]
    seen: set[int] = set()
    while waiting:
        number, above = waiting.pop()
        if number in seen or not 0 <= number < len(nodes):
            raise InputError("its scene names a part twice or not at all: export it again")
        seen.add(number)
        node = nodes[number]
        matrix = above @ _local_matrix(node)
        if "mesh" in node:
            placed.append((int(node["mesh"]), matrix))
        waiting.extend((child, matrix) for child in reversed(node.get("children", [])))
    return placed


def _local_matrix(node: Json) -> FloatArray:
    if "matrix" in node:
        return np.array(node["matrix"], dtype=np.float64).reshape(4, 4).T  # stored by columns
    matrix = np.eye(4)
    x, y, z, w = (float(value) for value in node.get("rotation", (0, 0, 0, 1)))
    matrix[:3, :3] = [
        [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
        [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
        [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
    ]
    matrix[:3, :3] *= np.array(node.get("scale", (1, 1, 1)), dtype=np.float64)
    matrix[:3, 3] = node.get("translation", (0, 0, 0))
    return matrix


def _primitive(tree: Json, buffers: list[bytes], primitive: Json) -> Part | None:
    mode = primitive.get("mode", _TRIANGLES)
    if mode not in (_TRIANGLES, _STRIP, _FAN):
        return None  # points and lines
    attributes = primitive["attributes"]
    if "POSITION" not in attributes:
        return None
    vertices = _accessor(tree, buffers, attributes["POSITION"]).astype(np.float64)
    if vertices.shape[1] != 3:
        raise InputError("its points do not have three coordinates: export it again")
    if "indices" in primitive:
        row = _accessor(tree, buffers, primitive["indices"]).reshape(-1).astype(np.int64)
    else:
        row = np.arange(len(vertices), dtype=np.int64)
    check_indices(row, len(vertices))
    colours = None
    if "COLOR_0" in attributes:
        linear = _accessor(tree, buffers, attributes["COLOR_0"])[:, :3]
        if linear.shape == vertices.shape:
            colours = _srgb_bytes(linear)
    return vertices, _triangles(row, mode), colours


def _triangles(row: NDArray[np.int64], mode: int) -> NDArray[np.int64]:
    if mode == _TRIANGLES:
        return row[: len(row) // 3 * 3].reshape(-1, 3)
    n_triangles = max(len(row) - 2, 0)
    if mode == _FAN:
        hub = np.broadcast_to(row[:1], n_triangles)
        return np.stack([row[1:][:n_triangles], row[2:], hub], axis=1)
    strip = np.stack([row[:n_triangles], row[1:][:n_triangles], row[2:]], axis=1)
    strip[1::2, 1:] = strip[1::2, :0:-1]
    return strip


def _accessor(tree: Json, buffers: list[bytes], number: int) -> NDArray[Any]:
    """Values of an accessor, (count, width); normalised integers as reals."""
    accessor = tree["accessors"][number]
    kind = np.dtype(_COMPONENTS[accessor["componentType"]])
    width = _WIDTHS[accessor["type"]]
    count = int(accessor["count"])
    if "bufferView" not in accessor:
        raise InputError(
            "its geometry is compressed or left out, which is not read: export it again without "
            "compression"
        )
    values = _view(tree, buffers, accessor, kind, count, width)
    if "sparse" in accessor:
        sparse = accessor["sparse"]
        n_changed = int(sparse["count"])
        where_kind = np.dtype(_COMPONENTS[sparse["indices"]["componentType"]])
        where = _view(tree, buffers, sparse["indices"], where_kind, n_changed, 1)
        check_indices(where.reshape(-1), count)
        values = values.copy()
        values[where.reshape(-1)] = _view(
            tree, buffers, sparse["values"], kind, n_changed, width
        )  # fmt: skip
    if accessor.get("normalized") and kind.kind in "ui":
        return np.maximum(values.astype(np.float64) / np.iinfo(kind).max, -1.0)
    return values


def _view(
    tree: Json, buffers: list[bytes], where: Json, kind: np.dtype[Any], count: int, width: int
) -> NDArray[Any]:
    view = tree["bufferViews"][where["bufferView"]]
    row_bytes = kind.itemsize * width
    stride = int(view.get("byteStride", row_bytes))
    start, offset = int(view.get("byteOffset", 0)), int(where.get("byteOffset", 0))
    buffer = buffers[view["buffer"]]
    end = start + int(view["byteLength"])
    if start < 0 or offset < 0 or end > len(buffer) or stride < row_bytes:
        raise InputError("its geometry lies outside the file: export or copy it again")
    # The last row needs no padding up to the stride.
    check_room("values", count, stride, end - start - offset + stride - row_bytes)
    return np.ndarray((count, width), kind, buffer, start + offset, (stride, kind.itemsize))


def _srgb_bytes(linear: NDArray[Any]) -> NDArray[np.uint8]:
    """Bytes for a screen from linear light 0–1 (IEC 61966-2-1)."""
    light = np.clip(np.nan_to_num(linear.astype(np.float64)), 0.0, 1.0)
    shown = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.rint(255.0 * shown).astype(np.uint8)
