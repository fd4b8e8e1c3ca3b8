"""Dimensions, against formulas and printed values."""

from __future__ import annotations

import numpy as np
import pytest
from frame.test_profile import SHELL, shell_profile
from numpy.testing import assert_allclose

from lossfill.frame.measure import (
    capacity_ml,
    fit_harmonics,
    foot_diameter_mm,
    rim_diameter_mm,
    roundness_by_height,
    wall_mm,
)
from lossfill.frame.profile import Profile, make_profile, project
from lossfill.frame.samples import Samples
from lossfill.mesh import FloatArray


def vessel(inside: FloatArray, *, spacing_mm: float, wall: float = 1.0) -> Profile:
    """Profile with the given inside (r, z from the floor's middle to the lip) in a plain block."""
    (r_lip, z_lip), z_under = inside[-1], inside[:, 1].min() - wall
    outside = [(r_lip + wall, z_lip), (r_lip + wall, z_under), (0.0, z_under)]
    return make_profile(np.vstack([inside, outside]), spacing_mm=spacing_mm)


def capped(radius: float, height: float) -> FloatArray:
    rise = np.linspace(0.0, np.arccos(1.0 - height / radius), 2000)
    return radius * np.stack([np.sin(rise), 1.0 - np.cos(rise)], axis=1)


@pytest.mark.parametrize(
    ("radius", "height", "volume"),
    # Volumes of spherical caps: novacalculator.com, azcalk.com, superglobalcalculator.com.
    [(10.0, 3.0, 254.4690), (5.0, 2.0, 54.4543), (12.0, 5.0, 811.578)],
)
def test_capacity_of_a_cap(radius: float, height: float, volume: float) -> None:
    profile = vessel(capped(radius, height), spacing_mm=0.002 * radius)
    # Chords of 0.002 R cut (0.002)²/8 of a radius off; the printed values have six digits.
    assert_allclose(1000.0 * capacity_ml(profile), volume, rtol=5e-6)


def test_capacity_of_a_frustum() -> None:
    # Radii 3 and 5, height 12: 196 π = 615.752 (formula printed at summacalculator.com).
    inside = np.array([[0.0, 0.0], [3.0, 0.0], [5.0, 12.0]])
    profile = vessel(inside, spacing_mm=0.002)
    # The corner of the floor may be cut by half a spacing: 2 π r s²/4 = 2e-5 mm³; so may the lip
    # lie half a spacing low: π r² s = 0.08 mm³.
    assert_allclose(1000.0 * capacity_ml(profile), 196.0 * np.pi, rtol=2e-4)


def test_capacity_by_disk_integration() -> None:
    # y = x² - 4x + 5 on [1, 4] turned about x: 78π/5 = 49.008845 (a standard textbook problem).
    z = np.linspace(1.0, 4.0, 4000)
    inside = np.vstack([[[0.0, 1.0]], np.stack([z * z - 4.0 * z + 5.0, z], axis=1)])
    profile = vessel(inside, spacing_mm=0.0005, wall=0.5)
    # The lip may lie half a spacing low: π 5² · 0.00025 = 0.02 mm³.
    assert_allclose(1000.0 * capacity_ml(profile), 49.008845, rtol=4e-4)


def test_an_overhanging_shoulder_does_not_count_twice() -> None:
    # A groove under a shoulder: z falls on the way, and the disks there count negative.
    inside = np.array([[0.0, 0.0], [20.0, 0.0], [20.0, 10.0], [25.0, 6.0], [25.0, 20.0]])
    outer = np.array([[27.0, 20.0], [27.0, -2.0], [0.0, -2.0]])
    profile = make_profile(np.vstack([inside, outer]), spacing_mm=0.002)
    # Cylinder to 20; from 6 to 10 between the cone and the wall; above, the wall alone.
    cone = np.pi * 4.0 / 3.0 * (25.0**2 + 25.0 * 20.0 + 20.0**2)
    whole = np.pi * (20.0**2 * 10.0 + 25.0**2 * 14.0) - cone
    assert_allclose(1000.0 * capacity_ml(profile), whole, rtol=3e-4)


def test_wall_of_a_hemispherical_shell() -> None:
    # To the nearest point of a polyline of spacing s: (s/2)²/2/4 mm long at most.
    assert_allclose(wall_mm(SHELL), 4.0, atol=1e-4, rtol=0)
    assert_allclose(wall_mm(shell_profile(44.0, 50.0, 0.3)), 6.0, atol=3e-3, rtol=0)


def test_rim_and_foot() -> None:
    # A cup with a lip that turns out, on a foot ring narrower than the body.
    curve = np.array(
        [
            [0.0, 5.0],
            [30.0, 5.0],
            [30.0, 50.0],
            [34.0, 50.0],  # lip, widest a little below it
            [36.0, 49.0],
            [33.0, 46.0],
            [33.0, 4.0],
            [25.0, 3.0],
            [25.0, 0.0],
            [21.0, 0.0],
            [21.0, 3.0],
            [0.0, 3.0],
        ]
    )
    profile = make_profile(curve, spacing_mm=0.02)
    # Only the corners are cut, by half a spacing at most.
    assert_allclose(rim_diameter_mm(profile), 72.0, atol=0.05, rtol=0)
    assert_allclose(foot_diameter_mm(profile), 50.0, atol=0.02, rtol=0)
    assert_allclose(wall_mm(profile), 3.0, atol=1e-3, rtol=0)


