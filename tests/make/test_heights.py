"""Heights of a skin by rays, on shapes whose heights are known."""

from dataclasses import replace

import manifold3d
import numpy as np
import pytest
from make.briefs import cylinder_hole

from lossfill.errors import UnsuitedError
from lossfill.loss.loss import LossKind
from lossfill.make.backing import BackingSettings, backing_in_place, make_backing
from lossfill.make.brief import Brief, Lost, Side
from lossfill.make.former import together
from lossfill.make.former_side import patch_of, way_off
from lossfill.make.heights import Plane, filled, heights_over, offset_from, plane_over, roughness_of
from lossfill.mesh import face_vectors, unit
from lossfill.nearest import Surface
from lossfill.solids import mesh_from_solid


def tile_brief(*, thick_mm: float = 8.0) -> Brief:
    """A flat tile 90 by 60 that lacks a piece 24 by 12 of one long edge, its sides told badly.

    As for a thing without an axis, what looks away from the middle is told as outside, so that both
    faces and the edge get either name.
    """
    tile = manifold3d.Manifold.cube((90.0, 60.0, thick_mm), True).translate((0, 0, thick_mm / 2))
    cut = manifold3d.Manifold.cube((24.0, 24.0, 40.0), True).translate((5.0, 30.0, 0.0))
    lost = (tile ^ cut).refine_to_length(2.0)
    mesh = mesh_from_solid(lost)
    normals = unit(face_vectors(mesh))
    middles = mesh.vertices[mesh.faces].mean(axis=1)
    skin = (np.abs(normals[:, 2]) > 0.5) | (middles[:, 1] > 29.9)
    outside = (normals[:, 2] > 0.5) | (middles[:, 1] > 29.9)
    side = np.where(skin, np.where(outside, Side.OUTER, Side.INNER), Side.BREAK)
    return Brief(
        vessel="tile",
        number=1,
        kind=LossKind.THROUGH,
        place="",
        lost=Lost(mesh, side.astype(np.int8), lost),
        pieces=(),
        body=tile - cut,
        others=(),
        wall_mm=thick_mm,
        profile=None,
        vessel_from_scan=np.eye(4),
        clearance_mm=0.15,
    )


@pytest.mark.parametrize(("side", "up"), [(Side.OUTER, 1.0), (Side.INNER, -1.0)])
def test_a_tiles_sides_are_its_two_faces(side, up):
    patch = patch_of(tile_brief(), side)
    np.testing.assert_allclose(way_off(patch), [0.0, 0.0, up], rtol=0, atol=1e-9)
    # The face alone, 24 by 12; the edge, 24 by 8, is with neither.
    area = np.linalg.norm(face_vectors(patch), axis=1).sum()
    assert area == pytest.approx(24.0 * 12.0, abs=1e-6)


@pytest.mark.parametrize("side", ["inner", "outer"])
def test_a_tiles_backing_is_flat_and_ends_at_the_edge(side):
    settings = BackingSettings(side=side)
    backing = backing_in_place(tile_brief(), settings)
    made = make_backing(tile_brief(), settings)
    assert [proof.what for proof in made.proved if not proof.passed] == []
    low, high = np.array(backing.shell.bounding_box()).reshape(2, 3)
    face = high[2] if side == "inner" else low[2]
    assert face == pytest.approx(-0.1 if side == "inner" else 8.1, abs=1e-4)
    # Ten past the notch at three sides; at the edge two cells of 0.4 mm short of it at most.
    np.testing.assert_allclose([low[0], high[0], low[1]], [-17, 27, 8], rtol=0, atol=0.1)
    assert 30.0 - 3 * 0.4 < high[1] < 30.0


def test_the_knob_stands_on_the_former_even_at_an_edge():
    # The notch is 12 deep, so that its middle is 6 from the edge: less than a wide knob needs.
    settings = BackingSettings(grip_width_mm=24.0)
    backing = backing_in_place(tile_brief(), settings)
    knob = backing.solid - backing.shell
    # Its stem's radius is 0.75 of its own; all of it must find former beneath.
    stem = backing.solid.slice(-4.5).bounds()
    shell = backing.shell.slice(-2.0).bounds()
    assert knob.volume() > 1000.0
    assert stem[3] < shell[3]
    # It narrows from 9 mm, 2.5 mm off the tile, to where its bead of 6 mm begins, 72° below level.
    begins = np.array([6.0 + 6.0 * np.cos(0.4 * np.pi), 22.1 - 6.0 - 6.0 * np.sin(0.4 * np.pi)])
    expected = np.interp(4.5, [2.5, begins[1]], [9.0, begins[0]])
    assert stem[3] - stem[1] == pytest.approx(2.0 * expected, abs=0.05)


