"""Press moulds of pieces whose shape is known."""

import dataclasses

import manifold3d
import numpy as np
import pytest
from make.briefs import bowl_rim, cylinder_hole

from lossfill.errors import InputError
from lossfill.make.brief import Brief, BriefPiece
from lossfill.make.envelope import shadow_above, shadow_below
from lossfill.make.grow import grown
from lossfill.make.layers import layers
from lossfill.make.mould import MouldSettings, make_mould
from lossfill.make.mould_halves import make_halves
from lossfill.make.mould_proof import prove_mould
from lossfill.make.pull import find_pull
from lossfill.make.shrink import Shrink
from lossfill.make.store import read_briefs
from lossfill.solids import Solid, mesh_from_solid

UP = np.array([[0.0, 0.0, 1.0]])


def _brief(solid: Solid) -> Brief:
    """A brief whose piece is a solid of ours, its z along the way from outer to inner skin."""
    solid = solid.rotate((0, -90, 0))
    return dataclasses.replace(
        cylinder_hole(clearance_mm=0.15, n=24),
        pieces=(BriefPiece("1", solid, np.array([0.0, 0.0, 1.0])),),
    )


def _cap(radius_mm: float, height_mm: float) -> Solid:
    """A spherical cap on z = 0."""
    ball = manifold3d.Manifold.sphere(radius_mm, 128).translate((0, 0, height_mm - radius_mm))
    return ball.trim_by_plane((0, 0, 1), 0.0)


def _proof(made, words):
    found = [proof for proof in made.proved if words in proof.what]
    assert found, words
    return found[0]


@pytest.fixture(scope="module")
def cap_mould():
    return make_mould(_brief(_cap(20.0, 6.0)))


def test_shadow_of_a_cap_fills_what_is_below_it():
    cap = _cap(10.0, 3.0)
    # Seen from above the cap covers its base; below it stands a prism 7 mm tall of that area.
    base = mesh_from_solid(cap)
    covered = cap.project().area()
    below = shadow_below(cap, -7.0)
    assert below.volume() == pytest.approx(cap.volume() + 7 * covered, rel=1e-9)
    # Cap of R = 10, h = 3 is 81 pi = 254.4690 mm3 (novacalculator.com); facets take a little.
    assert 0.99 * 254.4690 < cap.volume() < 254.4690
    above = shadow_above(cap, 8.0)
    assert above.volume() == pytest.approx(8 * covered, rel=1e-9)
    assert (below ^ above).volume() == pytest.approx(cap.volume(), rel=1e-9)
    assert base.faces.size


def test_shadow_of_two_shelves_fills_the_gap_between_them():
    # A C of three boxes: what lies between its shelves, 8 x 10 x 4 mm, is shadowed both ways.
    cube = manifold3d.Manifold.cube
    shape = cube((10.0, 10, 2)) + cube((10.0, 10, 2)).translate((0, 0, 6)) + cube((2.0, 10, 8))
    both = shadow_below(shape, -5) ^ shadow_above(shape, 15)
    assert both.volume() - shape.volume() == pytest.approx(8 * 10 * 4, rel=1e-9)


def test_pull_avoids_the_way_that_locks():
    cube = manifold3d.Manifold.cube
    shape = cube((10.0, 10, 2)) + cube((10.0, 10, 2)).translate((0, 0, 6)) + cube((2.0, 10, 8))
    pull = find_pull(mesh_from_solid(shape), UP)
    # Along y its C is the same all the way; along x it is open; along z 320 mm3 lock.
    assert abs(pull.direction[2]) < 0.2
    assert pull.locked_mm3 < 1.0
    wished = find_pull(mesh_from_solid(_cap(20, 6)), UP)
    np.testing.assert_allclose(wished.direction, [0, 0, 1], atol=1e-12)


def test_grown_box_is_larger_by_the_film_all_over():
    box = manifold3d.Manifold.cube((3.0, 4.0, 5.0))
    assert grown(box, 0.1).volume() == pytest.approx(3.2 * 4.2 * 5.2, rel=1e-9)


def test_every_proof_of_a_cap_passes(cap_mould):
    assert [proof.what for proof in cap_mould.proved if not proof.passed] == []
    names = [solid.name for solid in cap_mould.solids]
    assert names == ["loss_1_mould_lower", "loss_1_mould_upper"]
    for half in cap_mould.solids:
        assert half.solid.bounding_box()[2] == pytest.approx(0, abs=1e-9)
        assert half.solid.volume() > 0
        assert len(half.solid.decompose()) == 1


@pytest.mark.parametrize(("wrong_mm", "passes"), [(0.0, True), (0.1, False)])
def test_a_cavity_off_by_a_tenth_fails_its_proof(wrong_mm, passes):
    # The limit is 0.05 mm: 0.04 for fewer triangles and 0.01 for the lap of the land.
    cap = _cap(12.0, 4.0)
    wrong = grown(cap, wrong_mm)
    halves = make_halves(shadow_below(wrong, -80), shadow_above(wrong, 80), MouldSettings(keys=0))
    proofs = {proof.what: proof for proof in prove_mould(cap, wrong, halves, 5.0)}
    wall = next(proof for what, proof in proofs.items() if "wall off the piece" in what)
    assert wall.passed is passes
    # Facets' middles move by exactly so much, and the lap adds a hundredth at most.
    assert wall.value == pytest.approx(wrong_mm, abs=0.012)


