"""Scan holes are closed where the truth is known, and mouths are not."""

from __future__ import annotations

import numpy as np
import pytest
from body.body_checks import assert_closed, facing_out
from numpy.testing import assert_allclose
from shapes import Shape, as_scan, bowl_shell, centroids, combined, moved, revolve, turned_over
from shapes import without as without_faces

from lossfill.body import Body, make_body
from lossfill.errors import NotWatertightError
from lossfill.mesh import BoolArray, FloatArray, Mesh, face_vectors

BOWL = bowl_shell(192, spacing_mm=1.2)
OUTER_MM, INNER_MM = 60.0, 56.0


def near(mesh: Mesh, place: list[float], radius_mm: float) -> BoolArray:
    return np.asarray(np.linalg.norm(centroids(mesh) - place, axis=1) < radius_mm)


def holed(shape: Shape, radius_mm: float, *, outside: bool) -> Mesh:
    """The bowl without a round patch of one skin, half-way up its wall."""
    ball = OUTER_MM if outside else INNER_MM
    place = [ball * np.cos(0.6), 0.0, OUTER_MM - ball * np.sin(0.6)]
    skin = facing_out(shape.mesh) == outside
    return without_faces(shape.mesh, skin & near(shape.mesh, place, radius_mm))


def patch_vertices(body: Body) -> FloatArray:
    return body.mesh.vertices[np.unique(body.mesh.faces[body.patched])]


@pytest.mark.parametrize("outside", [True, False], ids=["outer", "inner"])
@pytest.mark.parametrize("radius_mm", [2.5, 5.0, 12.5])
def test_a_patch_follows_the_wall(radius_mm: float, outside: bool) -> None:
    body = make_body(as_scan(holed(BOWL, radius_mm, outside=outside)))
    assert_closed(body)
    ball = OUTER_MM if outside else INNER_MM
    off = np.linalg.norm(patch_vertices(body) - [0.0, 0.0, OUTER_MM], axis=1) - ball
    # The aim is 0.1 mm at 25 mm; facets of the known skin lie up to 0.01 mm inside the ball.
    assert np.abs(off).max() < 0.1
    # A flat patch would miss by the sag r²/2R, so the test can tell the two.
    if radius_mm > 5.0:
        assert radius_mm**2 / (2.0 * ball) > 1.0
    area = np.pi * radius_mm**2
    assert_allclose(body.solid.volume(), BOWL.volume_mm3, atol=0.1 * area, rtol=0)
    (repair,) = body.repairs
    assert repair.what == "closed a scan hole in a wall"
    # The hole ends at whole triangles, so it is wider by up to an edge (2 mm) each side.
    assert 2.0 * radius_mm - 2.0 < repair.size_mm < 2.0 * radius_mm + 6.0
    assert repair.place_mm is not None
    assert np.linalg.norm(np.array(repair.place_mm) - patch_vertices(body).mean(axis=0)) < 2.0


def test_only_the_patch_is_marked_as_patched() -> None:
    mesh = holed(BOWL, 5.0, outside=True)
    body = make_body(as_scan(mesh))
    assert int((~body.patched).sum()) == len(mesh.faces)
    assert np.linalg.norm(np.ptp(patch_vertices(body), axis=0)) < 20.0


def test_a_patch_is_as_fine_as_the_mesh_around_it() -> None:
    body = make_body(as_scan(holed(BOWL, 12.5, outside=True)))
    area = np.linalg.norm(face_vectors(body.mesh), axis=1)
    around = near(body.mesh, [49.5, 0.0, 26.1], 20.0) & ~body.patched
    ratio = np.median(area[body.patched]) / np.median(area[around])
    assert 0.3 < ratio < 3.0


def test_a_patch_errs_less_on_a_smaller_hole() -> None:
    worst = []
    for radius_mm in (5.0, 10.0, 20.0):
        body = make_body(as_scan(holed(BOWL, radius_mm, outside=True)))
        distance = np.linalg.norm(patch_vertices(body) - [0.0, 0.0, OUTER_MM], axis=1)
        worst.append(float(np.abs(distance - OUTER_MM).max()))
    assert worst[2] > 1.5 * worst[1]
    assert worst[0] <= worst[1]


def test_noise_does_not_spoil_a_patch() -> None:
    mesh = holed(BOWL, 10.0, outside=True)
    noise = np.random.default_rng(3).normal(0.0, 0.05, mesh.vertices.shape)
    body = make_body(as_scan(Mesh(mesh.vertices + noise, mesh.faces)))
    off = np.linalg.norm(patch_vertices(body) - [0.0, 0.0, OUTER_MM], axis=1) - OUTER_MM
    # Three standard deviations of the noise at the rim, where the patch takes it over.
    assert np.sqrt(np.mean(off**2)) < 0.15


