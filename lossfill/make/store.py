"""The solids of a design, kept beside its record, so that more can be made of it later.

`design.npz` is an archive of plain arrays (numpy's own open format, nothing in it runs): the body,
and for each loss the missing material with the sides of its triangles and the pieces as fitted, all
in scan coordinates. What else is needed of them stands in `fill.json`.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

from lossfill.errors import ExportError, InputError
from lossfill.frame.profile import Profile
from lossfill.loss.loss import LossKind
from lossfill.loss.sides import Side, sides_of
from lossfill.make.brief import Brief, BriefPiece, Lost
from lossfill.mesh import FloatArray, Mesh, face_vectors, transformed, unit
from lossfill.pack.folder import RECORD_NAME
from lossfill.pack.record import FillRecord, LossPart, read_record
from lossfill.solids import mesh_from_solid, solid_from_mesh

if TYPE_CHECKING:
    from lossfill.road import Design

STORE_NAME = "design.npz"

Arrays = Mapping[str, NDArray[np.generic]]


def store_bytes(arrays: Arrays) -> bytes:
    """The arrays of a design as a file, the same bytes for the same design."""
    held = io.BytesIO()
    np.savez(held, allow_pickle=False, **arrays)
    return held.getvalue()


def read_briefs(folder: Path) -> tuple[Brief, ...]:
    """The same of a folder that `lossfill fill` wrote; see `read_design`."""
    return read_design(folder)[1]


def read_design(folder: Path) -> tuple[FillRecord, tuple[Brief, ...]]:
    """The record of a folder that `lossfill fill` wrote, and what making needs of its losses.

    Raises
    ------
    InputError
        Where the folder holds no design.
    ExportError
        Where its record cannot be read.
    """
    return _read(folder, lambda arrays, record: (record, briefs_of(arrays, record)))


@dataclass(frozen=True, slots=True, eq=False)
class Upright:
    """The meshes of a design, upright: vessel coordinates, mm.

    Parameters
    ----------
    body : closed
    lost : the missing material of each loss by its number, with a piece or without
    outward : (3,) unit, the mean way in which the missing outer skin of each faced; nought where
        it faced all round, or there is none
    """

    body: Mesh
    lost: dict[int, Mesh]
    outward: dict[int, FloatArray]


def read_upright(folder: Path) -> tuple[FillRecord, Upright]:
    """The record of a folder that `lossfill fill` wrote, and the meshes to be seen.

    Raises
    ------
    InputError
        Where the folder holds no design.
    ExportError
        Where its record cannot be read.
    """
    return _read(folder, lambda arrays, record: (record, _upright(arrays, record)))


def _upright(arrays: Arrays, record: FillRecord) -> Upright:
    matrix = np.array(record.frame.vessel_from_scan)
    lost = {part.number: _mesh(arrays, f"loss_{part.number}", matrix) for part in record.losses}
    outward = {
        number: _outward(mesh, np.asarray(arrays[f"loss_{number}_side"]))
        for number, mesh in lost.items()
    }
    return Upright(_mesh(arrays, "body", matrix), lost, outward)


def _outward(mesh: Mesh, side: NDArray[np.generic]) -> FloatArray:
    vectors = face_vectors(mesh)[side == int(Side.OUTER)]
    total: FloatArray = vectors.sum(axis=0)
    area = float(np.linalg.norm(vectors, axis=1).sum())
    # Round a handle they cancel out, and what is left is chance.
    return unit(total) if float(np.linalg.norm(total)) > 0.3 * area else np.zeros(3)


_Read = TypeVar("_Read")


def _read(folder: Path, use: Callable[[Arrays, FillRecord], _Read]) -> _Read:
    record_path, store_path = folder / RECORD_NAME, folder / STORE_NAME
    try:
        record = read_record(record_path.read_bytes())
        # Opened here, for numpy leaves a file that is no archive open.
        with store_path.open("rb") as file, np.load(file, allow_pickle=False) as held:
            return use({name: held[name] for name in held.files}, record)
    except OSError as error:
        raise InputError(
            f"{folder} holds no design ({Path(error.filename or folder).name}: "
            f"{error.strerror}): give the folder that lossfill fill wrote"
        ) from error
    except (BadZipFile, ValueError, KeyError, EOFError) as error:
        raise ExportError(
            f"{store_path} cannot be read ({' '.join(str(error).split())}): fill the scan again"
        ) from error


def arrays_of(design: Design) -> Arrays:
    """All that is kept of a design."""
    vessel_from_scan = design.frame.vessel_from_scan
    arrays: dict[str, NDArray[np.generic]] = {}
    _keep(arrays, "body", design.body.mesh)
    profile = getattr(design.frame, "profile", None)
    if profile is not None:
        arrays["profile_points"] = profile.points
        arrays["profile_normals"] = profile.normals
        arrays["profile_lip"] = np.array(profile.lip)
    for loss in design.losses:
        _keep(arrays, f"loss_{loss.number}", mesh_from_solid(loss.solid))
        arrays[f"loss_{loss.number}_side"] = sides_of(loss, vessel_from_scan, design.form)
    for one in design.fitted:
        for piece in one.pieces:
            _keep(arrays, f"piece_{piece.name}", piece.mesh)
    return arrays


def _keep(arrays: dict[str, NDArray[np.generic]], name: str, mesh: Mesh) -> None:
    arrays[f"{name}_vertices"] = mesh.vertices
    arrays[f"{name}_faces"] = mesh.faces


def _mesh(arrays: Arrays, name: str, matrix: FloatArray) -> Mesh:
    vertices = np.asarray(arrays[f"{name}_vertices"], dtype=np.float64)
    return transformed(Mesh(vertices, np.asarray(arrays[f"{name}_faces"])), matrix)


def briefs_of(arrays: Arrays, record: FillRecord) -> tuple[Brief, ...]:
    """What making needs of each loss of a design that has a piece."""
    matrix = np.array(record.frame.vessel_from_scan)
    body = solid_from_mesh(_mesh(arrays, "body", matrix))
    lost = {part.number: _lost(arrays, part.number, matrix) for part in record.losses}
    profile = None
    if "profile_points" in arrays:
        profile = Profile(
            np.asarray(arrays["profile_points"], dtype=np.float64),
            np.asarray(arrays["profile_normals"], dtype=np.float64),
            int(arrays["profile_lip"].item()),
        )
    return tuple(
        Brief(
            vessel=vessel_name(record.input.file),
            number=part.number,
            kind=LossKind(part.kind),
            place=f"at {part.clock}, {part.height_mm:.0f} mm up",
            lost=lost[part.number],
            pieces=_pieces(arrays, part, matrix),
            body=body,
            others=tuple(other.solid for n, other in lost.items() if n != part.number),
            wall_mm=record.frame.wall_mm,
            profile=profile,
            vessel_from_scan=matrix,
            clearance_mm=record.settings.clearance_mm,
        )
        for part in record.losses
        if part.pieces
    )


def vessel_name(file: str) -> str:
    """The scan's name as words: "tea_bowl.ply" is "tea bowl"."""
    return " ".join(Path(file).stem.replace("_", " ").split()) or "vessel"


def _lost(arrays: Arrays, number: int, matrix: FloatArray) -> Lost:
    mesh = _mesh(arrays, f"loss_{number}", matrix)
    side = np.asarray(arrays[f"loss_{number}_side"], dtype=np.int8)
    return Lost(mesh, side, solid_from_mesh(mesh))


def _pieces(arrays: Arrays, part: LossPart, matrix: FloatArray) -> tuple[BriefPiece, ...]:
    return tuple(
        BriefPiece(
            piece.name,
            solid_from_mesh(_mesh(arrays, f"piece_{piece.name}", matrix)),
            matrix[:3, :3] @ np.array(piece.entry.direction),
        )
        for piece in part.pieces
    )
