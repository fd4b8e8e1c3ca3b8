"""Small or big: by which way a loss is best filled. The rule is common practice, and editable."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from lossfill.loss.loss import Loss, LossKind


class Way(Enum):
    """A way to fill a loss; the value is the phrase shown to people."""

    PASTE = "paste in thin layers"
    PUTTY = "putty on a backing"
    INSERT = "a made insert"


@dataclass(frozen=True, slots=True)
class WayRule:
    """Up to where each way is practical (common practice; no published source).

    Parameters
    ----------
    paste_depth_mm, paste_volume_ml : deepest and largest loss on one side for paste, which dries
        through its own thickness
    putty_span_mm, putty_volume_ml : widest and largest loss through the wall for putty, which sags
        and shrinks over more
    """

    paste_depth_mm: float = 3.0
    paste_volume_ml: float = 0.5
    putty_span_mm: float = 20.0
    putty_volume_ml: float = 1.5


@dataclass(frozen=True, slots=True)
class Advice:
    """The way recommended, and the part of the rule that led to it."""

    way: Way
    reason: str


def way_to_fill(loss: Loss, rule: WayRule = WayRule()) -> Advice:
    """Recommend how to fill a loss, from its depth, span and volume."""
    span_mm = max(loss.extent_around_mm, loss.extent_along_mm)
    through = loss.kind in (LossKind.THROUGH, LossKind.RIM, LossKind.HANDLE)
    depth_mm = loss.thickness_mm[1] if through else loss.depth_mm
    paste = depth_mm <= rule.paste_depth_mm and loss.volume_ml <= rule.paste_volume_ml
    if paste and not through:
        return Advice(
            Way.PASTE,
            f"up to {rule.paste_depth_mm:g} mm deep and {rule.paste_volume_ml:g} ml, on one side",
        )
    if span_mm <= rule.putty_span_mm and loss.volume_ml <= rule.putty_volume_ml:
        return Advice(
            Way.PUTTY, f"up to {rule.putty_span_mm:g} mm wide and {rule.putty_volume_ml:g} ml"
        )
    return Advice(
        Way.INSERT, f"wider than {rule.putty_span_mm:g} mm or more than {rule.putty_volume_ml:g} ml"
    )
