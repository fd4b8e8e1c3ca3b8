"""A twin of another size: by how much is said, and scaled it gives the chunk back."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from breaking import Broken, Cut, as_scanned, break_vessel
from scoring import match_losses, score
from shapes import as_scan
from vessels import tea_bowl

from lossfill.body import Body, make_body
from lossfill.form import Form, fit_form
from lossfill.form.cells import Skin
from lossfill.form.twin import Twin
from lossfill.frame import Frame, find_frame
from lossfill.loss import find_losses
from lossfill.mesh import FloatArray, Mesh, transformed
from lossfill.solids import mesh_from_solid

NOISE_MM = 0.03
SIZES_PERCENT = (-5.0, -2.0, 0.0, 3.0)


@cache
def whole() -> Mesh:
    return tea_bowl(edge_mm=1.8)


@cache
def scanned() -> tuple[Broken, Mesh, FloatArray, Body, Frame]:
    """A bowl with three tenths of its rim gone, its scan, pose, body and frame."""
    lost = (Cut("rim", 108.0),)
    broken = break_vessel(whole(), lost, rng=np.random.default_rng(5), angle_deg=100.0)
    scan, pose = as_scanned(broken.body, noise_mm=NOISE_MM, rng=np.random.default_rng(55))
    body = make_body(as_scan(scan))
    return broken, scan, pose, body, find_frame(body, rng=np.random.default_rng(1))


@cache
def form_by_twin(percent: float, *, scaled: bool) -> Form:
    made = Mesh(whole().vertices * (1 + percent / 100), whole().faces)
    scan, _ = as_scanned(made, noise_mm=NOISE_MM, rng=np.random.default_rng(99))
    twin = find_frame(make_body(as_scan(scan)), rng=np.random.default_rng(2))
    return fit_form(scanned()[4], source="twin", twin=twin, twin_scaled=scaled)


def skin_error(form: Form) -> float:
    """RMS distance of the true chunk's skin from the piece, mm."""
    broken, scan, pose, body, frame = scanned()
    losses = find_losses(body, frame, form)
    chunk = transformed(broken.chunks[0], pose)
    k = match_losses(tuple(mesh_from_solid(loss.solid) for loss in losses), (chunk,))
    own = k.piece_of_chunk[0]
    assert own is not None
    piece = mesh_from_solid(losses[own].solid)
    there, body_there = transformed(whole(), pose), transformed(broken.body, pose)
    return score(piece, chunk, there, body_there, 0.0, scanned_body=scan).skin_rms_mm


@pytest.mark.parametrize("percent", SIZES_PERCENT)
def test_the_size_of_a_twin_is_found_in_spite_of_the_loss(percent: float) -> None:
    twin = form_by_twin(percent, scaled=True).twin
    assert twin is not None
    assert twin.larger is not None
    assert abs(100 * twin.larger - percent) < 0.2
    # It knows how sure it is: on a bowl that is alike but for noise, to hundredths of a percent.
    assert 100 * twin.larger_error < 0.05


@pytest.mark.parametrize("percent", SIZES_PERCENT)
def test_a_scaled_twin_gives_the_chunk_back(percent: float) -> None:
    assert skin_error(form_by_twin(percent, scaled=True)) < 2 * NOISE_MM + 0.05


def test_a_twin_keeps_its_size_unless_asked_and_says_it() -> None:
    kept, scaled = (form_by_twin(5.0, scaled=scaled) for scaled in (False, True))
    for form, what in ((kept, "not scaled"), (scaled, "scaled to this vessel")):
        says = next(t.says for t in form.choices[0].trials if t.source == "twin")
        assert "5.0 % larger" in says
        assert says.endswith(what)
        assert str(form.summary()["twin_size"]) in says
    assert skin_error(scaled) < 2 * NOISE_MM + 0.05
    # 5 % of a bowl 120 mm wide is 3 mm of radius: what is kept cannot lie as well.
    assert skin_error(kept) > 2 * skin_error(scaled)


@pytest.mark.parametrize(
    ("larger", "error", "words"),
    [
        (0.0499, 0.0002, "5.0 % larger, give or take 0.1 %; not scaled"),
        (-0.0213, 0.002, "2.1 % smaller, give or take 0.2 %; not scaled"),
        (-0.0213, 0.008, "2 % smaller, give or take 1 %; not scaled"),
        (0.0012, 0.001, "of this vessel's size within 0.1 %"),
        (None, 0.0, "its size beside this vessel could not be told"),
    ],
)
def test_no_more_digits_are_said_than_are_sure(
    larger: float | None, error: float, words: str
) -> None:
    nothing = Skin(np.zeros((2, 2)), np.zeros((2, 2)))
    assert Twin(nothing, 0.05, larger, error, scaled=False).size_says == words
