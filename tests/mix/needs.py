"""Losses with round figures, for tests of what is mixed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from lossfill.mix import Need

WHOLE = Need(
    name="loss 1",
    number=1,
    volume_ml=2.0,
    volume_error_ml=0.1,
    outer_mm2=400.0,
    inner_mm2=300.0,
    break_mm2=500.0,
    depth_mm=5.0,
    clearance_mm=0.2,
    piece_ml=1.9,
    box_mm=(40.0, 20.0, 6.0),
    way="a made insert",
)


def need(number: int = 1, **changed: Any) -> Need:
    return replace(WHOLE, number=number, name=f"loss {number}", **changed)
