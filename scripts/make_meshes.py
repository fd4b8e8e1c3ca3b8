"""Make the demo scans in ``meshes/`` from their seeds, bit for bit.

    python scripts/make_meshes.py [folder]

Each is an invented vessel, broken and scanned by computer, beside the true chunks in the
scan's pose, so that every fill can be compared with what is really missing.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from breaking import Broken, Cut, break_vessel
from scanning import add_scan_holes, add_seams, as_scanned, coloured, from_outside
from tiles import break_sheet, cut_tile, saddle_tile
from vessels import (
    MOULDED,
    Faults,
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
HAND_MADE = Faults()


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
    faults : of the vessel
    outside : the scanner saw the outside and the breaks, but not the inner skin
    tile_cut : what a tile has lost, see `tiles.cut_tile`, instead of `cuts`
    twin_seed : of the faults of another vessel of the set, whole and scanned as well; None for none
    """

    vessel: Callable[..., Mesh]
    cuts: tuple[Cut, ...]
    angle_deg: float
    n_cracks: int
    scan_holes: bool
    seed: int
    edge_mm: float = 1.3
    noise_mm: float = 0.03
    faults: Faults = HAND_MADE
    outside: bool = False
    tile_cut: str | None = None
    twin_seed: int | None = None

    @property
    def n_losses(self) -> int:
        """How many chunks are missing."""
        return 1 if self.tile_cut else len(self.cuts)

    def whole(self) -> Mesh:
        """Make the vessel before it broke."""
        if self.tile_cut is not None:
            return self.vessel(edge_mm=self.edge_mm, seed=self.seed)
        return self.vessel(edge_mm=self.edge_mm, seed=self.seed, faults=self.faults)

    def twin(self) -> Mesh:
        """Make the other vessel of the set."""
        return self.vessel(edge_mm=self.edge_mm, seed=self.twin_seed, faults=self.faults)


RECIPES = {
    "tea_bowl": Recipe(
        tea_bowl, (Cut("rim", 52.0), Cut("chip", turned_deg=135.0)), 200.0, 2, True, 11
    ),
    "mug": Recipe(mug, (Cut("hole"),), 150.0, 1, False, 12, edge_mm=1.8),
    "lobed_dish": Recipe(lobed_dish, (Cut("rim", 50.0),), 100.0, 0, False, 13, edge_mm=1.8),
    "fluted_cup": Recipe(
        fluted_cup, (Cut("rim", 45.0),), 100.0, 0, False, 14, edge_mm=2.3, faults=MOULDED
    ),
    "oval_jug": Recipe(
        oval_jug, (Cut("rim", 45.0),), 275.0, 0, False, 15, edge_mm=2.5, faults=MOULDED
    ),
    "set_bowl": Recipe(
        tea_bowl, (Cut("rim", 45.0),), 80.0, 0, False, 16, edge_mm=3.0, faults=MOULDED, twin_seed=17
    ),
    # Its wall is 3 mm all over, for nothing in the scan tells how thick it is but the break.
    "bottle": Recipe(
        bottle,
        (Cut("hole"),),
        120.0,
        0,
        False,
        18,
        edge_mm=2.0,
        faults=Faults(uneven_wall_mm=0.0, pooling_mm=0.0),
        outside=True,
    ),
    "two_handled_cup": Recipe(
        two_handled_cup, (Cut("handle", 50.0),), 0.0, 0, False, 19, edge_mm=2.6
    ),
    "tile": Recipe(saddle_tile, (), 0.0, 0, False, 20, edge_mm=2.8, tile_cut="bite"),
}
"""Each demo scan, by the stem of its files' names."""


def make(name: str, recipe: Recipe, folder: Path) -> list[Path]:
    """Make one scan and its chunks.

    Parameters
    ----------
    name : stem of the files' names
    recipe : see `Recipe`
    folder : where ``<name>_scan.ply``, ``<name>_chunk_<n>.ply`` and, for one of a set,
        ``<name>_twin_scan.ply`` are written

    Returns
    -------
    list of Path
        The files, the scan first.
    """
    rng = np.random.default_rng(recipe.seed)
    whole = recipe.whole()
    broken = _broken(whole, recipe, rng)
    body, bead = broken.body, None
    if recipe.n_cracks:
        body, bead = add_seams(body, whole, rng=rng, n_cracks=recipe.n_cracks)
    if recipe.outside:
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
        twin = recipe.twin()
        scan, _ = as_scanned(coloured(twin, twin), noise_mm=recipe.noise_mm, rng=rng)
        paths.append(write_ply(scan, folder / f"{name}_twin_scan.ply"))
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