@pytest.mark.parametrize("count", [1, 30])
def test_pinholes_are_closed_anywhere(count: int) -> None:
    # Lip, foot ring and walls alike; chosen apart from each other.
    chosen = np.linspace(50, len(BOWL.mesh.faces) - 50, count).astype(int)
    drop = np.isin(np.arange(len(BOWL.mesh.faces)), chosen)
    body = make_body(as_scan(without_faces(BOWL.mesh, drop)))
    assert_closed(body)
    assert int(body.patched.sum()) == count
    assert_allclose(body.solid.volume(), BOWL.volume_mm3, rtol=1e-9)
    assert sum(repair.count for repair in body.repairs) == count
    assert len(body.repairs) == min(count, 21)


def test_the_missing_ring_that_a_bowl_stands_on_is_closed_flat() -> None:
    drop = centroids(BOWL.mesh)[:, 2] < -3.0 + 1e-6
    assert drop.sum() > 100
    body = make_body(as_scan(without_faces(BOWL.mesh, drop)))
    assert_closed(body)
    assert_allclose(body.solid.volume(), BOWL.volume_mm3, rtol=1e-9)
    (repair,) = body.repairs
    assert repair.what == "closed a flat scan hole"
    assert_allclose(repair.size_mm, 56.0, rtol=1e-3)
    assert_allclose(repair.place_mm, [0.0, 0.0, -3.0], atol=1e-6)


def test_a_foot_cut_off_raggedly_by_the_turntable_is_closed() -> None:
    noise = np.random.default_rng(5).normal(0.0, 0.05, BOWL.mesh.vertices.shape)
    noisy = Mesh(BOWL.mesh.vertices + noise, BOWL.mesh.faces)
    body = make_body(as_scan(without_faces(noisy, centroids(noisy)[:, 2] < -1.7)))
    assert_closed(body)
    # The ring is cut 1.3 to 2.2 mm above its underside: area pi (28² - 23²) = 801 mm².
    lost = BOWL.volume_mm3 - body.solid.volume()
    assert 801.0 < lost < 801.0 * 2.2


def cup(radius_mm: float, height_mm: float, wall_mm: float, floor_mm: float) -> Shape:
    """A straight cup without a foot ring, so that its whole underside stands on the table."""
    up = np.linspace(0.0, height_mm, 30)
    parts = [
        np.array([[0.0, 0.0]]),
        np.column_stack([np.linspace(2.0, radius_mm, 12)[:-1], np.zeros(11)]),
        np.column_stack([np.full(30, radius_mm), up]),
        np.column_stack([np.full(30, radius_mm - wall_mm), np.linspace(height_mm, floor_mm, 30)]),
        np.array([[0.0, floor_mm]]),
    ]
    return revolve(np.concatenate(parts), 96)


@pytest.mark.parametrize(
    "size", [(42, 45, 4, 5), (40, 90, 3, 5), (60, 60, 15, 15), (25, 40, 4, 5), (20, 200, 3, 4)]
)
def test_a_missing_underside_is_closed_flat(size: tuple[float, float, float, float]) -> None:
    shape = cup(*size)
    mesh = without_faces(shape.mesh, centroids(shape.mesh)[:, 2] < 1e-9)
    body = make_body(as_scan(mesh))
    assert_closed(body)
    assert_allclose(body.solid.volume(), shape.volume_mm3, rtol=1e-9)
    assert_allclose(body.repairs[0].size_mm, 2.0 * size[0], rtol=2e-3)


def outside_only(profile: FloatArray) -> Mesh:
    """The outer skin of a vessel, open at its mouth."""
    return without_faces(
        (whole := revolve(np.vstack([profile, [[0.0, profile[-1, 1]]]]), 96)).mesh,
        centroids(whole.mesh)[:, 2] > profile[-1, 1] - 1e-9,
    )


RISE = np.linspace(0.0, 1.0, 60)
MOUTHS = {
    "cup": np.column_stack([np.where(RISE < 0.3, 40.0 * RISE / 0.3, 40.0), 90 * RISE]),
    "bowl": np.column_stack([60 * np.sin(RISE * 1.57), 60 * (1 - np.cos(RISE * 1.57))]),
    "dish": np.column_stack([135.0 * RISE, 30.0 * RISE**4]),
    "waisted vase": np.column_stack([25 + 25 * (2 * RISE - 1) ** 2, 150 * RISE]),
    "bottle": np.column_stack([np.clip(50 - 300 * (RISE - 0.6), 15, 50), 200 * RISE]),
    "ink pot": np.column_stack([np.clip(60 - 300 * (RISE - 0.9), 30, 60), 40 * RISE]),
}


