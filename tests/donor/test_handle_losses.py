"""Handles by bridge, mirror and twin: what is found missing, against what broke off."""

from __future__ import annotations

import re

import numpy as np
import pytest
from breaking import break_vessel
from donor.donor_cases import (
    SKIN_MM,
    assert_made_good,
    broken_handle,
    designed,
    whole_vessel,
)

from lossfill.frame import Frame
from lossfill.loss import LossKind
from lossfill.mesh import Mesh


@pytest.mark.parametrize(
    ("name", "kind", "with_twin", "source", "skin_mm"),
    [
        ("mug", "handle", False, "bridge", SKIN_MM),
        ("mug", "handle_root", True, "twin", SKIN_MM),
        ("two_handled_cup", "handle", False, "mirror", SKIN_MM),
        # The cup's two sides differ by 0.35 mm: its rim is no circle and its wall uneven, so that
        # a mirror image tells a handle's root no better.
        ("two_handled_cup", "handle_root", False, "mirror", 0.17),
    ],
)
def test_a_broken_handle_gets_its_piece(
    name: str, kind: str, with_twin: bool, source: str, skin_mm: float
) -> None:
    case = broken_handle(name, kind, with_twin=with_twin)
    assert_made_good(case, skin_mm=skin_mm)
    (loss,) = case.made.losses
    assert loss.kind is LossKind.HANDLE
    assert loss.source == source
    assert loss.number == 1
    assert not loss.on_wall
    assert isinstance(case.made.frame, Frame)
    # A root's break may hold its piece back: splitting it is offered then.
    assert [told for told in case.made.warnings if "try --split" not in told] == []


def test_a_lost_root_that_nothing_shows_is_told_of() -> None:
    made = broken_handle("mug", "handle_root").made
    # The hole in the wall is no part of the handle, and the wall's own form knows it.
    assert [loss.kind for loss in made.losses] != []
    assert LossKind.HANDLE not in [loss.kind for loss in made.losses]
    assert all(loss.on_wall for loss in made.losses)
    (told,) = (sentence for sentence in made.warnings if "handle" in sentence)
    assert re.search(r"a handle is broken off at .*, \d+ mm up, .*no piece was made", told)
    assert "--twin" in told


@pytest.mark.slow
@pytest.mark.parametrize("scaled", [True, False])
def test_a_larger_twin_is_brought_to_size_or_not_used(scaled: bool) -> None:
    whole = whole_vessel("mug")
    found = break_vessel(whole, "handle_root", rng=np.random.default_rng(2), angle_deg=0.0)
    larger = Mesh(1.03 * whole.vertices, whole.faces)
    case = designed(whole, found.body, found.chunks, seed=2, twin=larger, twin_scaled=scaled)
    if scaled:
        assert_made_good(case)
        assert [loss.kind for loss in case.made.losses] == [LossKind.HANDLE]
        return
    # All that a larger one has more all over must not pass for lost, and the reason is said.
    assert LossKind.HANDLE not in [loss.kind for loss in case.made.losses]
    assert any("% larger: bring it to size" in sentence for sentence in case.made.warnings)


def test_a_whole_handle_has_no_loss() -> None:
    whole = whole_vessel("mug")
    made = designed(whole, whole, (), seed=4).made
    assert LossKind.HANDLE not in [loss.kind for loss in made.losses]
    assert made.losses == ()
    assert not any("handle" in sentence for sentence in made.warnings)