def test_layers_part_only_what_lies_one_above_the_other():
    flat = np.array([[[0.0, 0, 0], [4, 0, 0], [0, 4, 0]], [[4, 0, 0], [4, 4, 0], [0, 4, 0]]])
    steep = np.array([[[1.0, 1, 5], [2, 1, 9], [1, 2, 9]]])
    found = layers(np.concatenate([steep, flat]))
    # The two flat ones share a side only; the steep one stands over the first of them.
    assert [part.tolist() for part in found] == [[1, 2], [0]]


@pytest.mark.slow
def test_every_proof_of_a_fitted_piece_passes(tea_bowl_folder):
    briefs = read_briefs(tea_bowl_folder)
    assert briefs
    for brief in briefs:
        made = make_mould(brief)
        assert [proof for proof in made.proved if not proof.passed] == []
        for half in made.solids:
            # Sound in a file's numbers: what is written is what was proved.
            vertices = mesh_from_solid(half.solid).vertices
            np.testing.assert_array_equal(vertices, vertices.astype(np.float32))


def test_walls_and_keys_follow_the_settings():
    plain = MouldSettings(keys=0, flash_width_mm=0.0, draft_deg=0.0, wall_mm=4.0, land_mm=3.0)
    made = make_mould(_brief(_cap(20.0, 6.0)), plain)
    low, high = np.reshape(made.solids[0].solid.bounding_box(), (2, 3))
    # Base radius sqrt(2 R h - h^2) = 14.28; land and wall about it.
    assert high[0] - low[0] == pytest.approx(2 * (14.283 + 3 + 4), abs=0.05)
    assert all(proof.passed for proof in made.proved)
    # Without channel and keys, both halves and the piece fill the block: a prism of one outline.
    halves = sum(float(solid.solid.volume()) for solid in made.solids)
    area = np.pi * (14.283 + 7) ** 2
    assert halves + _cap(20, 6).volume() == pytest.approx(area * (6 + 2 * 4), rel=5e-3)


@pytest.mark.slow
@pytest.mark.parametrize("brief", [cylinder_hole, bowl_rim])
def test_every_proof_of_a_wall_piece_passes(brief):
    made = make_mould(brief())
    assert [proof for proof in made.proved if not proof.passed] == []
    # What the mould gives too much is a thousandth of such a piece, or less.
    assert _proof(made, "share of the piece").value < 2e-3


def test_a_mould_for_what_shrinks_is_larger_by_the_volume_factor():
    box = manifold3d.Manifold.cube((20.0, 15.0, 5.0), center=True)
    plain = MouldSettings(keys=0, flash_width_mm=0.0, draft_deg=0.0)
    shrink = Shrink(along=0.1, across=0.2)
    one, larger = (make_mould(_brief(box), plain, shrink=s) for s in (Shrink(), shrink))
    for made, size in ((one, (20, 15, 5)), (larger, (20 / 0.8, 15 / 0.8, 5 / 0.9))):
        outline = (size[0] + 15) * (size[1] + 15) - (4 - np.pi) * 7.5**2
        halves = sum(float(solid.solid.volume()) for solid in made.solids)
        cavity = outline * (size[2] + 10) - halves
        # Round corners are polygons, by less than a thousandth of the block.
        assert cavity == pytest.approx(np.prod(size), abs=1e-3 * outline * (size[2] + 10))
    assert any("10 %" in note for note in larger.notes)


def test_an_undercut_piece_is_reported():
    # A ball with a deep groove around each of three axes locks whichever way it is drawn.
    ball = manifold3d.Manifold.sphere(10.0, 48)
    ring = manifold3d.Manifold.cylinder(3.0, 20, 20, 48, True) - manifold3d.Manifold.cylinder(
        3.0, 6, 6, 48, True
    )
    piece = ball - ring - ring.rotate((90, 0, 0)) - ring.rotate((0, 90, 0))
    made = make_mould(_brief(piece), MouldSettings(keys=0))
    undercut = _proof(made, "share of the piece")
    assert not undercut.passed
    assert undercut.value > 0.05
    assert any("too undercut" in note for note in made.notes)
    assert any("file it off" in note for note in made.notes)


def test_a_poured_mould_has_a_sprue_and_vents_through_its_upper_half():
    made = make_mould(_brief(_cap(20.0, 6.0)), MouldSettings(variant="pour"))
    lower, upper = (solid.solid for solid in made.solids)
    assert upper.genus() >= 1
    assert lower.genus() == 0
    assert all(proof.passed for proof in made.proved)


def test_the_same_mould_twice_is_the_same(cap_mould):
    again = make_mould(_brief(_cap(20.0, 6.0)))
    for one, other in zip(cap_mould.solids, again.solids, strict=True):
        a, b = mesh_from_solid(one.solid), mesh_from_solid(other.solid)
        np.testing.assert_array_equal(a.vertices, b.vertices)
        np.testing.assert_array_equal(a.faces, b.faces)


@pytest.mark.parametrize(
    ("setting", "words"),
    [
        ({"wall_mm": -1.0}, "wall in mm is -1"),
        ({"draft_deg": 45.0}, "draft in degrees is 45"),
        ({"variant": "cast"}, "'cast'"),
        ({"keys": 9}, "number of keys is 9"),
        ({"release_offset_mm": 2.0}, "release in mm is 2"),
        ({"key_clearance_mm": np.nan}, "gap about a key in mm is nan"),
        ({"draft_deg": 40.0}, "run to a point"),
    ],
)
def test_bad_settings_are_refused_in_one_line(setting, words):
    with pytest.raises(InputError, match=words) as caught:
        MouldSettings(**setting)
    assert "\n" not in str(caught.value)
