"""Every kind of case once, on a small invented bowl, and what becomes of a failure."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import bench_accuracy
import numpy as np
import pytest
from bench_accuracy import BREAKS, NOISES_MM, VESSELS, all_cases, quick_cases, run_case
from bench_figures import Case
from breaking import BREAKS as CUTS
from vessels import tea_bowl

from lossfill.errors import InputError
from lossfill.mesh import Mesh


@cache
def small_bowl() -> Mesh:
    return tea_bowl(edge_mm=3.0)


def test_cases_are_every_vessel_break_and_noise() -> None:
    cases = all_cases()
    assert len(set(cases)) == len(cases) == len(VESSELS) * len(BREAKS) * len(NOISES_MM)
    assert [case.vessel for case in quick_cases()] == list(VESSELS)
    assert set(quick_cases()) < set(cases)


@pytest.mark.slow
@pytest.mark.parametrize("kind", BREAKS)
def test_each_break_is_filled_and_judged(kind: str) -> None:
    outcome = run_case(Case("small bowl", kind, 0.05), small_bowl())
    assert outcome.failure is None
    assert outcome.seconds > 0.0
    assert [row.cut for row in outcome.rows] == [cut.kind for cut in CUTS[kind]]
    for row in outcome.rows:
        # Spalls may go unseen as yet.
        assert row.found or row.cut == "spall"
        if row.found:
            assert row.valid
            assert not row.clashes
            assert row.stated_mm > 0.0
            # A slip of the pose would show in centimetres.
            assert row.score.skin_rms_mm < 1.0
            # The median over the break: the clearance asked for, within twice the scan's noise.
            assert row.score.gap_p50_mm == pytest.approx(0.15, abs=0.1)


@pytest.mark.slow
def test_a_plainly_round_form_fits_a_crooked_bowl_worse() -> None:
    # The invented bowl is out of round by 0.45 mm at its rim (see `vessels.Faults`).
    (row,) = run_case(Case("small bowl", "rim_45", 0.0), small_bowl()).rows
    assert 1.5 * row.score.skin_rms_mm < row.plain.skin_rms_mm < 1.5


def test_a_failure_is_a_result(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(path: Path, settings: object) -> None:
        assert path.stat().st_size > 0
        raise InputError("no vessel")

    monkeypatch.setattr(bench_accuracy, "design", refuse)
    outcome = run_case(Case("small bowl", "rim_and_hole", 0.0), small_bowl())
    assert outcome.failure == "InputError: no vessel"
    assert [row.found for row in outcome.rows] == [False, False]
    assert outcome.false == 0
    assert all(row.score.skin_rms_mm == np.inf for row in outcome.rows)


def test_the_break_is_alike_at_every_noise() -> None:
    quiet, noisy = (
        bench_accuracy.broken_for(Case("small bowl", "hole", noise), small_bowl())
        for noise in NOISES_MM
    )
    np.testing.assert_array_equal(quiet.body.vertices, noisy.body.vertices)
    other = bench_accuracy.broken_for(Case("another bowl", "hole", 0.0), small_bowl())
    assert other.body.vertices.shape != quiet.body.vertices.shape
