"""Damaged and hostile files: each ends as one sentence, and nothing outside its folder is touched.

What they do to the reader alone is tested in tests/scan; here they go the page's whole way.
"""

from __future__ import annotations

import io
import json
import pickle
import struct
import sys
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from page.test_worker import answers, job_of, order

from lossfill.page.receive import KINDS

SEED = 8


def noise(size: int = 20_000) -> bytes:
    return np.random.default_rng(SEED).bytes(size)


def huge_ply() -> bytes:
    lines = ["ply", "format binary_little_endian 1.0", "element vertex 1000000000"]
    lines += [f"property float {axis}" for axis in "xyz"]
    lines += ["element face 1000000000", "property list uchar int vertex_indices", "end_header"]
    return ("\n".join(lines) + "\n").encode() + noise(999)


def stl_of_nans() -> bytes:
    facet = struct.pack("<12fH", *[float("nan")] * 12, 0)
    return b"\0" * 80 + struct.pack("<I", 1000) + facet * 1000


def bomb() -> bytes:
    """A 3MF that unpacks to a thousand times its size."""
    out = io.BytesIO()
    with (
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as packed,
        packed.open("3D/3dmodel.model", "w") as part,
    ):
        part.write(b'<model unit="millimeter"><!--')
        for _ in range(8):
            part.write(b" " * (1 << 24))
    return out.getvalue()


def gltf(uri: str) -> bytes:
    """A glTF of one triangle whose buffer lies elsewhere."""
    size = 36 + 12
    return json.dumps(
        {
            "asset": {"version": "2.0"},
            "buffers": [{"uri": uri, "byteLength": size}],
            "bufferViews": [
                {"buffer": 0, "byteOffset": 0, "byteLength": 36},
                {"buffer": 0, "byteOffset": 36, "byteLength": 12},
            ],
            "accessors": [
                {"bufferView": 0, "componentType": 5126, "count": 3, "type": "VEC3"},
                {"bufferView": 1, "componentType": 5125, "count": 3, "type": "SCALAR"},
            ],
            "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
            "nodes": [{"mesh": 0}],
            "scenes": [{"nodes": [0]}],
        }
    ).encode()


class Trap:
    def __reduce__(self) -> Any:
        return (exec, ("raise SystemExit('a file was run')",))


@pytest.mark.parametrize("kind", KINDS)
def test_random_bytes_are_a_sentence(kind: str, tmp_path: Path) -> None:
    *_, told = answers(job_of(noise(), tmp_path, f"bowl{kind}"), order())
    assert told["failed"].startswith(f"bowl{kind}: ")
    assert "mistake" not in told["failed"]


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("a.ply", huge_ply(), "1000000000"),
        ("a.stl", stl_of_nans(), "finite"),
        ("a.3mf", bomb(), "would unpack to"),
        ("a.gltf", gltf("http://127.0.0.1:1/a.bin"), "outside its own folder"),
        ("a.gltf", gltf("https://pots.example/a.bin"), "outside its own folder"),
        ("a.gltf", gltf("//pots.example/a.bin"), "outside its own folder"),
        ("a.gltf", gltf("\\\\pots.example\\a.bin"), "outside its own folder"),
        ("a.gltf", gltf("file:///etc/hostname"), "outside its own folder"),
        ("a.gltf", gltf("/etc/hostname"), "outside its own folder"),
        ("a.gltf", gltf("C:\\a.bin"), "outside its own folder"),
        ("a.gltf", gltf("../secret.bin"), "outside its own folder"),
        ("a.gltf", gltf("%2e%2e%2fsecret.bin"), "outside its own folder"),
        ("a.gltf", gltf("a\0.bin"), "damaged"),
        ("a.gltf", gltf("missing.bin"), "needs the file missing.bin beside it"),
        ("a.ply", pickle.dumps(Trap()), "holds something else"),
        ("a.stl", pickle.dumps(Trap()), "cut short"),
    ],
)
def test_each_is_one_sentence(name: str, content: bytes, says: str, tmp_path: Path) -> None:
    (tmp_path / "jobs").mkdir()
    (tmp_path / "jobs" / "secret.bin").write_bytes(noise())
    job = job_of(content, tmp_path / "jobs", name)
    *_, told = answers(job, order())
    assert says in told["failed"]
    assert told["failed"].startswith(f"{name}: ")
    assert "mistake" not in told["failed"]
    assert len(told["failed"]) < 400
    assert not (job.folder / "vessel.json").exists()


def test_no_file_reaches_the_network_or_another_folder(tmp_path: Path) -> None:
    """The interpreter itself tells of every file opened and every connection made."""
    touched: list[tuple[str, str]] = []
    watching = True

    def watch(event: str, arguments: tuple[Any, ...]) -> None:
        if watching and event in ("socket.connect", "socket.getaddrinfo", "open"):
            touched.append((event, str(arguments[0])))

    outside = tmp_path / "secret.bin"
    outside.write_bytes(noise())
    sys.addaudithook(watch)  # cannot be taken away again: hence `watching`
    for uri in ("http://127.0.0.1:1/a.bin", "../../secret.bin", "//127.0.0.1/a.bin", str(outside)):
        answers(job_of(gltf(uri), tmp_path / "jobs", "a.gltf"), order())
    watching = False
    assert any(place.endswith("scan.gltf") for event, place in touched if event == "open")
    assert not any(event.startswith("socket.") for event, _ in touched)
    assert not any(place == str(outside) for _, place in touched)
