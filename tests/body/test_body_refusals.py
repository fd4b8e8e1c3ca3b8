"""What is no vessel's solid is refused in one clear line."""

from __future__ import annotations

import numpy as np
import pytest
from shapes import as_scan, bowl_shell, combined, moved, plate, revolve, soup, sphere, turned_over

from lossfill.body import make_body
from lossfill.body.overlap import find_overlap
from lossfill.errors import InputError
from lossfill.mesh import Mesh

BALL = sphere(30.0, 64).mesh


def refusal(mesh: Mesh) -> str:
    with pytest.raises(InputError) as caught:
        make_body(as_scan(mesh))
    text = str(caught.value)
    assert "\n" not in text
    assert len(text) < 320
    return text


def test_a_flat_sheet() -> None:
    assert "one flat sheet, 100 by 100 mm" in refusal(plate(100.0, 10))


def test_a_tilted_flat_sheet() -> None:
    sheet = plate(80.0, 6)
    tilted = sheet.vertices @ np.array([[0.8, 0.0, 0.6], [0.0, 1.0, 0.0], [-0.6, 0.0, 0.8]]).T
    assert "one flat sheet, 80 by 80 mm" in refusal(Mesh(tilted, sheet.faces))


@pytest.mark.parametrize("as_soup", [False, True])
def test_a_sheet_scanned_from_both_sides(as_soup: bool) -> None:
    sheet = combined(plate(100.0, 10), turned_over(plate(100.0, 10)))
    assert "encloses no material" in refusal(soup(sheet) if as_soup else sheet)


def test_a_box_too_thin_to_be_a_pot() -> None:
    side = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 0.003], [0.0, 0.003]])
    assert "mean wall is 0.003" in refusal(revolve(side, 64).mesh)


@pytest.mark.parametrize("gap_mm", [0.0, 0.5, 100.0])
def test_two_objects(gap_mm: float) -> None:
    text = refusal(combined(BALL, moved(BALL, 60.0 + gap_mm)))
    assert "2 separate objects (104 and 104 mm across)" in text
    assert "one vessel per file" in text


def test_cones_that_touch_at_their_tips() -> None:
    cone = revolve(np.array([[0.0, 0.0], [20.0, 0.0], [0.0, 20.0]]), 24).mesh
    upper = Mesh(cone.vertices * [1.0, 1.0, -1.0] + [0.0, 0.0, 40.0], cone.faces[:, ::-1])
    assert "2 separate objects" in refusal(combined(cone, upper))


def test_one_vessel_standing_in_another() -> None:
    bowl = bowl_shell(64).mesh
    text = refusal(combined(bowl, moved(sphere(15.0, 32).mesh, 0.0, 0.0, 30.0)))
    assert "2 separate objects" in text


def test_only_debris() -> None:
    scraps = combined(*(moved(sphere(1.0, 6, 3).mesh, 3.0 * k, 2.0 * k, k) for k in range(40)))
    text = refusal(scraps)
    assert "40 loose scraps, the largest 3.0 mm across" in text


def test_edges_of_three_triangles() -> None:
    a, b = BALL.faces[50, :2]
    tip = BALL.vertices[a] * 3.0
    mesh = Mesh(
        np.concatenate([BALL.vertices, tip[None]]),
        np.concatenate([BALL.faces, [[a, b, len(BALL.vertices)]]]),
    )
    text = refusal(mesh)
    assert "1 edges are shared by three or more triangles" in text
    place = 0.5 * (BALL.vertices[a] + BALL.vertices[b])
    assert f"({place[0]:.1f}, {place[1]:.1f}, {place[2]:.1f})" in text


def test_a_surface_with_one_side() -> None:
    n = 60
    turn = np.linspace(0.0, 2.0 * np.pi, n, endpoint=False)
    rims = []
    for side in (-8.0, 8.0):
        r = 40.0 + side * np.cos(turn / 2.0)
        rims.append(np.column_stack([r * np.cos(turn), r * np.sin(turn), side * np.sin(turn / 2)]))
    k = np.arange(n)
    a, b = k, k + n
    a_next, b_next = np.append(k[1:], n), np.append(k[1:] + n, 0)  # the rims change places
    strip = np.concatenate([np.stack([a, a_next, b_next], 1), np.stack([a, b_next, b], 1)])
    assert "only one side" in refusal(Mesh(np.concatenate(rims), strip))


def self_overlapping() -> Mesh:
    """A ring whose section runs through itself: 5 mm wide, 15 mm high, at radius 25 to 30."""
    section = [[0, 0], [30, 0], [30, 20], [20, 20], [20, 30], [25, 30], [25, 5], [35, 5]]
    return revolve(np.array([*section, [35, 40], [0, 40]], dtype=float), 128).mesh


def test_a_surface_that_runs_through_itself() -> None:
    text = refusal(self_overlapping())
    assert "runs through itself" in text
    # pi (30² - 25²) 15 = 12.96 ml, counted in cells of 1.7 mm that are at least 1.3-fold.
    found = float(text.split("about ")[1].split(" ml")[0])
    assert found == pytest.approx(12.96, rel=0.1)


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_an_overlap_is_found_from_any_side(axis: int) -> None:
    mesh = self_overlapping()
    rolled = Mesh(np.roll(mesh.vertices, axis, axis=1), mesh.faces)
    found = find_overlap(rolled)
    assert found.volume_mm3 == pytest.approx(12959.0, rel=0.15)
    middle = np.roll([0.0, 0.0, 12.5], axis)
    assert np.linalg.norm(np.array(found.place_mm) - middle) < 1.7


@pytest.mark.parametrize("n", [6, 24, 128])
def test_coarse_and_fine_solids_show_no_overlap(n: int) -> None:
    for mesh in (bowl_shell(n).mesh, sphere(30.0, n).mesh, bowl_shell(n, spacing_mm=9.0).mesh):
        assert find_overlap(mesh).volume_mm3 == 0.0


@pytest.mark.parametrize("noise_mm", [0.05, 0.1, 0.2])
def test_scan_noise_shows_no_overlap(noise_mm: float) -> None:
    bowl = bowl_shell(256, spacing_mm=1.0).mesh
    noise = np.random.default_rng(7).normal(0.0, noise_mm, bowl.vertices.shape)
    assert find_overlap(Mesh(bowl.vertices + noise, bowl.faces)).volume_mm3 == 0.0


@pytest.mark.slow
def test_a_million_scraps_are_dropped() -> None:
    count = 1_000_000
    random = np.random.default_rng(11)
    middle = np.repeat(random.uniform(-100.0, 100.0, (count, 1, 3)), 3, axis=1)
    corners = (middle + random.normal(0.0, 0.1, middle.shape)).reshape(-1, 3)
    scraps = Mesh(corners, np.arange(3 * count).reshape(-1, 3))
    assert "loose scraps" in refusal(scraps)
    body = make_body(as_scan(combined(scraps, BALL)))
    assert len(body.mesh.faces) == len(BALL.faces)
    dropped = next(repair for repair in body.repairs if repair.what == "dropped loose scraps")
    # A few scraps of 10^6 lie within rounding of each other and are welded.
    assert count - 100 <= dropped.count <= count
