"""A scan of one skin becomes a wall where its thickness is given or can be borrowed."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
from body.body_checks import assert_closed, normals
from numpy.testing import assert_allclose
from shapes import as_scan, bowl_shell, centroids, revolve, sphere, turned_over
from shapes import without as without_faces

from lossfill.body import Body, make_body
from lossfill.body.overlap import find_overlap
from lossfill.errors import InputError, NotWatertightError
from lossfill.mesh import FloatArray, Mesh, face_vectors, transformed
from lossfill.solids import mesh_from_solid, solid_from_mesh

BALL_MM, WALL_MM, STEPS = 40.0, 3.0, 64


def open_ball(first_ring: int = 12) -> Mesh:
    """A ball of radius 40 mm without its top; open from ring 12 of 64: at 33.75° from the axis."""
    ball = sphere(BALL_MM, 128, STEPS).mesh
    edge = BALL_MM * np.cos(np.pi * first_ring / STEPS) + 1e-6
    return used_only(without_faces(ball, centroids(ball)[:, 2] > edge))


def used_only(mesh: Mesh) -> Mesh:
    used, faces = np.unique(mesh.faces, return_inverse=True)
    return Mesh(mesh.vertices[used], faces.reshape(-1, 3))


def shell_volume(first_ring: int, wall_mm: float) -> float:
    """Between two balls below a cone from the middle: 2π/3 (1 + cos θ)(R³ - r³)."""
    share = 1.0 + np.cos(np.pi * first_ring / STEPS)
    return float(2.0 * np.pi / 3.0 * share * (BALL_MM**3 - (BALL_MM - wall_mm) ** 3))


def thickness(body: Body) -> FloatArray:
    """Depth of the laid inner skin's vertices below the ball, away from the edge, mm."""
    assert body.assumed is not None
    points = body.mesh.vertices[np.unique(body.mesh.faces[body.assumed])]
    points = points[points[:, 2] < 20.0]
    return np.asarray(BALL_MM - np.linalg.norm(points, axis=1))


def solid_parts(body: Body) -> int:
    return len(body.solid.decompose())


@pytest.mark.parametrize("wall_mm", [1.5, 3.0, 8.0])
@pytest.mark.parametrize("inside_out", [False, True])
def test_a_ball_gets_a_wall_of_the_given_thickness(wall_mm: float, inside_out: bool) -> None:
    mesh = open_ball()
    body = make_body(as_scan(turned_over(mesh) if inside_out else mesh), wall_mm=wall_mm)
    assert_closed(body)
    assert solid_parts(body) == 1
    assert find_overlap(body.mesh).volume_mm3 == 0.0
    # Facets of the ball lie up to 40 (π/64)²/8 + 40 (2π/128)²/8 = 0.024 mm inside it; along the
    # diagonal of a cell of up to 1.4 mm a ball of 32 mm errs by 3 · 1.4² / (8 · 32) = 0.023 mm,
    # and its facets' own distance adds to that.
    assert_allclose(thickness(body), wall_mm, atol=0.07)
    # The facets' area falls short by 0.1 to 0.2 %.
    assert_allclose(body.solid.volume(), shell_volume(12, wall_mm), rtol=5e-3)


def test_the_scanned_skin_stays_as_it_is() -> None:
    mesh = open_ball()
    body = make_body(as_scan(mesh), wall_mm=WALL_MM)
    assert body.assumed is not None
    measured = np.unique(body.mesh.faces[~body.guessed])
    given = {tuple(point) for point in mesh.vertices}
    assert {tuple(point) for point in body.mesh.vertices[measured]} == given
    assert int((~body.guessed).sum()) == len(mesh.faces)
    assert not (body.assumed & body.patched).any()
    # What is measured faces out, what is assumed faces in or is the edge.
    out = (centroids(body.mesh) * normals(body.mesh)).sum(axis=1)
    assert (out[~body.guessed] > 0.0).all()
    # A few slivers of the laid skin's grid, of some thousandths of a mm², face anywhere.
    area = np.linalg.norm(face_vectors(body.mesh), axis=1)
    assert (out[body.assumed & (area > 0.01)] < 0.1 * BALL_MM).all()