@pytest.mark.parametrize("name", MOUTHS)
@pytest.mark.parametrize("inside_out", [False, True])
def test_a_vessel_scanned_from_outside_only_is_refused(name: str, inside_out: bool) -> None:
    profile = MOUTHS[name]
    profile = profile if profile[0, 0] == 0.0 else np.vstack([[[0.0, 0.0]], profile])
    mesh = outside_only(profile)
    with pytest.raises(NotWatertightError) as caught:
        make_body(as_scan(turned_over(mesh) if inside_out else mesh))
    text = str(caught.value)
    assert "1 opening remains" in text
    # The mouth's width is named to 0.1 mm.
    width = float(text.split("widest is ")[1].split(" mm")[0])
    assert_allclose(width, 2.0 * profile[-1, 0], rtol=3e-3)
    assert "looks like a scan of one skin" in text
    assert "--wall MM" in text
    assert "\n" not in text
    assert len(text) < 320


def test_the_inner_skin_alone_is_refused() -> None:
    inner = ~facing_out(BOWL.mesh) & (np.linalg.norm(centroids(BOWL.mesh)[:, :2], axis=1) < 57.0)
    inner &= centroids(BOWL.mesh)[:, 2] > 3.9
    with pytest.raises(NotWatertightError, match=r"the widest is 11\d\.\d mm across"):
        make_body(as_scan(without_faces(BOWL.mesh, ~inner)))


def test_a_wide_hole_in_a_wall_is_refused() -> None:
    mesh = holed(BOWL, 30.0, outside=True)
    with pytest.raises(NotWatertightError, match=r"1 opening remains.*(5|6)\d\.\d mm across"):
        make_body(as_scan(mesh))


def test_openings_left_are_counted() -> None:
    outer = facing_out(BOWL.mesh)
    c = centroids(BOWL.mesh)
    sides = near(BOWL.mesh, [52.0, 0.0, 30.0], 28.0) | near(BOWL.mesh, [-52.0, 0.0, 30.0], 28.0)
    mesh = without_faces(BOWL.mesh, sides & outer & (c[:, 2] > 4.0))
    with pytest.raises(NotWatertightError, match="2 openings remain"):
        make_body(as_scan(mesh))


def test_holes_face_to_face_are_closed_with_a_warning() -> None:
    drop = near(BOWL.mesh, [45.0, 0.0, 20.0], 9.0)
    body = make_body(as_scan(without_faces(BOWL.mesh, drop)))
    assert_closed(body)
    assert len(body.repairs) == 2
    (warning,) = body.warnings
    assert "scan the break as well" in warning


def test_a_short_rim_that_cannot_be_laid_flat_takes_the_least_area() -> None:
    # Across the lip: the rim climbs one side and comes down the other.
    top = BOWL.mesh.vertices[:, 2].max()
    drop = near(BOWL.mesh, [58.0, 0.0, top], 4.0)
    body = make_body(as_scan(without_faces(BOWL.mesh, drop)))
    assert_closed(body)
    lost = BOWL.volume_mm3 - body.solid.volume()
    # Less than the half ball of lip that was cut away, more than nothing.
    assert 0.0 < lost < 2.0 / 3.0 * np.pi * 6.0**3


def test_holes_that_touch_at_a_vertex_are_closed_one_by_one() -> None:
    vertex = 5000
    fan = np.flatnonzero((BOWL.mesh.faces == vertex).any(axis=1))
    first = fan[0]
    apart = [
        face
        for face in fan[1:]
        if len(np.intersect1d(BOWL.mesh.faces[first], BOWL.mesh.faces[face])) == 1
    ]
    drop = np.isin(np.arange(len(BOWL.mesh.faces)), [first, apart[0]])
    body = make_body(as_scan(without_faces(BOWL.mesh, drop)))
    assert_closed(body)
    assert len(body.repairs) == 2
    assert_allclose(body.solid.volume(), BOWL.volume_mm3, rtol=1e-9)


def test_holes_and_debris_and_seams_at_once() -> None:
    from shapes import soup, sphere

    mesh = soup(holed(BOWL, 5.0, outside=True))
    body = make_body(as_scan(turned_over(combined(mesh, moved(sphere(0.5, 8, 4).mesh, 80.0)))))
    assert_closed(body)
    assert [repair.what for repair in body.repairs] == [
        "joined vertices that were split along seams",
        "dropped loose scraps",
        "closed a scan hole in a wall",
        "turned the inside-out scan",
    ]
    assert_allclose(body.solid.volume(), BOWL.volume_mm3, rtol=1e-4)
