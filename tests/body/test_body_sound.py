"""Sound scans pass untouched; faults of the file, not of the pot, are mended without a trace."""

from __future__ import annotations

import numpy as np
import pytest
from body.body_checks import assert_closed
from numpy.testing import assert_allclose, assert_array_equal
from shapes import (
    as_scan,
    bowl_shell,
    centroids,
    combined,
    moved,
    plate,
    soup,
    sphere,
    turned_over,
)

from lossfill.body import Body, make_body
from lossfill.mesh import IntArray, Mesh

BOWL = bowl_shell(96)
BALL = sphere(30.0, 64)


def repairs(body: Body) -> list[str]:
    return [repair.what for repair in body.repairs]


def with_faces(mesh: Mesh, more: IntArray) -> Mesh:
    return Mesh(mesh.vertices, np.concatenate([mesh.faces, more]))


def test_a_sound_scan_keeps_its_own_arrays() -> None:
    body = make_body(as_scan(BOWL.mesh))
    assert body.mesh is BOWL.mesh
    assert body.repairs == ()
    assert body.warnings == ()
    assert not body.patched.any()
    assert_allclose(body.solid.volume(), BOWL.volume_mm3, rtol=1e-9)


def test_the_scan_is_never_touched() -> None:
    mesh = soup(turned_over(BOWL.mesh))
    vertices, faces = mesh.vertices.copy(), mesh.faces.copy()
    make_body(as_scan(mesh))
    assert_array_equal(mesh.vertices, vertices)
    assert_array_equal(mesh.faces, faces)


def test_results_are_read_only() -> None:
    body = make_body(as_scan(soup(BOWL.mesh)))
    for array in (body.mesh.vertices, body.mesh.faces, body.patched):
        assert not array.flags.writeable


def test_a_triangle_soup_is_welded() -> None:
    body = make_body(as_scan(soup(BOWL.mesh)))
    assert_closed(body)
    assert_allclose(body.solid.volume(), BOWL.volume_mm3, rtol=1e-9)
    assert len(body.mesh.vertices) == len(BOWL.mesh.vertices)
    (repair,) = body.repairs
    assert "seams" in repair.what
    assert repair.count == 3 * len(BOWL.mesh.faces) - len(BOWL.mesh.vertices)


def test_vertices_apart_by_rounding_are_welded() -> None:
    # As a text file with six digits writes them: 0.5 µm either way.
    shaken = soup(BOWL.mesh)
    noise = np.random.default_rng(1).uniform(-5e-4, 5e-4, shaken.vertices.shape)
    body = make_body(as_scan(Mesh(shaken.vertices + noise, shaken.faces)))
    assert_closed(body)
    # 0.5 µm on an area of 2 dm² is at most 10 mm³ of 10^5.
    assert_allclose(body.solid.volume(), BOWL.volume_mm3, rtol=1e-4)


def test_colours_follow_their_vertices() -> None:
    colours = (np.arange(3 * len(BOWL.mesh.vertices)) % 251).astype(np.uint8).reshape(-1, 3)
    scraps = moved(sphere(0.5, 8, 4).mesh, 80.0)
    mesh = combined(scraps, BOWL.mesh)
    grey = np.zeros((len(scraps.vertices), 3), dtype=np.uint8)
    body = make_body(as_scan(Mesh(mesh.vertices, mesh.faces, np.concatenate([grey, colours]))))
    assert body.mesh.colours is not None
    assert_array_equal(body.mesh.vertices, BOWL.mesh.vertices)
    assert_array_equal(body.mesh.colours, colours)


def test_an_inside_out_scan_is_turned_and_listed() -> None:
    body = make_body(as_scan(turned_over(BOWL.mesh)))
    assert_closed(body)
    assert_allclose(body.solid.volume(), BOWL.volume_mm3, rtol=1e-9)
    assert repairs(body) == ["turned the inside-out scan"]
    assert body.repairs[0].count == len(BOWL.mesh.faces)


@pytest.mark.parametrize("every", [3, 7, 1000])
def test_flipped_triangles_are_turned_back(every: int) -> None:
    faces = BOWL.mesh.faces.copy()
    faces[::every] = faces[::every, ::-1]
    body = make_body(as_scan(Mesh(BOWL.mesh.vertices, faces)))
    assert_closed(body)
    assert_allclose(body.solid.volume(), BOWL.volume_mm3, rtol=1e-9)
    (repair,) = body.repairs
    assert repair.count == len(faces[::every])


def test_one_flipped_triangle_is_listed_with_its_place() -> None:
    faces = BOWL.mesh.faces.copy()
    faces[700] = faces[700, ::-1]
    (repair,) = make_body(as_scan(Mesh(BOWL.mesh.vertices, faces))).repairs
    assert repair.count == 1
    assert repair.place_mm is not None
    # The middle of a triangle's box is within half its size of its centroid.
    assert np.linalg.norm(repair.place_mm - centroids(BOWL.mesh)[700]) < 0.5 * repair.size_mm


@pytest.mark.parametrize("turn", [1, -1], ids=["doubled", "flap"])
def test_doubled_triangles_and_flaps_go_without_opening_the_surface(turn: int) -> None:
    body = make_body(as_scan(with_faces(BALL.mesh, BALL.mesh.faces[100:140, ::turn])))
    assert_closed(body)
    assert len(body.mesh.faces) == len(BALL.mesh.faces)
    assert_allclose(body.solid.volume(), BALL.volume_mm3, rtol=1e-9)
    assert repairs(body) == ["dropped doubled triangles"]


