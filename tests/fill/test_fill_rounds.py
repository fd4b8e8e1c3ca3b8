"""What a ball cannot reach is taken off: sharp ridges of the seat, and edges too thin to make.

In an edge of angle a between flat faces a ball of radius r stops short. What it leaves has, across
the edge, the area r² (1 / tan(a / 2) - (pi - a) / 2): two right triangles between the edge, the
ball's middle and where it touches, less the ball's sector between them. At a right angle that is
r² (1 - pi / 4). Its end lies r / sin(a / 2) - r from the edge.
"""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
from fill.fill_checks import assert_closed, spread_over, vtk_signed_distance
from fill.wedges import bowl, cylinder, take_wedge
from scipy.spatial.transform import Rotation

from lossfill.errors import BooleanError
from lossfill.fill import FillSettings, make_fill
from lossfill.fill.fillet import round_seat
from lossfill.fill.gap import gap_figures
from lossfill.fill.settings import LEAST_THICKNESS_MM
from lossfill.fill.thin import trim_thin
from lossfill.loss.faces import Faces
from lossfill.mesh import FloatArray, Mesh
from lossfill.solids import Solid, mesh_from_solid

LONG_MM = 8.0
TURN = Rotation.from_euler("xyz", [13.0, 21.0, 37.0], degrees=True).as_matrix()
"""Off the grid's directions, which would flatter it."""


def turned(solid: Solid, matrix: FloatArray) -> Solid:
    return solid.transform(np.column_stack([matrix, np.zeros(3)]))


def prism(*corners: tuple[float, float]) -> Solid:
    section = manifold3d.CrossSection([np.array(corners)])
    return manifold3d.Manifold.extrude(section, LONG_MM)


def blade(angle_deg: float) -> Solid:
    """A knife's edge along z that widens to 6 mm, with a square back."""
    run = 3.0 / np.tan(0.5 * np.radians(angle_deg))
    return prism((0, 0), (run, -3), (run + 4, -3), (run + 4, 3), (run, 3))


def left_by_ball(angle_deg: float, radius_mm: float) -> float:
    a = np.radians(angle_deg)
    return float(radius_mm**2 * (1.0 / np.tan(0.5 * a) - 0.5 * (np.pi - a)))


@pytest.mark.parametrize(
    ("angle_deg", "thickness_mm"), [(20.0, 0.8), (40.0, 0.8), (40.0, 2.0), (50.0, 1.5)]
)
def test_a_knife_edge_is_trimmed_where_it_grows_too_thin(
    angle_deg: float, thickness_mm: float
) -> None:
    before, radius = blade(angle_deg), 0.5 * thickness_mm
    left, trimmed = trim_thin(turned(before, TURN), thickness_mm=thickness_mm)
    assert_closed(mesh_from_solid(left))
    middle = turned(left, TURN.T).slice(0.5 * LONG_MM)
    removed = before.slice(0.5 * LONG_MM).area() - middle.area()
    # The hair of 0.005 mm all along the round, and the grid.
    assert removed == pytest.approx(left_by_ball(angle_deg, radius), rel=0.03)
    end = radius / np.sin(0.5 * np.radians(angle_deg)) - radius
    assert middle.bounds()[0] == pytest.approx(end, abs=0.02)
    # One place, as long as the edge; at its ends the ball rounds the caps' edges as well.
    assert trimmed[0].length_mm == pytest.approx(LONG_MM, rel=0.05)
    assert trimmed[0].volume_mm3 > removed * LONG_MM * 0.99
    assert sum(k.volume_mm3 for k in trimmed) == pytest.approx(
        before.volume() - left.volume(), abs=0.05
    )
    place = TURN.T @ np.array(trimmed[0].place_mm)
    assert place[2] == pytest.approx(0.5 * LONG_MM, abs=0.2)
    assert -0.1 < place[0] < radius / np.tan(0.5 * np.radians(angle_deg)) + 0.1


def test_blunt_edges_keep_their_line() -> None:
    for solid in (blade(75.0), prism((0, 0), (6, 0), (6, 6), (0, 6))):
        for thickness_mm in LEAST_THICKNESS_MM.values():
            left, trimmed = trim_thin(solid, thickness_mm=thickness_mm)
            taken = solid.slice(0.5 * LONG_MM).area() - left.slice(0.5 * LONG_MM).area()
            assert taken == pytest.approx(0.0, abs=1e-6)
            assert all(k.length_mm < 0.5 * LONG_MM for k in trimmed)


