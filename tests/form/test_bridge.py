"""The bridge over a gap against surfaces in closed form, plate theory and scipy's thin plate.

Offsets are those of a sphere and of a torus, neither about the drum's axis, from a straight drum.
The error of a plate clamped at the edge of a round gap of radius a is Δ²f a⁴/64 in the middle
(uniformly loaded plate, Timoshenko and Woinowsky-Krieger, "Theory of Plates and Shells", §16, from
memory), where f is the surface that it should follow: halve the gap and a sixteenth is left.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from form.form_checks import drum, rms
from scipy.interpolate import RBFInterpolator

from lossfill import tolerances as tol
from lossfill.form.cells import Skin
from lossfill.form.conform import bridge
from lossfill.mesh import BoolArray, FloatArray

CELLS = drum(80, 240, cell_mm=1.0)
RADIUS_MM = float(CELLS.radius_mm[0])
UP = (CELLS.height_mm - 40.0)[:, None]
TURN = CELLS.angles[None, :] - np.pi
ASIDE_MM = 6.0


def off_axis(around_mm: FloatArray) -> FloatArray:
    """Offset from the drum of a circle in each level, its middle `ASIDE_MM` off the axis."""
    reach = np.sqrt(around_mm**2 - (ASIDE_MM * np.sin(TURN)) ** 2)
    return np.asarray(ASIDE_MM * np.cos(TURN) + reach - RADIUS_MM)


SURFACES: dict[str, Callable[[], FloatArray]] = {
    # A bowl of 100 mm; a belly bent to 35 mm upwards on 40 mm around.
    "sphere": lambda: off_axis(np.sqrt(50.0**2 - UP**2)),
    "torus": lambda: off_axis(5.0 + np.sqrt(45.0**2 - UP**2)),
}


def round_gap(width_mm: float) -> BoolArray:
    away = np.hypot(UP, RADIUS_MM * TURN)
    return np.asarray(away < 0.5 * width_mm)


def bridged(truth: FloatArray, gap: BoolArray, noise_mm: float = 0.01) -> FloatArray:
    skin = Skin(np.where(gap, 0.0, truth), np.where(gap, 0.0, 3.0))
    return bridge(CELLS, skin, gap, noise_mm=noise_mm).offset_mm


@pytest.mark.parametrize("name", SURFACES)
def test_a_bridge_of_20_to_30_mm_is_as_good_as_plate_theory_has_it(name: str) -> None:
    truth = SURFACES[name]()
    for width in (20, 30):
        gap = round_gap(width)
        error = bridged(truth, gap) - truth
        # What a plate cannot know is the surface's fourth derivatives. It rests softly, so that
        # its edge is held only as far out again as it gives, on either side.
        load = float(np.abs(biharmonic(truth)[gap]).max())
        radius = 0.5 * width + 2.0 * tol.BRIDGE_GIVE_MM
        assert np.abs(error[gap]).max() < load * radius**4 / 64.0
        # Left straight, the gap would err by its sagitta on a ball of 100 mm: 1 and 2.3 mm.
        assert np.abs(error[gap]).max() < 0.13 * (0.5 * width) ** 2 / 100.0
    # As it is used, the profile has taken up what is alike all round.
    own = truth - truth.mean(axis=1, keepdims=True)
    assert np.ptp(own) > 10.0
    for width, least in ((20, 0.02), (30, 0.06)):
        gap = round_gap(width)
        assert rms((bridged(own, gap) - own)[gap]) < least


def test_a_bridge_may_lean_at_its_edge() -> None:
    # A plane bends nowhere: no plate may leave it, however steep it runs out of the region.
    gap = round_gap(25)
    lean = np.broadcast_to(0.5 * UP, CELLS.shape)
    # To rounding, and the 500 mm on which the field would fade in the end.
    assert np.abs((bridged(np.array(lean), gap) - lean)[gap]).max() < 1e-3


@pytest.mark.parametrize("name", SURFACES)
def test_the_error_falls_as_the_fourth_power_of_the_gap(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    # On a stiff rest, as the theory has it: a soft one adds an error that no gap's width changes.
    monkeypatch.setattr(tol, "BRIDGE_GIVE_MM", 0.5)
    truth = SURFACES[name]()
    middle = (slice(40, 41), slice(120, 121))
    wide, narrow = (
        float(np.abs((bridged(truth, round_gap(width)) - truth)[middle]).max())
        for width in (32, 16)
    )
    # The plate is held from the first cell beside the gap on, a cell farther out than the gap's
    # own edge: 9 and 17 mm, or 3.7 times in powers of two.
    assert np.log2(wide / narrow) == pytest.approx(4.0 * np.log2(17.0 / 9.0), abs=0.3)
    load = float(np.abs(biharmonic(truth)[middle]).max())
    assert wide == pytest.approx(load * 17.0**4 / 64.0, rel=0.15)
    assert narrow == pytest.approx(load * 9.0**4 / 64.0, rel=0.15)


@pytest.mark.parametrize("name", SURFACES)
def test_the_bridge_is_scipys_thin_plate(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    # scipy's plate is endless, ours ends with the skin that it rests on: 20 mm of that are eight
    # times as far as it gives here, so that next to nothing of the edge is felt at the gap.
    monkeypatch.setattr(tol, "BRIDGE_GIVE_MM", 2.5)
    gap = round_gap(20)
    rng = np.random.default_rng(0)
    truth = SURFACES[name]() + 0.05 * rng.normal(size=CELLS.shape)
    found = bridged(truth, gap)
    rest = ~gap & (np.hypot(UP, RADIUS_MM * TURN) < 10.0 + tol.BRIDGE_MARGIN_MM)
    i, j = np.nonzero(rest)
    places = np.stack([UP[i, 0], RADIUS_MM * TURN[0, j]], axis=1)
    # Least Σ (f - d)² + give⁴/area ∫ (Δf)²; for the kernel r² log r the integral is 8π wᵀKw.
    plate = RBFInterpolator(
        places,
        truth[i, j],
        kernel="thin_plate_spline",
        smoothing=8.0 * np.pi * tol.BRIDGE_GIVE_MM**4 / CELLS.row_mm**2,
    )
    i, j = np.nonzero(gap)
    wanted = plate(np.stack([UP[i, 0], RADIUS_MM * TURN[0, j]], axis=1))
    assert np.abs(found[i, j] - wanted).max() < 0.01
    assert np.ptp(wanted) > 0.5


def biharmonic(f: FloatArray) -> FloatArray:
    """Δ²f by differences over 4 cells, 1/mm³; the outermost rows are worthless."""
    h = 4
    result = f
    for _ in range(2):
        ring = np.roll(result, h, 1) + np.roll(result, -h, 1)
        ring += np.roll(result, h, 0) + np.roll(result, -h, 0)
        result = (ring - 4.0 * result) / (h * CELLS.row_mm) ** 2
    return result
