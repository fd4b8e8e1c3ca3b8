"""The isosurface is closed, faces outwards, and nears the true shape with the square of its cell.

Volumes and areas of ball and torus: Pappus–Guldin, V = 2 pi R A and S = 2 pi R L (Larson & Edwards,
Calculus, 7.6, theorem 7.1). Measured by vtkMassProperties, an implementation that is not ours.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from fill.fill_checks import assert_closed, spread_over, vtk_signed_distance, vtk_volume_and_area
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from lossfill.isosurface import closed_parts, isosurface
from lossfill.mesh import FloatArray, Mesh
from lossfill.solids import solid_from_mesh

Value = Callable[[FloatArray], FloatArray]

ODD_MM = np.array([0.137, 0.291, -0.373])
"""So that no grid node lies on the shape's planes of symmetry."""
BALL_MM = 5.0
RING_MM, TUBE_MM = 6.0, 2.0


def ball(radius_mm: float, middle: FloatArray = ODD_MM) -> Value:
    return lambda p: np.asarray(np.linalg.norm(p - middle, axis=1) - radius_mm)


def torus(p: FloatArray) -> FloatArray:
    around = np.hypot(p[:, 0] - ODD_MM[0], p[:, 1] - ODD_MM[1]) - RING_MM
    return np.asarray(np.hypot(around, p[:, 2] - ODD_MM[2]) - TUBE_MM)


def on_ball(radius_mm: float, middle: FloatArray = ODD_MM, n: int = 4000) -> FloatArray:
    """Points spread evenly over a ball, 0.28 mm apart on a radius of 5."""
    k = np.arange(n) + 0.5
    z, turn = 1.0 - 2.0 * k / n, np.pi * (1.0 + np.sqrt(5.0)) * k
    r = np.sqrt(1.0 - z * z)
    unit = np.stack([r * np.cos(turn), r * np.sin(turn), z], axis=1)
    points: FloatArray = radius_mm * unit + middle
    return points


def on_torus() -> FloatArray:
    u, v = (k.ravel() for k in np.meshgrid(*[np.linspace(0.0, 2.0 * np.pi, n) for n in (150, 50)]))
    r = RING_MM + TUBE_MM * np.cos(v)
    flat = np.stack([r * np.cos(u), r * np.sin(u), TUBE_MM * np.sin(v)], axis=1)
    points: FloatArray = flat + ODD_MM
    return points


SHAPES: dict[str, tuple[FloatArray, Value, float, float, float]] = {
    # points on it, value, volume, area, smallest radius of curvature
    "ball": (
        on_ball(BALL_MM),
        ball(BALL_MM),
        4.0 / 3.0 * np.pi * BALL_MM**3,
        4.0 * np.pi * BALL_MM**2,
        BALL_MM,
    ),
    "torus": (
        on_torus(),
        torus,
        2.0 * np.pi**2 * RING_MM * TUBE_MM**2,
        4.0 * np.pi**2 * RING_MM * TUBE_MM,
        TUBE_MM,
    ),
}


def surface(near: FloatArray, value: Value, cell_mm: float) -> Mesh:
    mesh = isosurface(near, value, cell_mm=cell_mm, reach_mm=0.5 + cell_mm)
    assert mesh is not None
    return mesh


@pytest.mark.parametrize("name", SHAPES)
def test_it_is_closed_outward_and_on_the_shape(name: str) -> None:
    near, value, volume, area, radius_mm = SHAPES[name]
    cell_mm = 0.5
    mesh = surface(near, value, cell_mm)
    assert_closed(mesh)
    solid = solid_from_mesh(mesh)
    assert len(solid.decompose()) == 1
    assert solid.genus() == (1 if name == "torus" else 0)
    found = vtk_volume_and_area(mesh)
    # Chords of a convex line lie inside it: the volume falls short, by less than the area times
    # the deepest sag of a triangle, whose edges reach a cube's diagonal.
    longest = np.sqrt(3.0) * cell_mm
    sag = longest**2 / (8.0 * radius_mm)
    assert volume - 2.0 * sag * area < found[0] < volume
    assert_allclose(found[1], area, rtol=2.0 * sag / radius_mm)
    # A straight line between values of a distance errs by the same sag; then 0.02 of an edge may
    # be added to keep vertices off the grid's nodes.
    assert np.abs(value(mesh.vertices)).max() < sag + 0.02 * longest


@pytest.mark.parametrize("name", SHAPES)
def test_halving_the_cell_quarters_the_error(name: str) -> None:
    near, value, volume, _, _ = SHAPES[name]
    errors = [
        vtk_volume_and_area(surface(near, value, cell_mm))[0] - volume
        for cell_mm in (1.0, 0.5, 0.25)
    ]
    # Second order: a factor of 4 each time. A first-order method would show 2.
    assert errors[0] / errors[1] == pytest.approx(4.0, abs=0.6)
    assert errors[1] / errors[2] == pytest.approx(4.0, abs=0.6)