def test_what_was_assumed_is_said() -> None:
    body = make_body(as_scan(open_ball()), wall_mm=WALL_MM)
    whats = [repair.what for repair in body.repairs]
    assert whats[0] == "assumed an inner skin 3.0 mm inside"
    assert body.repairs[0].size_mm > 1.5 * BALL_MM
    assert whats[1] == "assumed that the wall ends square to its skin at an opening"
    assert body.repairs[1].count == 1
    assert_allclose(body.repairs[1].size_mm, 2 * BALL_MM * np.sin(12 * np.pi / 64), rtol=1e-3)
    (warning,) = body.warnings
    assert "the inner skin was not measured but assumed to lie 3.0 mm inside" in warning
    assert "as you said" in warning


def test_without_a_wall_the_refusal_says_to_give_it() -> None:
    with pytest.raises(NotWatertightError, match=r"scan of one skin.*--wall MM"):
        make_body(as_scan(open_ball()))


@pytest.mark.parametrize("wall_mm", [0.0, -3.0, 60.0, np.nan])
def test_a_wall_that_cannot_be_is_refused(wall_mm: float) -> None:
    with pytest.raises(InputError, match=r"outside 0\.5 to 50 mm"):
        make_body(as_scan(open_ball()), wall_mm=wall_mm)


def test_a_wall_without_room_for_a_hollow_is_refused() -> None:
    with pytest.raises(InputError, match="leaves no hollow"):
        make_body(as_scan(open_ball()), wall_mm=45.0)


def test_a_wall_is_not_needed_where_both_skins_were_scanned() -> None:
    whole = bowl_shell(96).mesh
    body = make_body(as_scan(whole), wall_mm=WALL_MM)
    assert body.assumed is None
    assert_allclose(body.solid.volume(), make_body(as_scan(whole)).solid.volume(), rtol=0)
    assert "was not used" in body.warnings[0]


# --- bottoms, tight curves ------------------------------------------------------------------------

FOOTED = np.array(
    [[0, 3], [16, 3], [16, 0], [20, 0], [20, 3], [30, 20], [30, 70], [12, 90], [12, 110]], float
)
"""Outer skin of a bottle on a foot ring 4 mm wide and 3 mm high."""


def resampled(profile: FloatArray) -> FloatArray:
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(profile, axis=0), axis=1))])
    at = np.unique(np.concatenate([length, np.arange(0.0, length[-1], 1.5)]))
    return np.stack([np.interp(at, length, profile[:, k]) for k in range(2)], axis=1)


def skin_of(profile: FloatArray) -> Mesh:
    top = profile[-1, 1]
    bottom = [] if profile[0, 0] == 0.0 else [[0.0, profile[0, 1]]]
    closed = revolve(np.vstack([*bottom, resampled(profile), [[0.0, top]]]), 96).mesh
    level = np.ptp(closed.vertices[closed.faces][..., 2], axis=1) < 1e-9
    drop = centroids(closed)[:, 2] > top - 1e-6
    if len(bottom):
        drop |= level & (centroids(closed)[:, 2] < profile[0, 1] + 1e-6)
    return without_faces(closed, drop)


def test_a_foot_ring_thinner_than_two_walls_stays_solid() -> None:
    body = make_body(as_scan(skin_of(FOOTED)), wall_mm=WALL_MM)
    assert_closed(body)
    assert solid_parts(body) == 1
    assert find_overlap(body.mesh).volume_mm3 == 0.0
    # Two inner skins 3 mm inside a ring 4 mm wide would cross: it is filled instead.
    ring = np.pi * (20.0**2 - 16.0**2)
    assert_allclose(body.solid.slice(1.5).area(), ring, rtol=2e-3)
    # The neck, above all curves: between 12 and 9 mm.
    assert_allclose(body.solid.slice(105.0).area(), np.pi * (12.0**2 - 9.0**2), rtol=0.01)


def test_the_wall_ends_square_at_the_mouth() -> None:
    body = make_body(as_scan(skin_of(FOOTED)), wall_mm=WALL_MM)
    assert_allclose(body.mesh.bounds[1, 2], 110.0, atol=1e-6)
    assert_allclose(body.solid.slice(109.9).area(), np.pi * (12.0**2 - 9.0**2), rtol=0.02)


