"""How well the new skin meets the old: the step at the join, and the rim of a spall."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from breaking import break_vessel
from loss.found import find
from vessels import mug, tea_bowl

from lossfill.loss import Loss, find_losses
from lossfill.mesh import FloatArray, Mesh, points_over, signed_volume_mm3
from lossfill.nearest import Surface
from lossfill.solids import mesh_from_solid


def errors_at_join(loss: Loss, whole: Mesh, chunk: Mesh, body: Mesh) -> FloatArray:
    """Distance of the loss from the true skin within 1.5 mm of the join."""
    points = points_over(chunk, spacing_mm=0.5)
    points = points[Surface(whole).distance(points) < 0.01]
    away = Surface(body).distance(points)
    near = points[(away > 0.2) & (away < 1.5)]
    assert len(near) > 200
    return Surface(mesh_from_solid(loss.solid)).distance(near)


def test_single_samples_at_the_join_lower_the_step() -> None:
    whole = tea_bowl(seed=5)
    broken = break_vessel(whole, "hole", rng=np.random.default_rng(51))
    found = find(broken.body)
    (loss,) = found.losses
    (coarse,) = find_losses(found.body, found.frame, replace(found.form, join=None))
    step, before = (
        np.quantile(errors_at_join(one, whole, broken.chunks[0], broken.body), 0.95)
        for one in (loss, coarse)
    )
    assert step < 0.95 * before
    assert step < 0.08


def test_the_rim_of_a_spall_does_not_draw_the_form_in() -> None:
    whole = mug(seed=4)
    broken = break_vessel(whole, "spall", rng=np.random.default_rng(52))
    (loss,) = find(broken.body).losses
    true = signed_volume_mm3(broken.chunks[0])
    # 1.2 mm deep at most: 0.1 mm all over would be a sixth of it.
    assert abs(1000.0 * loss.volume_ml / true - 1.0) < 0.08
    # It runs out flat, and says so, on top of what its form is expected to err by.
    form = next(t for t in loss.trials if t.source == loss.source)
    assert form.error_mm is not None
    assert loss.expected_error_mm > form.error_mm + 0.01
    assert max(errors_at_join(loss, whole, broken.chunks[0], broken.body)) > form.error_mm
    assert np.sqrt(np.mean(errors_at_join(loss, whole, broken.chunks[0], broken.body) ** 2)) < (
        loss.bound_mm
    )