def test_a_free_flap_goes_whole() -> None:
    flap = np.array([[3, 500, 700], [700, 500, 3]], dtype=np.int32)
    body = make_body(as_scan(with_faces(BALL.mesh, flap)))
    assert_closed(body)
    assert len(body.mesh.faces) == len(BALL.mesh.faces)


def test_triangles_without_area_go() -> None:
    needle = np.array([[3, 3, 4], [9, 8, 9]], dtype=np.int32)
    body = make_body(as_scan(with_faces(BALL.mesh, needle)))
    assert_closed(body)
    assert repairs(body) == ["dropped triangles without area"]
    assert body.repairs[0].count == 2


def test_a_fin_goes() -> None:
    a, b = BALL.mesh.faces[50, :2]
    tip = BALL.mesh.vertices[a] * 1.1
    mesh = Mesh(np.concatenate([BALL.mesh.vertices, tip[None]]), BALL.mesh.faces)
    body = make_body(as_scan(with_faces(mesh, np.array([[a, b, len(BALL.mesh.vertices)]]))))
    assert_closed(body)
    assert_allclose(body.solid.volume(), BALL.volume_mm3, rtol=1e-9)
    assert "stood on the surface" in repairs(body)[0]


def test_the_floor_under_a_bubble_goes() -> None:
    # A tent over one triangle: the triangle below it is shared by no volume's boundary.
    a, b, c = BALL.mesh.faces[900]
    tip = BALL.mesh.vertices[[a, b, c]].mean(axis=0) * 1.05
    n = len(BALL.mesh.vertices)
    mesh = Mesh(np.concatenate([BALL.mesh.vertices, tip[None]]), BALL.mesh.faces)
    body = make_body(as_scan(with_faces(mesh, np.array([[a, b, n], [b, c, n], [c, a, n]]))))
    assert_closed(body)
    tent = np.linalg.det(BALL.mesh.vertices[[a, b, c]] - tip) / -6.0
    assert tent > 0.0
    assert_allclose(body.solid.volume(), BALL.volume_mm3 + tent, rtol=1e-9)


def test_a_flake_that_hangs_by_a_vertex_is_debris() -> None:
    n = len(BALL.mesh.vertices)
    flake = BALL.mesh.vertices[500] + np.array([[1.0, 0.0, 0.0], [1.0, 1.0, 0.0]])
    mesh = Mesh(np.concatenate([BALL.mesh.vertices, flake]), BALL.mesh.faces)
    body = make_body(as_scan(with_faces(mesh, np.array([[500, n, n + 1]]))))
    assert_closed(body)
    assert repairs(body) == ["dropped loose scraps"]


def test_debris_is_dropped_and_its_largest_piece_named() -> None:
    small, large = sphere(0.5, 8, 4).mesh, sphere(1.5, 8, 4).mesh
    mesh = combined(moved(small, 70.0), BOWL.mesh, moved(large, 0.0, 75.0, 10.0))
    body = make_body(as_scan(mesh))
    assert_closed(body)
    assert_array_equal(body.mesh.vertices, BOWL.mesh.vertices)
    (repair,) = body.repairs
    assert (repair.what, repair.count) == ("dropped loose scraps", 2)
    assert_allclose(repair.place_mm, [0.0, 75.0, 10.0], atol=1e-9)
    # The box of an eight-sided ball of radius 1.5.
    assert_allclose(repair.size_mm, 3.0 * np.sqrt(3.0), rtol=1e-9)


def test_idle_vertices_are_left_out() -> None:
    mesh = Mesh(np.concatenate([BALL.mesh.vertices, [[500.0, 0.0, 0.0]]]), BALL.mesh.faces)
    body = make_body(as_scan(mesh))
    assert_closed(body)
    assert_array_equal(body.mesh.vertices, BALL.mesh.vertices)


def test_a_hollow_inside_the_material_is_kept() -> None:
    pore = sphere(8.0, 32)
    body = make_body(as_scan(combined(BALL.mesh, turned_over(pore.mesh))))
    assert_closed(body)
    assert_allclose(body.solid.volume(), BALL.volume_mm3 - pore.volume_mm3, rtol=1e-9)
    assert body.repairs == ()


def test_a_hollow_of_an_inside_out_scan_is_kept() -> None:
    pore = sphere(8.0, 32)
    body = make_body(as_scan(turned_over(combined(BALL.mesh, turned_over(pore.mesh)))))
    assert_allclose(body.solid.volume(), BALL.volume_mm3 - pore.volume_mm3, rtol=1e-9)
    assert repairs(body) == ["turned the inside-out scan"]


@pytest.mark.parametrize("inside_out", [False, True])
def test_overlapping_sherds_become_one_solid(inside_out: bool) -> None:
    other = moved(BALL.mesh, 0.0, 0.0, 20.0)
    mesh = combined(BALL.mesh, turned_over(other) if inside_out else other)
    body = make_body(as_scan(mesh))
    # Two balls of radius R a distance d apart share pi (4R + d)(2R - d)² / 12 (two caps).
    exact = 2.0 * BALL.smooth_volume_mm3 - np.pi * 140.0 * 40.0**2 / 12.0
    factor = BALL.volume_mm3 / BALL.smooth_volume_mm3
    # The lens's own facets are those of the balls: the factor holds to the facets' size squared.
    assert_allclose(body.solid.volume(), exact * factor, rtol=5e-3)
    assert len(body.solid.decompose()) == 1
    assert "joined overlapping sherds" in repairs(body)


def test_a_scrap_sheet_next_to_the_bowl_does_not_stop_it() -> None:
    mesh = combined(BOWL.mesh, moved(plate(5.0, 4), 70.0))
    body = make_body(as_scan(mesh))
    assert_closed(body)
    assert body.repairs[0].count == 1
