"""The whole road in one call: scan file in, a fill for every loss out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from lossfill.body.body import Body
from lossfill.fill.fill import Fill
from lossfill.form.form import Form
from lossfill.frame.frame import Frame
from lossfill.loss.loss import Loss
from lossfill.scan.scan import Scan, Unit

Progress = Callable[[str, float], None]
"""Called with the stage's name in plain words and the fraction of the whole job done, 0–1."""


@dataclass(frozen=True, slots=True)
class Settings:
    """What a repairer may choose.

    Parameters
    ----------
    clearance_mm : gap left along the break for adhesive, 0–1 mm; 0.15 suits thin lacquer paste
        or slow epoxy (common practice)
    units : unit of the file's numbers; None lets the file or its size decide
    seed : of every random choice; the same seed gives the same files
    """

    clearance_mm: float = 0.15
    units: Unit | None = None
    seed: int = 1


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """Every stage's result, in the order of the road."""

    settings: Settings
    scan: Scan
    body: Body
    frame: Frame
    form: Form
    losses: tuple[Loss, ...]
    fills: tuple[Fill, ...]

    @property
    def warnings(self) -> tuple[str, ...]:
        """All that the stages want a person to know."""
        stages = (self.scan, self.body, self.frame, self.form, *self.fills)
        return tuple(warning for stage in stages for warning in stage.warnings)
