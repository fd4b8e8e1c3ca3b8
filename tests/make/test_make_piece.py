"""The printed piece: its formats read back by other libraries, its pose, its shrinkage."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import manifold3d
import numpy as np
import pytest
import trimesh
from make.briefs import bowl_rim, cylinder_hole
from numpy.testing import assert_allclose

from lossfill.errors import InputError
from lossfill.make.formats import WRITERS, formats_of, write_solid
from lossfill.make.made import MadeSolid
from lossfill.make.piece import make_piece
from lossfill.make.pose import best_up, stood
from lossfill.make.shrink import Shrink
from lossfill.make.things import make_things
from lossfill.mesh import face_vectors
from lossfill.solids import mesh_from_solid


def wedge() -> manifold3d.Manifold:
    """A right prism 10 × 20 × 5 mm cut to a wedge: half the box."""
    return manifold3d.Manifold.extrude(manifold3d.CrossSection([[[0, 0], [10, 0], [0, 5]]]), 20.0)


def test_it_stands_on_the_bed_over_the_origin() -> None:
    (made,) = make_things([bowl_rim()], ["piece"]).made
    low, high = mesh_from_solid(made.solids[0].solid).bounds
    assert_allclose(low[2], 0.0, atol=1e-5)
    assert_allclose((low + high)[:2], 0.0, atol=1e-4)


def test_it_is_larger_by_what_the_print_shrinks() -> None:
    # 1/(1 - s): a print that shrinks by 2 % upright and 1 % across is made 1.0204 and 1.0101
    # times as large, and its volume 1.0204 · 1.0101² times.
    brief = cylinder_hole()
    plain = make_piece(brief).solids[0].solid
    larger = make_piece(brief, shrink=Shrink(along=0.02, across=0.01)).solids[0].solid
    ratio = np.ptp(mesh_from_solid(larger).bounds, axis=0) / np.ptp(
        mesh_from_solid(plain).bounds, axis=0
    )
    assert_allclose(ratio, [1 / 0.99, 1 / 0.99, 1 / 0.98], rtol=1e-6)
    assert_allclose(larger.volume() / plain.volume(), 1 / (0.98 * 0.99**2), rtol=1e-6)


def test_no_support_stands_on_skin_where_it_can_be_helped() -> None:
    # A slab whose lower face is seen: it is turned until that face no longer leans over the bed.
    mesh = mesh_from_solid(manifold3d.Manifold.cube((30.0, 20.0, 4.0)))
    vectors = face_vectors(mesh)
    seen = vectors[:, 2] < 0
    up = best_up(mesh, seen)
    lower = np.array([0.0, 0.0, -1.0])
    assert lower @ up > -np.sqrt(0.5)


def test_the_pose_turns_and_does_not_stretch() -> None:
    solid = wedge()
    up = np.array([1.0, 2.0, -0.5]) / np.sqrt(5.25)
    turned = stood(solid, up)
    assert_allclose(turned.volume(), solid.volume(), rtol=1e-9)
    # The face that looked along `up` looks up now: its height is the extent along `up`.
    high = mesh_from_solid(turned).bounds[1, 2]
    along = mesh_from_solid(solid).vertices @ up
    assert_allclose(high, np.ptp(along), rtol=1e-9)


@pytest.mark.parametrize("ending", list(WRITERS))
def test_each_format_reads_back_elsewhere(ending: str, tmp_path: Path) -> None:
    made = MadeSolid("wedge", "a wedge", wedge(), "clear resin")
    assert write_solid(made, tmp_path, (ending,)) == [f"wedge.{ending}"]
    if ending == "3mf":
        import lib3mf

        from lossfill.scan.threemf import library

        model = library().CreateModel()
        reader = model.QueryReader("3mf")
        reader.SetStrictModeActive(True)
        reader.ReadFromFile(str(tmp_path / "wedge.3mf"))
        group = model.GetMetaDataGroup()
        held = [group.GetMetaData(i) for i in range(group.GetMetaDataCount())]
        values = {data.GetName(): data.GetValue() for data in held}
        assert values == {"Title": "a wedge", "Description": "clear resin"}
        assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter
        assert model.GetColorGroups().Count() == 0
        assert reader.GetWarningCount() == 0
        return
    read = trimesh.load_mesh(tmp_path / f"wedge.{ending}")
    read.merge_vertices()
    # glTF 2.0, 3.4: metres, y up.
    unit = 0.001 if ending == "glb" else 1.0
    assert read.is_watertight
    assert_allclose(read.volume, 500.0 * unit**3, rtol=1e-6)
    extent = np.array([10.0, 20.0, 5.0] if ending == "glb" else [10.0, 5.0, 20.0])
    assert_allclose(read.extents, extent * unit, rtol=1e-6)


def test_the_same_bytes_twice(tmp_path: Path) -> None:
    made = MadeSolid("wedge", "a wedge", wedge())
    for folder in (tmp_path / "a", tmp_path / "b"):
        folder.mkdir()
        write_solid(made, folder, tuple(WRITERS))
    for ending in WRITERS:
        first, second = (
            (folder / f"wedge.{ending}").read_bytes() for folder in (tmp_path / "a", tmp_path / "b")
        )
        assert first == second, ending


def test_a_glb_is_not_shown_as_bare_metal(tmp_path: Path) -> None:
    write_solid(MadeSolid("wedge", "a wedge", wedge()), tmp_path, ("glb",))
    read = trimesh.load(tmp_path / "wedge.glb")
    (mesh,) = read.geometry.values()
    assert mesh.visual.material.metallicFactor == 0.0


def test_a_format_that_is_not_written_is_refused() -> None:
    assert formats_of(" 3MF, .stl") == ("stl", "3mf")
    with pytest.raises(InputError, match="'step' is no format for solids: give stl"):
        formats_of("stl,step")


def test_a_split_loss_gives_two_files() -> None:
    brief = cylinder_hole()
    (piece,) = brief.pieces
    halves = tuple(replace(piece, name=name) for name in ("1a", "1b"))
    made = make_piece(replace(brief, pieces=halves))
    assert [solid.name for solid in made.solids] == ["loss_1a_print", "loss_1b_print"]