# --- harmonics -------------------------------------------------------------------------------

RIDGE = 1e-6
"""The fit's own ridge over the number of values: a harmonic's share of the normal matrix is half
the number of values, so the ridge shortens it by 2e-6, and the mean by 1e-6."""


@pytest.mark.parametrize("n", [24, 360, 1001])
def test_harmonics_are_those_of_a_discrete_fourier_transform(n: int) -> None:
    rng = np.random.default_rng(n)
    angle = 2.0 * np.pi * np.arange(n) / n
    wanted = rng.normal(size=9)
    value = wanted[0] + sum(
        wanted[2 * m - 1] * np.cos(m * angle) + wanted[2 * m] * np.sin(m * angle)
        for m in range(1, 5)
    )
    spectrum = np.fft.rfft(value) / n
    fourier = [spectrum[0].real]
    for m in range(1, 5):
        fourier += [2.0 * spectrum[m].real, -2.0 * spectrum[m].imag]
    found = fit_harmonics(angle, value, order=4)
    # The ridge's misfit then weighs the values a little unevenly, by (misfit/4 spread)² < 10 %
    # of the same misfit; twice that as the misfit of one coefficient leaks into others.
    assert_allclose(found, fourier, atol=4 * RIDGE * np.abs(wanted).sum(), rtol=0)


def test_harmonics_of_noise_are_those_of_a_discrete_fourier_transform() -> None:
    n = 4096
    rng = np.random.default_rng(2)
    angle = 2.0 * np.pi * np.arange(n) / n
    value = 0.5 * np.cos(2 * angle + 0.3) + 0.02 * rng.normal(size=n)
    spectrum = 2.0 * np.fft.rfft(value) / n
    found = fit_harmonics(angle, value, order=4)
    # Both estimate the same from the same noise; the robust weights cost some percent in
    # efficiency, so they differ by a part of the error 0.02 √(2/n) = 4.4e-4 itself.
    error = 0.02 * np.sqrt(2.0 / n)
    for m in range(1, 5):
        assert_allclose(found[2 * m - 1], spectrum[m].real, atol=error, rtol=0)
        assert_allclose(found[2 * m], -spectrum[m].imag, atol=error, rtol=0)


def test_a_handle_does_not_enter_the_harmonics() -> None:
    rng = np.random.default_rng(3)
    angle = rng.uniform(0.0, 2.0 * np.pi, 3000)
    value = 0.4 * np.cos(2 * angle) - 0.1 * np.sin(3 * angle) + 0.02 * rng.normal(size=3000)
    value[angle < 0.25] += 8.0
    found = fit_harmonics(angle, value, order=4)
    wanted = np.zeros(9)
    wanted[3], wanted[6] = 0.4, -0.1
    # The noise's share is 0.02 √(2/3000) for each; 14° without data leave it nearly that, and four
    # of it are never reached by chance. A plain fit would be off by 0.3 mm.
    assert_allclose(found, wanted, atol=4 * 0.02 * np.sqrt(2.0 / 3000.0), rtol=0)


def ring_samples(amplitudes: dict[int, float], n: int = 40_000) -> Samples:
    """Outer skin of a straight wall of radius 50, 0 to 60 mm high, out of round everywhere."""
    rng = np.random.default_rng(4)
    angle, z = rng.uniform(0.0, 2.0 * np.pi, n), rng.uniform(0.0, 60.0, n)
    radius = 50.0 + sum(a * np.cos(m * angle + m) for m, a in amplitudes.items())
    normals = np.stack([np.cos(angle), np.sin(angle), np.zeros(n)], axis=1)
    points = np.stack([radius * np.cos(angle), radius * np.sin(angle), z], axis=1)
    return Samples(points, normals, normals, 0.5)


CUP = np.array([[0.0, 3.0], [46.0, 3.0], [46.0, 60.0], [50.0, 60.0], [50.0, 0.0], [0.0, 0.0]])


def test_roundness_of_an_out_of_round_wall() -> None:
    profile = make_profile(CUP, spacing_mm=0.2)
    samples = ring_samples({2: 0.5, 3: 0.2, 4: 0.1})
    drop = project(profile, samples.points, samples.calm_normals)
    rounds = roundness_by_height(profile, samples, drop, None)
    assert [r.height_mm for r in rounds] == pytest.approx([6.0, 18.0, 30.0, 42.0, 54.0], abs=0.2)
    for ring in rounds:
        # Samples at random angles; no noise, and the three harmonics are the whole truth.
        assert_allclose(ring.amplitudes_mm, (0.5, 0.2, 0.1), atol=1e-4, rtol=0)
        # The median of a radius that is not evenly spread about its mean.
        assert_allclose(ring.radius_mm, 50.0, atol=0.15, rtol=0)


def test_a_ring_with_hardly_any_skin_is_left_out() -> None:
    profile = make_profile(CUP, spacing_mm=0.2)
    samples = ring_samples({2: 0.5})
    low = samples.points[:, 2] < 30.0
    kept = Samples(samples.points[low], samples.normals[low], samples.calm_normals[low], 0.5)
    drop = project(profile, kept.points, kept.calm_normals)
    assert len(roundness_by_height(profile, kept, drop, None)) == 3
