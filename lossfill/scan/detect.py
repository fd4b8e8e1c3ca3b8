"""Tell a format by what the file holds; its name only decides where the content leaves doubt."""

from __future__ import annotations

import re
from enum import Enum

from lossfill.errors import InputError
from lossfill.scan import off, stl, threemf


class Format(Enum):
    """A format that can be read; the value is its name in messages."""

    STL_BINARY = "binary STL"
    STL_TEXT = "STL in text form"
    PLY = "PLY"
    OBJ = "OBJ"
    OFF = "OFF"
    GLB = "GLB"
    GLTF = "glTF"
    THREEMF = "3MF"
    XYZ = "points in text form"


SUFFIXES: dict[str, tuple[Format, ...]] = {
    ".stl": (Format.STL_BINARY, Format.STL_TEXT),
    ".ply": (Format.PLY,),
    ".obj": (Format.OBJ,),
    ".off": (Format.OFF,),
    ".coff": (Format.OFF,),
    ".glb": (Format.GLB,),
    ".gltf": (Format.GLTF,),
    ".3mf": (Format.THREEMF,),
    ".xyz": (Format.XYZ,),
    ".pts": (Format.XYZ,),
}

_READABLE = "STL, PLY, OBJ, OFF, GLB, glTF or 3MF, or its points as PLY or XYZ"
_PACKED = {
    b"\x1f\x8b": "gzip",
    b"BZh": "bzip2",
    b"\xfd7zXZ": "xz",
    b"7z\xbc\xaf": "7z",
    b"Rar!": "RAR",
    b"\x28\xb5\x2f\xfd": "zstandard",
}
_SAMPLE_BYTES = 1 << 16
_STL_START = re.compile(rb"\s*solid\b.*?\bfacet\b", re.IGNORECASE | re.DOTALL)
_OBJ_POINT = re.compile(rb"^[ \t]*v[ \t]+[-+.\d]", re.MULTILINE)
_OBJ_STOP = re.compile(rb"^[ \t]*(?:f|vt|vn|g|o|s|usemtl|mtllib)[ \t]", re.MULTILINE)
_POINT_LINE = re.compile(rb"\s*(?:\d+\s*\n)?\s*(?:[-+]?[\d.][-+.\deE]*[\s,]+){3}")
_JSON_START = re.compile(rb"(?:\xef\xbb\xbf)?\s*\{")


def detect(data: bytes, suffix: str) -> tuple[Format, tuple[str, ...]]:
    """Return the format of a file, and a warning where its name says another.

    Parameters
    ----------
    data : the whole file
    suffix : end of its name in lower case, such as ".stl"

    Raises
    ------
    InputError
        Where the content is none of the formats that are read; the message says what it looks like.
    """
    found = _by_content(data, suffix)
    expected = SUFFIXES.get(suffix)
    if found is None:
        raise InputError(_not_a_mesh(data, suffix))
    if expected is not None and found in expected:
        return found, ()
    named = f"is named {suffix}" if suffix else "has no ending in its name"
    return found, (f"the file {named} but holds {found.value}, and was read as that",)


def _by_content(data: bytes, suffix: str) -> Format | None:
    start = data[:_SAMPLE_BYTES]
    for magic, name in _PACKED.items():
        if start.startswith(magic):
            raise InputError(f"it is packed with {name}: unpack it first and pass the file inside")
    if start.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        return _zip(data, suffix)
    if start.startswith((b"ply\n", b"ply\r", b"ply \n")):
        return Format.PLY
    if start.startswith(b"glTF"):
        return Format.GLB
    if stl.has_binary_size(data):
        return Format.STL_BINARY
    if not looks_like_text(start):
        # Damaged headers and counts are reported by the reader that the name asks for.
        return Format.STL_BINARY if suffix == ".stl" else None
    if _STL_START.match(start):
        return Format.STL_TEXT
    if off.HEADER.match(start.removeprefix(b"\xef\xbb\xbf")):
        return Format.OFF
    if _JSON_START.match(start) and (suffix == ".gltf" or b'"asset"' in data):
        return Format.GLTF
    if suffix == ".obj" or (_OBJ_POINT.search(start) and _OBJ_STOP.search(data)):
        return Format.OBJ
    # Any table of numbers could be points: only the name says that it is.
    return Format.XYZ if Format.XYZ in SUFFIXES.get(suffix, ()) else None


def _zip(data: bytes, suffix: str) -> Format:
    holds_model = threemf.holds_model(data)
    if holds_model or (holds_model is None and suffix == ".3mf"):
        return Format.THREEMF
    if suffix == ".3mf":
        raise InputError("it is a zip archive without a 3MF model inside: export the scan again")
    raise InputError("it is a zip archive: unpack it first and pass the mesh file inside")


def looks_like_text(start: bytes) -> bool:
    """Whether the first bytes of a file could be text of any kind."""
    return b"\0" not in start and sum(byte < 9 for byte in start[:512]) == 0


def _not_a_mesh(data: bytes, suffix: str) -> str:
    expected = SUFFIXES.get(suffix)
    if expected is not None:
        name = expected[0].value.removeprefix("binary ")
        kind = "a text file" if looks_like_text(data[:_SAMPLE_BYTES]) else "something else"
        if data[:_SAMPLE_BYTES].lstrip()[:5].lower() == b"solid" and suffix == ".stl":
            return "it starts as an STL in text form but has no triangle: export the scan again"
        return (
            f"it is named {suffix} but holds {kind}, not {name}: "
            "renaming does not convert a file; export the scan again"
        )
    if _POINT_LINE.match(data[:_SAMPLE_BYTES]):
        return "it holds lines of numbers: if they are points (x y z on each), name the file .xyz"
    ending = f"the ending {suffix}" if suffix else "a name without an ending"
    return f"{ending} and the content are of no known mesh: export the scan as {_READABLE}"
