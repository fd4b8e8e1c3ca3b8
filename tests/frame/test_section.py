"""The first section: share of meridians with material, and its outline."""

from __future__ import annotations

import numpy as np
import pytest
from frame.frame_checks import without_rim
from numpy.testing import assert_allclose
from shapes import as_scan, bowl_shell, hemisphere_shell, moved, revolve, sphere

from lossfill import tolerances as tol
from lossfill.body import make_body
from lossfill.errors import AlignmentError, NoAxisError
from lossfill.frame.samples import Samples, sample_body
from lossfill.frame.section import first_section, mean_occupancy, rim_is_high
from lossfill.mesh import BoolArray, FloatArray, Mesh


def sampled(mesh: Mesh) -> Samples:
    return sample_body(make_body(as_scan(mesh)), n=110_000, rng=np.random.default_rng(2))


def in_shell(r: FloatArray, z: FloatArray, *, grown_mm: float) -> BoolArray:
    """Half-plane places in the shell 50/46 below z = 0, grown by some mm."""
    away = np.hypot(r, z)
    result: BoolArray = (away < 50 + grown_mm) & (away > 46 - grown_mm) & (z < grown_mm)
    return result


SHELL = hemisphere_shell(50.0, 46.0, 128).mesh


def test_a_shell_is_solid_in_its_wall_and_nowhere_else() -> None:
    share, r, z = mean_occupancy(sampled(SHELL))
    assert share.shape == (len(r), len(z))
    R, Z = np.meshgrid(np.abs(r), z, indexing="ij")
    # Two cells off the surface, past the blur and the cell that a sample falls into.
    cell = float(r[1] - r[0])
    inside, outside = in_shell(R, Z, grown_mm=-2 * cell), ~in_shell(R, Z, grown_mm=2 * cell)
    assert inside.sum() > 500
    assert outside.sum() > 10_000
    # A row of the wall is crossed by some hundred samples, evenly spread: 5 % from row to row.
    assert_allclose(share[inside], 1.0, atol=0.3, rtol=0)
    assert_allclose(share[inside].mean(), 1.0, atol=0.02, rtol=0)
    # Near the axis a sample is spread over few meridians, so the noise is larger there.
    far = outside & (R > 5.0)
    assert_allclose(share[far], 0.0, atol=0.3, rtol=0)
    assert_allclose(share[far].mean(), 0.0, atol=0.005, rtol=0)


def test_a_broken_rim_is_there_for_the_rest_of_the_turn() -> None:
    share, r, z = mean_occupancy(sampled(without_rim(SHELL, share=0.6, depth_mm=15.0)))
    R, Z = np.meshgrid(r, z, indexing="ij")
    inside = in_shell(R, Z, grown_mm=-0.8) & (R > 5)
    assert_allclose(share[inside & (Z > -13.0) & (Z < -2.0)].mean(), 0.4, atol=0.02, rtol=0)
    assert_allclose(share[inside & (Z < -17.0)].mean(), 1.0, atol=0.02, rtol=0)


def test_the_mirrored_columns_are_those_beyond_the_axis() -> None:
    share, r, _ = mean_occupancy(sampled(SHELL))
    assert_allclose(r[:3], -r[5:2:-1])
    assert_allclose(share[:3], share[5:2:-1])


@pytest.mark.parametrize("rim_share", [1.0, 0.4])
def test_the_section_follows_the_shell(rim_share: float) -> None:
    mesh = SHELL if rim_share == 1 else without_rim(SHELL, share=0.6, depth_mm=15.0)
    curve = first_section(sampled(mesh))
    assert rim_is_high(curve)
    away = np.linalg.norm(curve, axis=1)
    wall = curve[:, 1] < -1.0
    # The contour lies at 22 % of the blurred step of a cell of 0.25 mm.
    off = np.minimum(np.abs(away[wall] - 46), np.abs(away[wall] - 50))
    assert np.median(off) < 0.15
    assert off.max() < 1.0
    # It starts on the floor of the hollow, ends under the vessel, and reaches the rim.
    assert_allclose(curve[0], [0.0, -46.0], atol=0.6)
    assert_allclose(curve[-1], [0.0, -50.0], atol=0.6)
    assert_allclose(curve[:, 1].max(), 0.0, atol=0.4)


def test_a_vessel_upside_down_is_seen_to_be() -> None:
    turned = Mesh(SHELL.vertices * [1.0, -1.0, -1.0], SHELL.faces)
    assert rim_is_high(first_section(sampled(SHELL)))
    curve = first_section(sampled(turned))
    assert not rim_is_high(curve)
    assert_allclose(curve[0], [0.0, 46.0], atol=0.6)


def test_a_bowl_on_a_foot_opens_away_from_its_foot() -> None:
    assert rim_is_high(first_section(sampled(bowl_shell(96).mesh)))


def test_a_pipe_has_no_floor() -> None:
    corners = np.array([[40.0, 0.0], [40.0, 60.0], [36.0, 60.0], [36.0, 0.0]])
    with pytest.raises(AlignmentError, match=r"no floor.*scan it from both sides"):
        first_section(sampled(revolve(corners, 96).mesh))


def test_nothing_round_the_axis_is_refused() -> None:
    # A ball well beside the axis takes a tenth of the turn at most.
    mesh = sphere(10.0, 48).mesh
    beside = moved(mesh, x=60.0)
    with pytest.raises(NoAxisError, match="no axis of revolution: about none is there material"):
        first_section(sampled(beside))


def test_the_threshold_lies_between_a_handle_and_two_fifths_of_a_rim() -> None:
    assert 1.0 / 20.0 < tol.SECTION_SHARE < 0.4
