"""Backings of losses whose every measure is known."""

from dataclasses import replace

import numpy as np
import pytest
from make.briefs import bowl_rim, cylinder_hole

from lossfill.errors import InputError
from lossfill.loss.loss import LossKind
from lossfill.make.backing import BackingSettings, backing_in_place, make_backing, mouth_mm
from lossfill.make.backing_proof import face_of, shared_mm3
from lossfill.make.brief import Side
from lossfill.mesh import face_vectors, points_over

FACET_MM = 36.0 * (1.0 - np.cos(np.pi / 180))
"""mm by which the 180-sided cup lies inside its circle: 0.0055."""


@pytest.fixture(scope="module")
def brief():
    return cylinder_hole()


@pytest.fixture(scope="module")
def backing(brief):
    return backing_in_place(brief)


def _faces(backing):
    """Face points clear of the rim, which is blunt by about a cube of 0.5 mm."""
    points = points_over(face_of(backing.shell, backing.ground, 0.1), spacing_mm=0.5)
    return points[(points[:, 2] > 16.0) & (points[:, 2] < 54.0)]


def test_the_face_is_a_cylinder_a_film_inside_the_cups(backing):
    points = _faces(backing)
    angle = np.degrees(np.arctan2(points[:, 1], points[:, 0]))
    # Clear of the margin's round corners, which are blunt as well.
    points = points[(np.abs(angle) < 30.0) & (np.abs(points[:, 2] - 35.0) < 16.0)]
    radius = np.linalg.norm(points[:, :2], axis=1)
    # 36 - 0.1, less a facet's height; 0.02 for the cubes' linear steps and merged triangles.
    assert radius.max() < 35.9 + 0.02
    assert radius.min() > 35.9 - FACET_MM - 0.02


def test_it_reaches_ten_millimetres_past_the_gap_all_round(backing):
    # The gap is 25 to 45 mm up and 20° to either side; the margin beside it is a chord of 10 mm.
    box = backing.shell.bounding_box()
    np.testing.assert_allclose([box[2], box[5]], [15.0, 55.0], rtol=0, atol=0.1)
    chord = np.degrees(2.0 * np.arcsin(0.5 * 10.0 / 36.0))
    points = _faces(backing)
    widest = np.degrees(np.abs(np.arctan2(points[:, 1], points[:, 0]))).max()
    # 0.5 mm of cube is 0.8° there.
    assert abs(widest - (20.0 + chord)) < 0.8


def test_the_face_is_as_large_as_the_gap_and_its_margin(backing):
    # In the flat: a rectangle, a strip of 10 mm along its sides, a quarter circle at each corner.
    wide, tall, margin = 36.0 * np.radians(40.0), 20.0, 10.0
    area = wide * tall + 2.0 * margin * (wide + tall) + np.pi * margin**2
    face = face_of(backing.shell, backing.ground, 0.1)
    found = float(np.linalg.norm(face_vectors(face), axis=1).sum())
    # Its rim, 120 mm long, is blunt by half a cube; the chord is 0.3 % shorter than the arc.
    assert abs(found - area) < 120.0 * 0.25 + 0.01 * area


def test_it_is_as_thick_as_asked(backing):
    box = backing.shell.bounding_box()
    # Over the gap's middle its back lies at 36 - 4.1; elsewhere farther out on x only at the rim.
    middle = backing.shell.translate((0.0, 0.0, -35.0)).slice(0.0)
    points = np.concatenate([np.asarray(ring) for ring in middle.to_polygons()])
    near = points[np.abs(np.degrees(np.arctan2(points[:, 1], points[:, 0]))) < 20.0]
    assert np.linalg.norm(near, axis=1).min() == pytest.approx(31.9, abs=0.03)
    assert box[3] < 35.92


def test_it_comes_off_towards_the_axis(backing):
    np.testing.assert_allclose(backing.ground.away, [-1.0, 0.0, 0.0], rtol=0, atol=1e-6)
    assert shared_mm3(backing.solid, backing.ground) == pytest.approx(0.0, abs=0.01)
    # The other way it runs into the wall: 1 mm in over some 1000 mm² at least.
    assert shared_mm3(backing.solid.translate((1.0, 0.0, 0.0)), backing.ground) > 500.0


def test_notches_and_arrow_are_cut_and_the_knob_is_on(backing):
    cut = (backing.shell - backing.solid).volume()
    assert cut > 20.0
    assert backing.grip_mm == 18.0
    # The knob's top stands 18 mm above the back, at 36 - 4.1 from the axis.
    assert backing.solid.bounding_box()[0] == pytest.approx(35.9 + 0.1 - 4.1 - 18.0, abs=0.05)


@pytest.mark.parametrize("side", ["inner", "outer"])
def test_everything_proved_holds(brief, side):
    made = make_backing(brief, BackingSettings(side=side))
    assert [proof.what for proof in made.proved if not proof.passed] == []
    solid = made.solids[0].solid
    assert solid.bounding_box()[2] == pytest.approx(0.0, abs=1e-9)
    assert (len(solid.decompose()), solid.genus()) == (1, 0)
    assert any("data sheet" in note for note in made.notes)


@pytest.mark.slow
def test_at_a_rim_it_ends_at_the_lip():
    brief = bowl_rim()
    backing = backing_in_place(brief)
    crest = brief.lost.solid.bounding_box()[5]
    top = backing.shell.bounding_box()[5]
    assert crest - 0.2 < top < crest
    made = make_backing(brief)
    assert all(proof.passed for proof in made.proved)
    assert any("lip" in note for note in made.notes)


def test_the_mouth_is_as_wide_as_the_cup_inside(brief):
    assert mouth_mm(brief, 35.0) == pytest.approx(72.0, abs=0.01)
    # Without a profile, from the hollow's area: a 180-gon of radius 36.
    area = 0.5 * 180 * 36.0**2 * np.sin(2.0 * np.pi / 180)
    expected = 2.0 * np.sqrt(area / np.pi)
    assert mouth_mm(replace(brief, profile=None), 35.0) == pytest.approx(expected, abs=0.03)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"margin_mm": 60.0}, "larger than the vessel"),
        ({"margin_mm": float("nan")}, "margin"),
        ({"thickness_mm": 0.0}, "thickness"),
        ({"release_offset_mm": -0.1}, "film"),
        ({"grip_mm": -1.0}, "grip"),
    ],
)
def test_settings_that_cannot_be_used_are_refused(brief, changed, words):
    with pytest.raises(InputError, match=words) as caught:
        make_backing(brief, BackingSettings(**changed))
    assert "\n" not in str(caught.value)


def test_a_loss_of_one_skin_needs_none(brief):
    with pytest.raises(InputError, match="needs no backing: where one skin alone is lost"):
        make_backing(replace(brief, kind=LossKind.SPALL))
    side = np.where(brief.lost.side == Side.INNER, Side.BREAK, brief.lost.side).astype(np.int8)
    with pytest.raises(InputError, match="needs no backing: where one skin alone is lost"):
        make_backing(replace(brief, lost=replace(brief.lost, side=side)))