def test_heights_over_a_cylinder_are_its_own():
    brief = cylinder_hole(n=720)
    patch = brief.lost.faces_of(Side.INNER)
    away = way_off(patch)
    up = np.array([0.0, 0.0, 1.0])
    pose = np.stack([np.cross(up, away), up, away, np.array([36.0, 0.0, 35.0])], axis=1)
    plane = plane_over(patch, pose, margin_mm=8.0)
    whole = Surface(together((brief.body, brief.lost.solid)))
    heights = heights_over(plane, whole, patch, margin_mm=8.0)
    known = np.isfinite(heights)
    x, _ = np.meshgrid(plane.x, plane.y)
    # x² + (36 - height)² = 36²; a facet of 0.5° lies 0.0003 inside, and three rays 0.002 apart
    # read up to that much too high where the wall slopes by 1 in 2.
    expected = 36.0 - np.sqrt(36.0**2 - x[known] ** 2)
    np.testing.assert_allclose(heights[known], expected, rtol=0, atol=0.002)
    assert known.mean() > 0.8
    off = offset_from(plane, whole, filled(heights, known), known, 0.5)
    expected = 36.0 - np.sqrt(35.5**2 - x[known] ** 2)
    np.testing.assert_allclose(off[known], expected, rtol=0, atol=0.001)


def test_roughness_is_noise_and_not_shape():
    n, cell = 121, 0.4
    along = cell * (np.arange(n) - n // 2)
    pose = np.concatenate([np.eye(3), np.zeros((3, 1))], axis=1)
    plane = Plane(pose, along, along, cell)
    x, y = np.meshgrid(along, along)
    shape = 0.3 + 0.1 * x + x**2 / 60.0 - y**2 / 90.0
    everywhere = np.ones((n, n), dtype=bool)
    assert roughness_of(plane, shape, everywhere).max() < 1e-9
    noise = np.random.default_rng(4).normal(0.0, 0.03, (n, n))
    rough = roughness_of(plane, 0.0 * x + noise, everywhere)
    # Of 9 × 9 places a paraboloid takes the weight of its middle one: w = the fit's own share.
    i, j = np.meshgrid(np.arange(-4, 5.0), np.arange(-4, 5.0))
    terms = np.stack([np.ones_like(i), i, j, i * i, i * j, j * j], axis=-1).reshape(-1, 6)
    share = (terms @ np.linalg.pinv(terms))[40, 40]
    expected = 0.03 * np.sqrt(1.0 - share) * 1.95996  # 95 % of a normal spread, both ways
    # 12 800 places, which share neighbours: some 5 % of scatter at most.
    assert np.percentile(rough, 95) == pytest.approx(expected, rel=0.05)


@pytest.mark.parametrize("kind", [LossKind.CHIP, LossKind.SPALL, LossKind.HANDLE])
def test_losses_that_a_backing_does_not_suit_are_refused(kind):
    words = "make a mould" if kind is LossKind.HANDLE else "needs no backing"
    with pytest.raises(UnsuitedError, match=words) as caught:
        make_backing(replace(cylinder_hole(), kind=kind))
    assert "\n" not in str(caught.value)


def test_something_that_stands_over_the_margin_ends_it_there():
    # A bar 6 mm off the outside of the cup, 8 mm above the gap: a former there could not come off.
    brief = cylinder_hole()
    bar = manifold3d.Manifold.cube((6.0, 40.0, 4.0), True).translate((50.0, 0.0, 55.0))
    post = manifold3d.Manifold.cube((16.0, 4.0, 4.0), True).translate((45.0, 18.0, 62.0))
    with_bar = replace(brief, body=brief.body + bar + post)
    settings = BackingSettings(side="outer")
    free = backing_in_place(brief, settings)
    under = backing_in_place(with_bar, settings)
    assert free.shell.bounding_box()[5] == pytest.approx(55.0, abs=0.2)
    # The bar's underside is 53 up.
    assert 51.0 < under.shell.bounding_box()[5] < 53.0
    made = make_backing(with_bar, settings)
    assert [proof.what for proof in made.proved if not proof.passed] == []