def test_a_bottom_that_was_not_scanned_is_closed_flat() -> None:
    profile = FOOTED[4:]  # cut off where the wall meets the foot, 40 mm wide
    body = make_body(as_scan(skin_of(profile)), wall_mm=WALL_MM)
    assert_closed(body)
    closed = next(repair for repair in body.repairs if "bottom" in repair.what)
    assert_allclose(closed.size_mm, 40.0, rtol=1e-3)
    assert_allclose(closed.place_mm, (0.0, 0.0, 3.0), atol=0.1)
    assert "was taken for the bottom" in body.warnings[1]
    assert_allclose(body.mesh.vertices[body.mesh.faces[body.patched]][..., 2], 3.0, atol=1e-9)
    # A floor one wall thick, whole on its axis, and hollow above it.
    assert_allclose(body.solid.slice(4.5).area(), np.pi * 20.6**2, rtol=0.03)
    assert body.solid.slice(6.5).area() < 0.6 * np.pi * 20.0**2


def test_the_body_moves_with_the_scan() -> None:
    turn = np.eye(4)
    turn[:3, :3] = [[0.36, 0.48, -0.8], [-0.8, 0.6, 0.0], [0.48, 0.64, 0.6]]
    turn[:3, 3] = [300.0, -50.0, 20.0]
    mesh = skin_of(FOOTED)
    here = make_body(as_scan(mesh), wall_mm=WALL_MM).solid
    there = make_body(as_scan(transformed(mesh, turn)), wall_mm=WALL_MM).solid
    # The grid of the inner skin lies otherwise: cells of 1.2 mm err by 0.01 mm in 3.
    assert_allclose(there.volume(), here.volume(), rtol=3e-3)


# --- a wall borrowed from the scan ----------------------------------------------------------------


def broken_bowl() -> Mesh:
    """The bowl (outer ball 60 mm, wall 4 mm) with a hole 24 mm wide, square to the wall."""
    bowl = solid_from_mesh(bowl_shell(192, spacing_mm=1.2).mesh)
    drill = manifold3d.Manifold.cylinder(40.0, 12.0, 12.0, 96).translate((0.0, 0.0, 40.0))
    drilled = bowl - drill.rotate((0.0, 125.0, 0.0)).translate((0.0, 0.0, 60.0))
    return mesh_from_solid(drilled.refine_to_length(1.5))


def on_ball(mesh: Mesh, radius_mm: float) -> np.ndarray:
    corners = mesh.vertices[mesh.faces] - [0.0, 0.0, 60.0]
    return np.asarray((np.abs(np.linalg.norm(corners, axis=2) - radius_mm) < 0.06).all(axis=1))


def is_inside(mesh: Mesh) -> np.ndarray:
    """The hollow's skin: the inner ball and the floor."""
    c = centroids(mesh)
    facing_up = normals(mesh)[:, 2] > 0.9
    floor = facing_up & (np.hypot(c[:, 0], c[:, 1]) < 30.0) & (c[:, 2] < 20.0)
    return np.asarray(on_ball(mesh, 56.0) | floor)


def test_the_wall_is_borrowed_from_break_faces() -> None:
    mesh = broken_bowl()
    outer = without_faces(mesh, is_inside(mesh))
    body = make_body(as_scan(outer))
    assert_closed(body)
    assert "break faces" in body.warnings[0]
    assumed = float(body.warnings[0].split("to lie ")[1].split(" mm")[0])
    # Bands of triangles 1.5 mm long tell the strip's ends to a few tenths.
    assert_allclose(assumed, 4.0, atol=0.3)


def test_the_wall_is_borrowed_from_where_both_skins_were_scanned() -> None:
    bowl = bowl_shell(192, spacing_mm=1.2).mesh
    deep = is_inside(bowl) & (centroids(bowl)[:, 2] < bowl.bounds[1, 2] - 14.0)
    half_seen = used_only(without_faces(bowl, deep))
    body = make_body(as_scan(half_seen))
    assert_closed(body)
    assert "both skins were scanned" in body.warnings[0]
    assumed = float(body.warnings[0].split("to lie ")[1].split(" mm")[0])
    assert_allclose(assumed, 4.0, atol=0.15)
    # The part of the inner skin that was seen stays.
    kept = {tuple(p) for p in body.mesh.vertices[np.unique(body.mesh.faces[~body.guessed])]}
    assert {tuple(p) for p in half_seen.vertices} <= kept
