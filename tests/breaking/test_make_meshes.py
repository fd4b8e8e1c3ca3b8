"""The committed demo scans: rebuilt bit for bit, small, and true to their chunks."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh
from breaking import Cut
from make_meshes import MESHES, RECIPES, Recipe, make, write_ply
from rays import Surface
from scoring import sample
from vessels import tea_bowl

from lossfill.mesh import Mesh
from lossfill.solids import solid_from_mesh

SMALL = Recipe(tea_bowl, (Cut("rim", 50.0),), 30.0, 1, True, seed=3, edge_mm=4.0)


def read(path: Path) -> Mesh:
    """By trimesh, so that the writer is not its own witness."""
    found = trimesh.load(path, process=False)
    return Mesh(found.vertices, found.faces, found.visual.vertex_colors[:, :3])


def test_same_seed_gives_the_same_bytes(tmp_path: Path) -> None:
    names = ("one", "two")
    for name in names:
        (tmp_path / name).mkdir()
        make("small", SMALL, tmp_path / name)
    files = [sorted((tmp_path / name).iterdir()) for name in names]
    assert [path.name for path in files[0]] == ["small_chunk_1.ply", "small_scan.ply"]
    for one, two in zip(*files, strict=True):
        assert one.read_bytes() == two.read_bytes()


@pytest.mark.slow
def test_committed_files_are_what_the_script_makes(tmp_path: Path) -> None:
    for made in make("lobed_dish", RECIPES["lobed_dish"], tmp_path):
        kept = MESHES / made.name
        if made.read_bytes() == kept.read_bytes():
            continue
        # On another processor sines may differ in their last bit, which can move a 32-bit
        # position by one step (1e-5 mm at 100 mm), never the triangles. Of corners that all but
        # touch, the modeller may then keep others, within its tolerance of 1e-4 mm.
        one, two = read(made), read(kept)
        np.testing.assert_array_equal(one.faces, two.faces)
        apart = np.abs(one.vertices - two.vertices)
        assert np.quantile(apart, 0.95) <= 2e-5
        assert apart.max() < 1e-2


def test_all_of_meshes_is_small() -> None:
    assert sum(path.stat().st_size for path in MESHES.iterdir()) <= 8_000_000


@pytest.mark.parametrize("name", RECIPES)
def test_chunks_fit_their_scan(name: str) -> None:
    recipe = RECIPES[name]
    scan = read(MESHES / f"{name}_scan.ply")
    assert scan.colours is not None
    assert len(np.unique(scan.colours, axis=0)) >= 2
    chunks = [read(MESHES / f"{name}_chunk_{k + 1}.ply") for k in range(recipe.n_losses)]
    assert not (MESHES / f"{name}_chunk_{len(chunks) + 1}.ply").exists()
    surface = Surface(scan)
    for chunk in chunks:
        solid = solid_from_mesh(chunk)
        assert len(solid.decompose()) == 1
        assert solid.volume() > 40.0
        points = sample(chunk, 20_000, np.random.default_rng(0))
        distance = surface.distance(points)
        # Its break faces lie on the scan's, but for noise and seams; its skin stands free.
        assert 0.05 < (distance < 0.1).mean() < 0.75
        assert distance.max() > 0.9
    if recipe.outside:
        # Open at the mouth and at the loss.
        assert not trimesh.Trimesh(scan.vertices, scan.faces).is_watertight
    elif not recipe.scan_holes:
        assert len(solid_from_mesh(scan).decompose()) == 1


def test_the_twin_is_whole_and_another_bowl_of_the_same_set() -> None:
    recipe = RECIPES["set_bowl"]
    twin = solid_from_mesh(read(MESHES / "set_bowl_twin_scan.ply"))
    assert len(twin.decompose()) == 1
    own, other = recipe.whole(), recipe.twin()
    # As much clay in either, to a percent or two, but bent in its own way.
    assert twin.volume() == pytest.approx(solid_from_mesh(own).volume(), rel=0.02)
    apart = Surface(own).distance(other.vertices)
    assert 0.05 < apart.max() < 1.5


def test_every_file_is_described() -> None:
    text = (MESHES / "README.md").read_text(encoding="utf-8")
    files = {path.name for path in MESHES.glob("*.ply")}
    assert len(files) == 20
    assert all(f"`{name}`" in text for name in files if "scan" not in name)
    assert all(f"`{name}`" in text for name in files if "scan" in name)
    for name, recipe in RECIPES.items():
        n_faces = len(read(MESHES / f"{name}_scan.ply").faces)
        assert f"{n_faces:,}".replace(",", " ") in text
        assert f"| {recipe.seed} |" in text
        if recipe.twin_seed is not None:
            n_faces = len(read(MESHES / f"{name}_twin_scan.ply").faces)
            assert f"{n_faces:,}".replace(",", " ") in text
            assert f"| {recipe.twin_seed} |" in text


def test_written_ply_reads_back(tmp_path: Path) -> None:
    mesh = Mesh(np.array([[0, 0, 0], [1.5, 0, 0], [0, 2.25, 0]]), np.array([[0, 1, 2]]))
    found = trimesh.load(write_ply(mesh, tmp_path / "plain.ply"), process=False)
    np.testing.assert_array_equal(found.vertices, mesh.vertices)
    np.testing.assert_array_equal(found.faces, mesh.faces)