def test_away_from_a_trimmed_edge_nothing_moves() -> None:
    before = turned(blade(30.0), TURN)
    left, _ = trim_thin(before, thickness_mm=0.8)
    points = spread_over(mesh_from_solid(before), 10_000)
    # The ball touches 1.5 mm from the edge; five of its radii farther the run-out has ended.
    far = (points @ TURN)[:, 0] > 0.4 / np.tan(np.radians(15.0)) + 2.0
    assert far.sum() > 3_000
    assert np.abs(vtk_signed_distance(mesh_from_solid(left))(points[far])).max() < 1e-6


def test_what_is_thin_all_over_is_refused() -> None:
    sheet = prism((0, 0), (9, 0), (9, 0.5), (0, 0.5))
    with pytest.raises(BooleanError, match=r"thinner than 0\.8 mm all over") as caught:
        trim_thin(sheet, thickness_mm=0.8)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("radius_mm", [0.3, 0.5, 1.0])
def test_a_right_angled_ridge_is_rounded_and_the_skin_stays(radius_mm: float) -> None:
    block = turned(prism((0, 0), (6, 0), (6, 6), (0, 6)), TURN)
    mesh = mesh_from_solid(block)
    centres = (mesh.vertices @ TURN)[mesh.faces].mean(axis=1)
    is_seat = np.minimum(np.abs(centres[:, 0]), np.abs(centres[:, 1])) < 1e-6
    seat, skin = (Mesh(mesh.vertices, mesh.faces[k]) for k in (is_seat, ~is_seat))
    rounded = round_seat(block, seat, skin, radius_mm=radius_mm)
    assert_closed(mesh_from_solid(rounded))
    back = turned(rounded, TURN.T)
    # The grid errs by a cell squared over eight radii along the arc.
    removed = 36.0 - back.slice(0.5 * LONG_MM).area()
    assert removed == pytest.approx(left_by_ball(90.0, radius_mm), rel=0.12)
    # The two ends and the two far sides are skin: they and their edges stay.
    for level in (0.01, LONG_MM - 0.01):
        assert back.slice(level).area() == pytest.approx(36.0, abs=1e-6)
    points = spread_over(skin, 5_000)
    assert np.abs(vtk_signed_distance(mesh_from_solid(rounded))(points)).max() < 1e-6


def test_a_made_piece_is_rounded_in_its_corners_alone() -> None:
    window = take_wedge(
        cylinder(40.0, 36.0, 60.0, 96), wide_deg=30.0, middle_deg=20.0, low_mm=25.0, high_mm=40.0
    )
    plain = make_fill(window.loss)
    made = make_fill(window.loss, FillSettings(fillet_mm=0.6))
    assert_closed(made.mesh)
    assert len(made.solid.decompose()) == 1
    assert (made.solid ^ window.body).volume() < 1e-4
    # Four right-angled ridges through a wall of 4 mm, at whose ends the round runs out.
    most = 4 * 4.0 * left_by_ball(90.0, 0.6)
    assert 0.5 * most < plain.solid.volume() - made.solid.volume() < 1.1 * most
    faces = Faces.of(window.piece, window.whole)
    skin = Mesh(faces.vertices, faces.faces[~faces.is_break])
    figures = gap_figures(made.solid, window.body, skin=skin, clearance_mm=0.15)
    # Ridges and rounds are a small share of the seat; the rest lies where it lay.
    assert figures.error_p50_mm < 0.001
    assert figures.share_within > 0.9


@pytest.mark.slow
def test_a_piece_with_everything_is_sound() -> None:
    wedged = take_wedge(bowl(96), wide_deg=30.0, middle_deg=30.0, low_mm=30.0)
    faces = Faces.of(wedged.piece, wedged.whole)
    outside = (faces.vectors[:, :2] * faces.centres[:, :2]).sum(axis=1) > 0
    side = np.where(faces.is_break, 0, np.where(outside, 1, 2)).astype(np.int8)
    settings = FillSettings(
        setback_outside_mm=0.4, setback_inside_mm=0.2, process="nozzle", fillet_mm=0.4
    )
    made = make_fill(wedged.loss, settings, side=side)
    assert_closed(made.mesh)
    assert len(made.solid.decompose()) == 1
    assert (made.solid ^ wedged.body).volume() < 1e-4
    assert (made.solid - wedged.piece).volume() < 1e-2
