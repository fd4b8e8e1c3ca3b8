"""Make the demo scans in ``meshes/`` from their seeds, bit for bit.

    python scripts/make_meshes.py [folder]

Each is an invented vessel, broken and scanned by computer, beside the true chunks in the
scan's pose, so that every fill can be compared with what is really missing.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np
from breaking import Broken, Cut, break_vessel
from scanning import add_scan_holes, add_seams, as_scanned, coloured, from_outside
from tiles import break_sheet, cut_tile, saddle_tile
from vessels import (
    MOULDED,
    bottle,
    fluted_cup,
    lobed_dish,
    mug,
    oval_jug,
    tea_bowl,
    two_handled_cup,
)

from lossfill.mesh import Mesh, transformed

__all__ = ["RECIPES", "Recipe", "make", "write_ply"]

MESHES = Path(__file__).resolve().parents[1] / "meshes"


@dataclass(frozen=True, slots=True)
class Recipe:
    """How one demo scan comes to be.

    Parameters
    ----------
    vessel : makes the whole vessel
    cuts : its losses
    angle_deg : where the first loss lies
    n_cracks : cracks mended with a raised seam of adhesive; 0 for none
    scan_holes : leave out what the scanner did not see
    seed : of every random choice
    edge_mm : edge length of the triangles
    noise_mm : scan noise, standard deviation
    tile_cut : what a tile has lost, see `tiles.cut_tile`, instead of `cuts`
    outside_only : the scanner saw no inner skin, only the breaks' faces
    twin_seed : of another vessel of the set, scanned whole; None for none
    """

    vessel: Callable[..., Mesh]
    cuts: tuple[Cut, ...]
    angle_deg: float
    n_cracks: int
    scan_holes: bool
    seed: int
    edge_mm: float = 1.3
    noise_mm: float = 0.03
    tile_cut: str | None = None
    outside_only: bool = False
    twin_seed: int | None = None

    @property
    def n_losses(self) -> int:
        """How many chunks are missing."""
        return 1 if self.tile_cut else len(self.cuts)


def _small(
    vessel: Callable[..., Mesh], cut: Cut, angle_deg: float, seed: int, edge_mm: float = 2.6
) -> Recipe:
    """A vessel with one loss, on few triangles; moulded where it can be."""
    moulded = vessel in (fluted_cup, tea_bowl)
    make_one = partial(vessel, faults=MOULDED) if moulded else vessel
    return Recipe(make_one, (cut,), angle_deg, 0, False, seed, edge_mm=edge_mm)


RECIPES = {
    "tea_bowl": Recipe(
        tea_bowl, (Cut("rim", 52.0), Cut("chip", turned_deg=135.0)), 200.0, 2, True, 11
    ),
    "mug": Recipe(mug, (Cut("hole"),), 150.0, 1, False, 12, edge_mm=1.8),
    "lobed_dish": Recipe(lobed_dish, (Cut("rim", 50.0),), 100.0, 0, False, 13, edge_mm=1.4),
    "fluted_cup": _small(fluted_cup, Cut("rim", 45.0), 100.0, 14, 2.2),
    "oval_jug": _small(oval_jug, Cut("rim", 40.0), 275.0, 15, 2.3),
    "two_handled_cup": _small(two_handled_cup, Cut("handle", 50.0), 0.0, 16),
    "set_bowl": replace(_small(tea_bowl, Cut("rim", 70.0), 60.0, 17, 2.8), twin_seed=18),
    "bottle": replace(_small(bottle, Cut("hole"), 200.0, 19), outside_only=True),
    "tile": Recipe(saddle_tile, (), 0.0, 0, False, 20, edge_mm=2.8, tile_cut="bite"),
}


def make(name: str, recipe: Recipe, folder: Path) -> list[Path]:
    """Make one scan and its chunks.

    Parameters
    ----------
    name : stem of the files' names
    recipe : see `Recipe`
    folder : where ``<name>_scan.ply`` and ``<name>_chunk_<n>.ply`` are written

    Returns
    -------
    list of Path
        The files, the scan first.
    """
    rng = np.random.default_rng(recipe.seed)
    whole = recipe.vessel(edge_mm=recipe.edge_mm, seed=recipe.seed)
    broken = _broken(whole, recipe, rng)
    body, bead = broken.body, None
    if recipe.n_cracks:
        body, bead = add_seams(body, whole, rng=rng, n_cracks=recipe.n_cracks)
    if recipe.outside_only:
        body = from_outside(body, whole, breaks=True)
    scan, pose = as_scanned(coloured(body, whole, bead), noise_mm=recipe.noise_mm, rng=rng)
    chunks = [transformed(coloured(chunk, whole), pose) for chunk in broken.chunks]
    if recipe.scan_holes:
        missing = np.concatenate([chunk.vertices for chunk in chunks])
        scan = add_scan_holes(scan, pose, rng=rng, keep_away=missing)
    paths = [write_ply(scan, folder / f"{name}_scan.ply")]
    for k, chunk in enumerate(chunks, start=1):
        paths.append(write_ply(chunk, folder / f"{name}_chunk_{k}.ply"))
    if recipe.twin_seed is not None:
        other = recipe.vessel(edge_mm=recipe.edge_mm, seed=recipe.twin_seed)
        twin, _ = as_scanned(coloured(other, other), noise_mm=recipe.noise_mm, rng=rng)
        paths.append(write_ply(twin, folder / f"{name}_twin_scan.ply"))
    return paths


def _broken(whole: Mesh, recipe: Recipe, rng: np.random.Generator) -> Broken:
    if recipe.tile_cut is None:
        return break_vessel(whole, recipe.cuts, rng=rng, angle_deg=recipe.angle_deg)
    body, chunks = break_sheet(whole, [cut_tile(recipe.tile_cut, rng=rng)])
    return Broken(body, chunks, ())


def write_ply(mesh: Mesh, path: Path) -> Path:
    """Write binary PLY with 32-bit positions, and colours where the mesh has them."""
    fields = [("place", "<f4", (3,))]
    lines = [f"property float {axis}" for axis in "xyz"]
    if mesh.colours is not None:
        fields.append(("colour", "u1", (3,)))
        lines += [f"property uchar {colour}" for colour in ("red", "green", "blue")]
    points = np.zeros(len(mesh.vertices), dtype=np.dtype(fields))
    points["place"] = mesh.vertices
    if mesh.colours is not None:
        points["colour"] = mesh.colours
    triangles = np.zeros(len(mesh.faces), dtype=np.dtype([("n", "u1"), ("corner", "<i4", (3,))]))
    triangles["n"] = 3
    triangles["corner"] = mesh.faces
    header = ["ply", "format binary_little_endian 1.0", "comment millimetres"]
    header += [f"element vertex {len(points)}", *lines]
    header += [f"element face {len(triangles)}", "property list uchar int vertex_indices"]
    header.append("end_header\n")
    path.write_bytes("\n".join(header).encode("ascii") + points.tobytes() + triangles.tobytes())
    return path


def main() -> None:
    """Rebuild every file and say what was written."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else MESHES
    folder.mkdir(parents=True, exist_ok=True)
    for name, recipe in RECIPES.items():
        for path in make(name, recipe, folder):
            print(f"{path}  {path.stat().st_size / 1e6:.2f} MB")


if __name__ == "__main__":
    main()
