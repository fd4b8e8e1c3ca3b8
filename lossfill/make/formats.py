"""The files of one solid: STL, 3MF, PLY, GLB and OBJ, each read back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import manifold3d
import numpy as np

from lossfill import tolerances as tol
from lossfill.errors import ExportError, InputError
from lossfill.make.made import MadeSolid
from lossfill.mesh import Mesh, signed_volume_mm3
from lossfill.pack.gate import check_piece, require_passed
from lossfill.pack.stl import stl_bytes, without_collapsed
from lossfill.pack.threemf import write_3mf
from lossfill.solids import mesh_from_solid

USUAL_FORMATS = ("stl", "3mf")


def formats_of(words: str) -> tuple[str, ...]:
    """Endings of files from words such as "stl,3mf".

    Raises
    ------
    InputError
        For an ending that is not written.
    """
    asked = [word.strip().lower().lstrip(".") for word in words.split(",")]
    unknown = [word for word in asked if word not in WRITERS]
    if unknown:
        raise InputError(f"{unknown[0]!r} is no format for solids: give {', '.join(WRITERS)}")
    return tuple(name for name in WRITERS if name in asked)


def write_solid(made: MadeSolid, folder: Path, formats: tuple[str, ...]) -> list[str]:
    """Write a solid in some formats and read each file back.

    Returns
    -------
    Names of the files.

    Raises
    ------
    BooleanError
        Where what was read back is not one closed solid.
    ExportError
        Where a file does not hold what was written.
    """
    mesh = without_collapsed(mesh_from_solid(made.solid))
    names = []
    for ending in formats:
        name = f"{made.name}.{ending}"
        WRITERS[ending](made, mesh, folder / name)
        names.append(name)
    return names


def _write_stl(made: MadeSolid, mesh: Mesh, path: Path) -> None:
    path.write_bytes(stl_bytes(mesh, f"lossfill {made.name}, millimetres"))
    require_passed(check_piece(path, manifold3d.Manifold()), path.name)


def _write_3mf(made: MadeSolid, mesh: Mesh, path: Path) -> None:
    write_3mf(mesh, path, name=made.title, material=made.material)
    require_passed(check_piece(path, manifold3d.Manifold()), path.name)


def _write_ply(_: MadeSolid, mesh: Mesh, path: Path) -> None:
    path.write_bytes(_trimesh(mesh).export(file_type="ply", vertex_normal=False))
    _require_same(mesh, path, scale=1.0)


def _write_obj(made: MadeSolid, mesh: Mesh, path: Path) -> None:
    text = _trimesh(mesh).export(
        file_type="obj", header=f"{made.title}, millimetres", include_normals=False, digits=9
    )
    path.write_text(text, encoding="utf-8")
    _require_same(mesh, path, scale=1.0)


def _write_glb(_: MadeSolid, mesh: Mesh, path: Path) -> None:
    """In metres and with y up, as glTF 2.0 section 3.4 wants it."""
    turn = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])
    metres = Mesh(0.001 * mesh.vertices @ turn.T, mesh.faces)
    raw = _trimesh(metres).export(file_type="glb", tree_postprocessor=_plain_material)
    path.write_bytes(raw)
    _require_same(mesh, path, scale=0.001)


WRITERS: dict[str, Callable[[MadeSolid, Mesh, Path], None]] = {
    "stl": _write_stl,
    "3mf": _write_3mf,
    "ply": _write_ply,
    "glb": _write_glb,
    "obj": _write_obj,
}


def _trimesh(mesh: Mesh) -> Any:
    import trimesh

    return trimesh.Trimesh(np.array(mesh.vertices), np.array(mesh.faces), process=False)


def _plain_material(tree: dict[str, Any]) -> None:
    """A surface without a material is shown as bare metal, which looks black."""
    grey = {"baseColorFactor": [0.8, 0.8, 0.8, 1.0], "metallicFactor": 0.0, "roughnessFactor": 0.9}
    tree["materials"] = [{"pbrMetallicRoughness": grey}]
    for mesh in tree["meshes"]:
        for primitive in mesh["primitives"]:
            primitive["material"] = 0


def _require_same(mesh: Mesh, path: Path, *, scale: float) -> None:
    import trimesh

    read = trimesh.load_mesh(path, process=False)
    read.merge_vertices()
    wanted = signed_volume_mm3(mesh) * scale**3
    if not read.is_watertight or abs(read.volume / wanted - 1.0) > tol.READ_BACK_SHARE:
        raise ExportError(f"{path.name} did not read back as written: check the disk and run again")
