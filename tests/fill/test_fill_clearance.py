"""The gap is as wide as asked along the whole break, and the skin stays where it was.

Wedges cut out of shells of revolution, whose skin and break are known exactly. Distances are VTK's.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from fill.fill_checks import assert_closed, spread_over, vtk_signed_distance, vtk_volume_and_area
from fill.wedges import Wedged, bowl, cylinder, take_wedge
from numpy.testing import assert_allclose

from lossfill import tolerances as tol
from lossfill.fill import Fill, FillSettings, make_fill
from lossfill.mesh import BoolArray, FloatArray
from lossfill.solids import mesh_from_solid

N = 192
GAP_TOLERANCE_MM = 0.02
"""What the clearance's grid promises (see `tolerances.CLEARANCE_CELL_MM`)."""
ON_SKIN_MM = 1e-3


@cache
def wedged(name: str) -> Wedged:
    if name == "bowl, rim":
        return take_wedge(bowl(N), wide_deg=40.0, middle_deg=30.0, low_mm=25.0)
    window = {"wide_deg": 40.0, "middle_deg": 70.0, "low_mm": 20.0, "high_mm": 50.0}
    return take_wedge(cylinder(40.0, 36.0, 70.0, N), **window)


CASES = ("bowl, rim", "cup, window")


@cache
def filled(name: str, clearance_mm: float) -> Fill:
    return make_fill(wedged(name).loss, FillSettings(clearance_mm=clearance_mm))


@cache
def seen(name: str, clearance_mm: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Points spread over a piece, their distance from the body and from the whole vessel's skin."""
    points = spread_over(filled(name, clearance_mm).mesh, 20_000)
    from_body = vtk_signed_distance(wedged(name).body_mesh)(points)
    skin = vtk_signed_distance(mesh_from_solid(wedged(name).whole))
    return points, from_body, np.abs(skin(points))


def on_break(name: str, clearance_mm: float) -> BoolArray:
    """Points of the piece well inside the wall; whether the skin moved is another test's matter."""
    result: BoolArray = seen(name, clearance_mm)[2] > 0.1
    return result


@pytest.mark.parametrize("clearance_mm", [0.05, 0.15, 0.5, 1.0])
@pytest.mark.parametrize("name", CASES)
def test_the_gap_is_as_wide_as_asked(name: str, clearance_mm: float) -> None:
    _, from_body, _ = seen(name, clearance_mm)
    gap = from_body[on_break(name, clearance_mm)]
    assert (np.abs(gap - clearance_mm) < GAP_TOLERANCE_MM).mean() > 0.95
    # Only in the corner where two faces of the break meet may the grid round the gap: there the
    # face cut at the clearance is an edge, and a cell's diagonal of it is cut off at most.
    assert gap.max() < clearance_mm + 0.5 * np.sqrt(3.0) * tol.CLEARANCE_CELL_MM
    if clearance_mm > 0.5 * tol.CLEARANCE_CELL_MM:
        # A narrower gap is rounded away by the grid along the join's edge, but nowhere else.
        assert gap.min() > 0.0


@pytest.mark.parametrize("clearance_mm", [0.05, 0.15, 0.5, 1.0])
@pytest.mark.parametrize("name", CASES)
def test_the_skin_does_not_move(name: str, clearance_mm: float) -> None:
    points, _, _ = seen(name, clearance_mm)
    before = spread_over(wedged(name).piece_mesh, 20_000, seed=2)
    skin = np.abs(vtk_signed_distance(mesh_from_solid(wedged(name).whole))(before)) < ON_SKIN_MM
    away = vtk_signed_distance(wedged(name).body_mesh)(before) > clearance_mm + GAP_TOLERANCE_MM
    # All skin farther than the clearance from the body is still there, to the micrometre...
    still = vtk_signed_distance(filled(name, clearance_mm).mesh)(before[skin & away])
    assert (skin & away).sum() > 5_000
    assert np.quantile(np.abs(still), 0.995) < ON_SKIN_MM
    # ...and the new surface is nowhere outside the old piece.
    outside = vtk_signed_distance(wedged(name).piece_mesh)(points)
    assert outside.max() < ON_SKIN_MM


@pytest.mark.parametrize("name", CASES)
def test_the_piece_shares_nothing_with_the_body(name: str) -> None:
    for clearance_mm in (0.05, 0.15, 1.0):
        shared = filled(name, clearance_mm).solid ^ wedged(name).body
        # 32-bit numbers under 128 mm are 7.6e-6 mm apart: half of that over the skin's few mm²
        # at the join is far below this.
        assert shared.volume() < 1e-4


@pytest.mark.parametrize("name", CASES)
def test_no_clearance_gives_the_exact_complement(name: str) -> None:
    shells, made = wedged(name), filled(name, 0.0)
    area = vtk_volume_and_area(shells.piece_mesh)[1]
    # Rounding to 32-bit moves each corner by 4e-6 mm at most here.
    rounding_mm3 = 4e-6 * area
    volume = vtk_volume_and_area(made.mesh)[0]
    assert made.solid.volume() == pytest.approx(volume, rel=1e-9)
    whole, left = shells.whole.volume(), (shells.body ^ shells.whole).volume()
    assert_allclose(volume + left, whole, atol=rounding_mm3, rtol=0)
    assert (made.solid ^ shells.body).volume() < rounding_mm3


@pytest.mark.parametrize("name", CASES)
def test_a_wider_gap_leaves_less_by_the_area_of_the_break(name: str) -> None:
    shells = wedged(name)
    break_area = (
        float(
            (
                np.abs(
                    vtk_signed_distance(mesh_from_solid(shells.whole))(
                        spread_over(shells.piece_mesh, 20_000)
                    )
                )
                > ON_SKIN_MM
            ).mean()
        )
        * vtk_volume_and_area(shells.piece_mesh)[1]
    )
    for clearance_mm in (0.15, 0.5):
        lost = shells.piece.volume() - filled(name, clearance_mm).solid.volume()
        # Area times clearance, less what the faces' corners count twice: three corners of the
        # wall's width, or four, each clearance² in section.
        assert lost == pytest.approx(break_area * clearance_mm, rel=0.04)


@pytest.mark.parametrize("clearance_mm", [0.0, 0.05, 0.15, 0.5, 1.0])
@pytest.mark.parametrize("name", CASES)
def test_the_piece_is_one_closed_part_of_32_bit_numbers(name: str, clearance_mm: float) -> None:
    made = filled(name, clearance_mm)
    assert_closed(made.mesh)
    assert len(made.solid.decompose()) == 1
    assert made.solid.genus() == 0
    assert made.warnings == ()
    stored = made.mesh.vertices.astype(np.float32).astype(np.float64)
    assert np.array_equal(stored, made.mesh.vertices)
    assert made.volume_ml == pytest.approx(vtk_volume_and_area(made.mesh)[0] / 1000.0, rel=1e-9)
