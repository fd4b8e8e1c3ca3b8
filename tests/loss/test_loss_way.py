"""Which way to fill is recommended; the rule is common practice, its limits are the settings'."""

from __future__ import annotations

from dataclasses import replace

import pytest
from cli.stand_ins import CHIP, LOSS

from lossfill.loss import LossKind, Way, WayRule, way_to_fill

SMALL = replace(LOSS, extent_around_mm=15.0, extent_along_mm=12.0, volume_ml=0.7)


def test_a_shallow_chip_takes_paste() -> None:
    advice = way_to_fill(CHIP)
    assert advice.way is Way.PASTE
    assert "3 mm deep" in advice.reason


def test_a_deep_chip_takes_putty_or_an_insert() -> None:
    deep = replace(CHIP, depth_mm=4.0, extent_around_mm=12.0, extent_along_mm=8.0)
    assert way_to_fill(deep).way is Way.PUTTY
    assert way_to_fill(replace(deep, extent_around_mm=30.0)).way is Way.INSERT


@pytest.mark.parametrize("kind", [LossKind.RIM, LossKind.THROUGH])
def test_through_the_wall_it_is_putty_while_small_then_an_insert(kind: LossKind) -> None:
    small = replace(SMALL, kind=kind)
    assert way_to_fill(small).way is Way.PUTTY
    assert way_to_fill(replace(small, extent_along_mm=21.0)).way is Way.INSERT
    assert way_to_fill(replace(small, volume_ml=1.6)).way is Way.INSERT
    # Paste has nothing to lie on, however thin the wall.
    thin = replace(small, thickness_mm=(1.0, 1.2), volume_ml=0.1)
    assert way_to_fill(thin).way is Way.PUTTY


def test_the_rule_can_be_edited() -> None:
    rule = WayRule(putty_span_mm=65.0, putty_volume_ml=20.0)
    advice = way_to_fill(LOSS, rule)
    assert advice.way is Way.PUTTY
    assert "65 mm wide" in advice.reason
