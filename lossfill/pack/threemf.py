"""3MF through its reference library: millimetres, a name for the object, the same bytes each time.

The library draws random UUIDs where none are set; here they are derived from the content. It stamps
every zip entry with the zip format's first date, so nothing else in the file changes between runs.
"""

from __future__ import annotations

import ctypes
import hashlib
import uuid
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from lossfill.errors import ExportError
from lossfill.mesh import Mesh
from lossfill.scan.threemf import library

# Fixed for ever: every UUID in our files is derived from it and from the piece's own content.
NAMESPACE = uuid.UUID("6a1b9b7e-2f0c-5d61-9a55-6d3b1f0c7e42")

DECIMALS = 9
"""Decimals in the file; the library scales by 10^9 in 32 bits, which costs one more rounding."""


@dataclass(frozen=True, slots=True, eq=False)
class ReadObject:
    """What a 3MF file was found to hold.

    Parameters
    ----------
    name : of its one object
    mesh : its triangles, in millimetres
    is_manifold : what the reference library says of it
    warnings : what the library's strict reader remarked
    """

    name: str
    mesh: Mesh
    is_manifold: bool
    warnings: tuple[str, ...]


def write_3mf(mesh: Mesh, path: Path, *, name: str, material: str = "") -> None:
    """Write one named object in millimetres, in strict mode.

    Parameters
    ----------
    mesh : closed, outward triangles, mm, no two vertices in one place
    path : the new file
    name : shown by the program that opens it, such as "tea bowl, loss 1, rim"
    material : a note on what it is to be made of, kept as the file's description; no colour is set

    Raises
    ------
    ExportError
        Where the library refuses the mesh or the disk refuses the file.
    """
    import lib3mf

    vertices = np.ascontiguousarray(mesh.vertices, dtype=np.float32)
    faces = np.ascontiguousarray(mesh.faces, dtype=np.uint32)
    content = f"{name}\n{material}".encode() + vertices.tobytes() + faces.tobytes()
    try:
        wrapper = library()
        model = wrapper.CreateModel()
        model.SetUnit(lib3mf.ModelUnit.MilliMeter)
        if material:
            # Well-known names of the 3MF Core Specification 1.4, 3.4.1, table of metadata.
            group = model.GetMetaDataGroup()
            group.AddMetaData("", "Title", name, "xs:string", True)
            group.AddMetaData("", "Description", material, "xs:string", True)
        shape = model.AddMeshObject()
        shape.SetGeometry(
            (lib3mf.Position * len(vertices)).from_buffer_copy(vertices),
            (lib3mf.Triangle * len(faces)).from_buffer_copy(faces),
        )
        shape.SetName(name)
        shape.SetUUID(_uuid("object", content))
        item = model.AddBuildItem(shape, wrapper.GetIdentityTransform())
        item.SetUUID(_uuid("item", content))
        model.SetBuildUUID(_uuid("build", content))
        writer = model.QueryWriter("3mf")
        writer.SetStrictModeActive(True)
        writer.SetDecimalPrecision(DECIMALS)
        writer.WriteToFile(str(path))
    except lib3mf.ELib3MFException as error:
        raise ExportError(
            f"{path.name} cannot be written ({_plain(error)}): check the disk and run again"
        ) from error


def read_3mf(path: Path) -> ReadObject:
    """Read back a file of one object, in strict mode.

    Raises
    ------
    ExportError
        Where the library cannot read it, its unit is not the millimetre, or it does not hold
        exactly one object.
    """
    import lib3mf

    try:
        model = library().CreateModel()
        reader = model.QueryReader("3mf")
        reader.SetStrictModeActive(True)
        reader.ReadFromFile(str(path))
        warnings = tuple(str(reader.GetWarning(i)) for i in range(reader.GetWarningCount()))
        unit = model.GetUnit()
        shapes = model.GetMeshObjects()
        if unit != lib3mf.ModelUnit.MilliMeter or shapes.Count() != 1:
            raise ExportError(
                f"{path.name} holds {shapes.Count()} objects in unit {unit}, not one in "
                "millimetres: run again"
            )
        shapes.MoveNext()
        shape = shapes.GetCurrentMeshObject()
        vertices = _numbers(lib3mf.Position, shape.GetVertices()).view(np.float32)
        faces = _numbers(lib3mf.Triangle, shape.GetTriangleIndices()).view(np.uint32)
        return ReadObject(
            name=str(shape.GetName()),
            mesh=Mesh(
                vertices.reshape(-1, 3).astype(np.float64),
                faces.reshape(-1, 3).astype(np.int64),
            ),
            is_manifold=bool(shape.IsManifoldAndOriented()),
            warnings=warnings,
        )
    except lib3mf.ELib3MFException as error:
        raise ExportError(
            f"{path.name} did not read back ({_plain(error)}): check the disk and run again"
        ) from error


def _numbers(kind: type[ctypes.Structure], rows: list[ctypes.Structure]) -> NDArray[np.uint8]:
    """Bytes of a list of the library's small structures, without a Python loop over fields."""
    return np.frombuffer(bytes((kind * len(rows))(*rows)), dtype=np.uint8)


def _uuid(role: str, content: bytes) -> str:
    return str(uuid.uuid5(NAMESPACE, f"{role}:{hashlib.sha256(content).hexdigest()}"))


def _plain(error: Exception) -> str:
    return " ".join(str(error).split())
