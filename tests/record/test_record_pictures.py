"""Pictures: true to scale, read without colour, and right about what they show."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from record.record_cases import CUP_MM, CUP_TALL_MM, CUP_WALL_MM

from lossfill.drawing.paper import Paper
from lossfill.errors import InputError
from lossfill.mesh import Mesh
from lossfill.nearest import Surface
from lossfill.record.document import Picture
from lossfill.record.pictures import (
    FOOT_PX,
    HATCH,
    LOST,
    Scene,
    draw_loss,
    draw_whole,
    letter_of,
)
from lossfill.record.scale import (
    PX_PER_MM,
    SCALES,
    Scale,
    bar_mm,
    half_width_mm,
    scale_for,
    text_width_mm,
)
from lossfill.record.thickness import (
    band_edges,
    band_greys,
    band_words,
    draw_thickness,
    wall_thickness,
)
from lossfill.solids import mesh_from_solid

ROOM = (85.0, 88.0)

# A picture of an edge is a pixel wide at most on either side: 1/8 mm on paper each.
EDGE_PX = 2


@pytest.fixture(scope="module")
def whole(cup_scene: Scene) -> tuple[Picture, ...]:
    return draw_whole(cup_scene, ROOM)


def pixels_of(picture: Picture) -> NDArray[np.uint8]:
    with Image.open(io.BytesIO(picture.png)) as opened:
        assert opened.mode == "L"  # grey: nothing hangs on colour
        return np.asarray(opened)


def drawn_size_mm(picture: Picture, scale: Scale) -> tuple[float, float]:
    """Size of what is drawn above the bar, in mm of the thing."""
    drawn = pixels_of(picture)[: -FOOT_PX - 1] < 240
    wide, tall = (np.ptp(np.flatnonzero(drawn.any(axis=axis))) + 1 for axis in (0, 1))
    assert picture.width_mm == drawn.shape[1] / PX_PER_MM
    return wide / scale.px_per_mm, tall / scale.px_per_mm


def test_the_cup_is_printed_at_half_its_size(whole: tuple[Picture, ...]) -> None:
    # 80 mm do not go on 85 mm of paper at 1:1 with their margins, so it is 1:2.
    scale = scale_for(CUP_MM, CUP_TALL_MM, (ROOM[0] - 10, ROOM[1] - 10))
    assert scale == Scale(0.5)
    slack = EDGE_PX / scale.px_per_mm
    assert all("Scale 1:2" in picture.caption for picture in whole)
    # A number in its ring can reach past an edge: from the sides that of the window does.
    for picture in whole[:2]:
        assert drawn_size_mm(picture, scale) == pytest.approx((CUP_MM, CUP_TALL_MM), abs=slack)
    for picture in whole[2:4]:
        assert drawn_size_mm(picture, scale)[1] == pytest.approx(CUP_TALL_MM, abs=slack)
    for picture in whole[4:]:
        assert drawn_size_mm(picture, scale)[0] == pytest.approx(CUP_MM, abs=slack)


def test_the_bar_is_as_long_as_it_says(whole: tuple[Picture, ...]) -> None:
    for picture in whole:
        foot = pixels_of(picture)[-FOOT_PX + 22 : -FOOT_PX + 30]
        black = np.flatnonzero((foot == 0).all(axis=0))
        told = int(picture.caption.split("the bar is ")[1].split(" mm")[0])
        assert np.ptp(black) + 1 == told * Scale(0.5).px_per_mm
        assert (np.diff(black) == 1).all()


def test_a_loss_is_hatched_where_it_is_and_nowhere_else(whole: tuple[Picture, ...]) -> None:
    front, back = (pixels_of(picture)[: -FOOT_PX - 1] for picture in whole[:2])
    assert "loss 1 hatched" in whole[0].caption
    assert "no loss is seen" in whole[1].caption
    # The window: 20 mm tall, from -20 to 20 degrees on a radius of 40: 27.4 mm across the chord.
    dark = front < HATCH + 25
    rows, columns = np.nonzero(dark)
    middle = np.array(front.shape)[::-1] / 2
    near = (np.abs(columns - middle[0]) < 60) & (np.abs(rows - middle[1]) < 50)
    wide, tall = np.ptp(columns[near]) + 1, np.ptp(rows[near]) + 1
    assert wide == pytest.approx(4 * 2 * 40 * np.sin(np.radians(20)), abs=4)
    assert tall == pytest.approx(4 * 20, abs=4)
    # Hatching and paper are far apart in grey, and both from the body's mean.
    inside = front[int(middle[1]) - 30 : int(middle[1]) + 30, int(middle[0]) + 25 :][:, :20]
    assert np.quantile(inside, 0.95) - np.quantile(inside, 0.05) > 100
    assert LOST - HATCH > 150
    assert np.ptp(back[int(middle[1]) - 30 : int(middle[1]) + 30, 150:170].astype(int)) < 60


def test_a_crack_is_drawn_where_it_is_seen(whole: tuple[Picture, ...]) -> None:
    # At 6:00 from 15 to 55 mm up: straight before the back view, 4 px a mm, up and down.
    front, back = (pixels_of(picture)[: -FOOT_PX - 1] for picture in whole[:2])
    middle = back.shape[1] // 2
    foot = np.flatnonzero((back < 240).any(axis=1)).max()
    column = back[:, middle - 2 : middle + 3].min(axis=1)
    line = column[int(foot - 54 * 4) : int(foot - 20 * 4)]
    assert (line < 60).mean() > 0.8
    assert column[int(foot - 12 * 4)] > 100
    beside = front[:, 20:40]
    assert beside[beside.shape[0] // 2].min() > 60  # the front shows no crack


def test_close_views_are_larger_and_true(cup_scene: Scene) -> None:
    outside, inside = draw_loss(cup_scene, cup_scene.losses[0], (85.0, 70.0))
    assert "Scale 1:1" in outside.caption  # 27.4 + 12 mm at 2:1 would take 79 + 3 of 85 mm
    assert "inside" in inside.caption
    dark = pixels_of(outside)[: -FOOT_PX - 1] < HATCH + 25
    assert np.ptp(np.flatnonzero(dark.any(axis=0))) + 1 == pytest.approx(8 * 27.36, abs=8)


def test_the_same_design_gives_the_same_pictures(
    cup_scene: Scene, whole: tuple[Picture, ...]
) -> None:
    assert [one.png for one in draw_whole(cup_scene, ROOM)] == [one.png for one in whole]


@pytest.mark.parametrize(
    ("wide", "tall", "words"),
    [(30, 30, "2:1"), (70, 30, "1:1"), (30, 70, "1:1"), (140, 60, "1:2"), (300, 1, "1:5"),
     (700, 700, "1:10"), (1500, 10, "1:20"), (3000, 10, "1:50")],
)  # fmt: skip
def test_the_largest_scale_that_fits_is_taken(wide: float, tall: float, words: str) -> None:
    scale = scale_for(wide, tall, (75.0, 75.0))
    assert scale.words == words
    larger = [one for one in SCALES if one > scale.paper_mm_per_mm]
    assert all(max(wide, tall) * one > 75 for one in larger)


def test_what_fits_on_no_page_is_refused() -> None:
    with pytest.raises(InputError, match="--units"):
        scale_for(5000.0, 10.0, (75.0, 75.0))


@pytest.mark.parametrize("share", SCALES)
def test_ten_millimetres_are_whole_pixels_at_every_scale(share: float) -> None:
    scale = Scale(share)
    assert 50 * scale.px_per_mm == pytest.approx(round(50 * scale.px_per_mm), abs=1e-9)
    bar = bar_mm(scale, 60.0)
    assert 0 < bar * share <= 30 or bar == 5.0
    assert bar * scale.px_per_mm == pytest.approx(round(bar * scale.px_per_mm), abs=1e-9)


@pytest.mark.parametrize("paper", list(Paper))
def test_two_pictures_go_side_by_side(paper: Paper) -> None:
    assert 2 * half_width_mm(paper) < text_width_mm(paper) < paper.value[0] - 30


# --- thickness ------------------------------------------------------------------------------------


def shell(outer_mm: float, inner_mm: float) -> Mesh:
    """A hollow ball."""
    import manifold3d

    ball = manifold3d.Manifold.sphere(outer_mm, 128)
    return mesh_from_solid(ball - manifold3d.Manifold.sphere(inner_mm, 128))


def directions(n: int) -> NDArray[np.float64]:
    rng = np.random.default_rng(3)
    found = rng.normal(size=(n, 3))
    return found / np.linalg.norm(found, axis=1, keepdims=True)


def test_a_hollow_ball_is_as_thick_as_its_radii_differ() -> None:
    out = directions(500)
    mesh = shell(40.0, 34.5)
    start, _ = Surface(mesh).closest(40.0 * out)
    found = wall_thickness(Surface(mesh), start, -out)
    # Flats of 128 sides lie up to R (1 - cos(pi/128)) = 0.012 mm inside either ball.
    assert found == pytest.approx(np.full(500, 5.5), abs=0.03)


def test_breaks_that_touch_do_not_end_the_wall() -> None:
    # The same block as two halves that share a face, doubled: the wall is that of the whole.
    import manifold3d

    left = manifold3d.Manifold.cube((10.0, 10.0, 3.0))
    halves = [mesh_from_solid(one) for one in (left, left.translate((0.0, 0.0, 3.0)))]
    count = len(halves[0].vertices)
    both = Mesh(
        np.concatenate([one.vertices for one in halves]),
        np.concatenate([halves[0].faces, halves[1].faces + count]),
    )
    start = np.array([[5.1, 4.7, 6.0], [2.2, 3.1, 0.0]])
    inward = np.array([[0.0, 0.0, -1.0], [0.0, 0.0, 1.0]])
    assert wall_thickness(Surface(both), start, inward) == pytest.approx([6.0, 6.0], abs=1e-4)
    # Apart by more than a seam is two walls.
    lifted = both.vertices.copy()
    lifted[count:, 2] += 1.0
    moved = Mesh(lifted, both.faces)
    start = np.array([[5.1, 4.7, 7.0]])
    assert wall_thickness(Surface(moved), start, inward[:1]) == pytest.approx([3.0], abs=1e-4)


def test_a_ray_that_never_comes_out_is_not_known() -> None:
    floor = Mesh(
        np.array([[-50.0, -50, 0], [50, -50, 0], [0, 80, 0]]), np.array([[0, 1, 2]], np.int32)
    )
    found = wall_thickness(Surface(floor), np.array([[0.0, 0, 0]]), np.array([[0.0, 0, -1]]))
    assert np.isnan(found).all()


def test_the_cup_is_mapped_with_its_wall_of_four_millimetres(cup_scene: Scene) -> None:
    maps, key = draw_thickness(cup_scene, ROOM)
    assert len(maps) == 4
    for picture in maps:
        assert "Scale 1:2" in picture.caption
        assert drawn_size_mm(picture, Scale(0.5))[0] == pytest.approx(CUP_MM, abs=0.5)
    assert f"{CUP_WALL_MM:g}" in key.alt
    # Missing material is put back: the window is no thicker and no thinner than the wall about it.
    front = pixels_of(maps[0])[: -FOOT_PX - 1]
    middle = np.array(front.shape) // 2
    window, wall = front[middle[0] + 25, middle[1]], front[middle[0] + 90, middle[1]]
    assert window == wall


@pytest.mark.parametrize("n", range(1, 9))
def test_greys_darken_with_thickness_by_steps_that_an_eye_can_tell(n: int) -> None:
    greys = band_greys(n).astype(int)
    assert len(greys) == n
    assert (np.diff(greys) <= -20).all()
    assert greys.min() >= 70 - 1e-9 or n == 1


def test_edges_are_round_rising_and_hold_like_shares() -> None:
    rng = np.random.default_rng(5)
    wall, foot = rng.normal(5.0, 0.4, 9000), rng.normal(12.0, 1.0, 1000)
    values = np.concatenate([wall, foot])
    edges = band_edges(values)
    assert (np.diff(edges) > 0).all()
    assert np.allclose(np.round(edges / 0.5) * 0.5, edges)
    shares = np.histogram(values, np.concatenate([[0], edges, [99]]))[0] / len(values)
    assert shares.max() < 0.5
    assert len(band_words(edges)) == len(edges) + 1
    assert band_words(np.array([1.0, 2.5])) == ("below 1", "1 – 2.5", "2.5 and more")


def test_a_wall_all_of_one_thickness_still_has_a_key() -> None:
    assert list(band_edges(np.full(10, 4.0))) == [4.0]
    assert list(band_edges(np.zeros(0))) == [1.0]


def test_a_design_without_a_loss_is_drawn(tmp_path: Path) -> None:
    from record.record_cases import write_cup

    from lossfill.make.store import read_upright
    from lossfill.record.pictures import make_scene

    folder = write_cup(tmp_path / "whole", losses=[], order=[])
    scene = make_scene(*read_upright(folder))
    pictures = draw_whole(scene, ROOM)
    assert len(pictures) == 6
    assert all("no loss is seen" in one.caption for one in pictures)


def test_cracks_have_letters_of_their_own_however_many_there_are() -> None:
    letters = [letter_of(index) for index in range(60)]
    assert letters[:2] == ["A", "B"]
    assert letters[25:28] == ["Z", "AA", "AB"]
    assert len(set(letters)) == 60