def test_vtk_measures_the_same_distances() -> None:
    mesh = surface(*SHAPES["ball"][:2], 0.5)
    judge = vtk_signed_distance(mesh)
    points = spread_over(mesh, 3000)
    assert np.abs(judge(points)).max() < 1e-9
    # Inside is where the value is negative: a step of 1 mm inwards is 1 mm deep, less the sag.
    inwards = (ODD_MM - points) / np.linalg.norm(points - ODD_MM, axis=1, keepdims=True)
    assert_allclose(judge(points + inwards), -1.0, atol=0.03)
    assert_allclose(judge(points - inwards), 1.0, atol=0.03)


def test_two_balls_apart_are_two_parts() -> None:
    other = np.array([7.0, 0.0, 0.0])
    near = np.concatenate([on_ball(2.0, n=1500), on_ball(2.0, other, n=1500)])
    mesh = surface(near, lambda p: np.minimum(ball(2.0)(p), ball(2.0, other)(p)), 0.4)
    assert_closed(mesh)
    parts = solid_from_mesh(mesh).decompose()
    assert len(parts) == 2
    for part in parts:
        assert part.volume() == pytest.approx(4.0 / 3.0 * np.pi * 8.0, rel=0.03)


def test_two_balls_through_each_other_are_one_part() -> None:
    apart_mm, radius_mm = 3.0, 3.0
    other = ODD_MM + np.array([apart_mm, 0.0, 0.0])
    near = np.concatenate([on_ball(radius_mm), on_ball(radius_mm, other)])
    mesh = surface(near, lambda p: np.minimum(ball(radius_mm)(p), ball(radius_mm, other)(p)), 0.25)
    assert_closed(mesh)
    assert len(solid_from_mesh(mesh).decompose()) == 1
    # Two balls less the lens, which is two caps of height R - d/2: V = pi h² (3R - h) / 3
    # (novacalculator.com, azcalk.com).
    height = radius_mm - 0.5 * apart_mm
    cap = np.pi * height**2 * (3.0 * radius_mm - height) / 3.0
    both = 2.0 * (4.0 / 3.0 * np.pi * radius_mm**3 - cap)
    assert vtk_volume_and_area(mesh)[0] == pytest.approx(both, rel=0.01)


def test_a_hollow_ball_has_an_inner_skin_that_faces_inwards() -> None:
    near = np.concatenate([on_ball(5.0), on_ball(4.0)])
    mesh = surface(near, lambda p: np.maximum(ball(5.0)(p), -ball(4.0)(p)), 0.4)
    assert_closed(mesh)
    wanted = 4.0 / 3.0 * np.pi * (5.0**3 - 4.0**3)
    assert solid_from_mesh(mesh).volume() == pytest.approx(wanted, rel=0.02)


def test_nothing_where_the_value_keeps_its_sign() -> None:
    for sign in (1.0, -1.0):
        near = on_ball(2.0)
        found = isosurface(near, lambda p, s=sign: np.full(len(p), s), cell_mm=0.5, reach_mm=1.0)
        assert found is None


def test_the_value_is_asked_for_about_the_surface_alone() -> None:
    asked: list[int] = []

    def value(points: FloatArray) -> FloatArray:
        asked.append(len(points))
        return ball(12.0)(points)

    mesh = isosurface(on_ball(12.0, n=20_000), value, cell_mm=0.5, reach_mm=0.5)
    assert mesh is not None
    # A layer about the ball and not the box around it.
    assert sum(asked) < 0.5 * (24.0 / 0.5 + 5.0) ** 3


@settings(max_examples=8)
@given(
    shift=st.tuples(*[st.floats(-0.5, 0.5)] * 3),
    radius_mm=st.floats(0.9, 3.0),
    whole_cells=st.booleans(),
)
def test_it_is_closed_wherever_the_grid_falls(
    shift: tuple[float, float, float], radius_mm: float, whole_cells: bool
) -> None:
    # Values of exactly zero at grid nodes are the classic way to a folded surface.
    cell_mm = 0.5
    middle = np.round(np.array(shift) / cell_mm) * cell_mm if whole_cells else np.array(shift)
    radius_mm = max(1.0, round(radius_mm)) if whole_cells else radius_mm
    near = on_ball(radius_mm, middle, n=1000)
    mesh = surface(near, ball(radius_mm, middle), cell_mm)
    assert_closed(mesh)
    solid = solid_from_mesh(mesh)
    assert len(solid.decompose()) == 1
    assert solid.volume() == pytest.approx(4.0 / 3.0 * np.pi * radius_mm**3, rel=0.2)


def test_open_specks_are_dropped_and_closed_parts_stay() -> None:
    tetrahedron = Mesh(
        np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]]),
        np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]]),
    )
    speck = np.array([[9.0, 0, 0], [9, 1, 0], [9, 0, 1]])
    both = Mesh(
        np.concatenate([tetrahedron.vertices, speck]),
        np.concatenate([tetrahedron.faces, [[4, 5, 6]]]),
    )
    kept = closed_parts(both)
    assert kept is not None
    np.testing.assert_array_equal(kept.vertices, tetrahedron.vertices)
    np.testing.assert_array_equal(kept.faces, tetrahedron.faces)
    assert closed_parts(Mesh(speck, np.array([[0, 1, 2]]))) is None
