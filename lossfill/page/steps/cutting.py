"""Cutting the view open: a plane through vessel and pieces, upright or level, that can be moved."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

from nicegui import ui

from lossfill.page.context import Context
from lossfill.page.steps.parts import Range, paragraph
from lossfill.page.steps.scene import has_axis
from lossfill.page.steps.taking import group
from lossfill.page.view import Cut, Point, VesselView
from lossfill.page.words import piece as words

LEVEL = "level"
NONE = "none"


@dataclass(frozen=True, slots=True)
class Direction:
    """A direction in which the view may be cut.

    Parameters
    ----------
    name, says : in the list of directions
    normal : what lies along it past the cut is not shown
    low, high : how far the cut can be moved, mm
    begin : where it is at first
    """

    name: str
    says: str
    normal: Point
    low: float
    high: float
    begin: float


def directions(
    box: Sequence[Sequence[float]],
    losses: Sequence[dict[str, Any]],
    pieced: Collection[int],
    through: str = words.THROUGH,
) -> list[Direction]:
    """Upright through the axis and each loss that has a piece, then level through the first.

    Parameters
    ----------
    box : lowest and highest corner of the vessel
    losses : all losses
    pieced : numbers of those that have a piece
    through : what an upright direction is called
    """
    (x0, y0, z0), (x1, y1, z1) = box
    reach = math.hypot(max(abs(x0), abs(x1)), max(abs(y0), abs(y1)))
    made = []
    own = [loss for loss in losses if loss["number"] in pieced]
    for loss in own:
        x, y, _ = loss["centre_mm"]
        away = math.hypot(x, y)
        # In the middle of a floor any upright plane goes through it.
        turn = (x / away, y / away) if away > 1e-6 else (1.0, 0.0)
        # Seen from where the view stands at first, the near half is cut away.
        normal = (turn[1], -turn[0], 0.0)
        says = through.format(number=loss["number"])
        made.append(Direction(f"loss_{loss['number']}", says, normal, -reach, reach, 0.0))
    height = own[0]["centre_mm"][2] if own else 0.5 * (z0 + z1)
    made.append(Direction(LEVEL, words.LEVEL, (0.0, 0.0, 1.0), z0, z1, height))
    return made


class Cutting:
    """The controls of the cut."""

    def __init__(
        self, context: Context, view: VesselView, ways: list[Direction], upright_says: str
    ) -> None:
        self._context, self._view, self._upright_says = context, view, upright_says
        self._ways = {way.name: way for way in ways}
        with group(words.SECTION):
            options = {NONE: words.NO_CUT} | {way.name: way.says for way in ways}
            self._way = ui.radio(options, value=NONE, on_change=self._turned).props("dense")
            self._slider = Range(words.CUT_AT, self._cut, low=0.0, high=1.0, step=0.1, value=0.0)
            self._says = ui.label("")
            paragraph(words.SECTION_SAYS, "quiet")
            ui.checkbox(
                words.HIDE_VESSEL,
                on_change=lambda event: view.show("vessel", not event.value),
            )
        self._slider.set_visibility(False)

    def moved(self, offset: float) -> None:
        """Follow a cut that was dragged in the view."""
        way = self._ways.get(self._way.value)
        if way is not None:
            self._slider.set(way.low, way.high, min(max(offset, way.low), way.high))
            self._tell(way, offset)

    def _turned(self) -> None:
        way = self._ways.get(self._way.value)
        self._slider.set_visibility(way is not None)
        if way is None:
            self._says.set_text("")
            self._view.cut_at(None)
            return
        self._slider.set(way.low, way.high, way.begin)
        self._cut(way.begin)
        self._view.look_from(way.normal)

    def _cut(self, offset: float) -> None:
        way = self._ways.get(self._way.value)
        if way is None:
            return
        self._view.cut_at(Cut(way.normal, offset))
        self._tell(way, offset)

    def _tell(self, way: Direction, offset: float) -> None:
        says = words.CUT_LEVEL_SAYS if way.name == LEVEL else self._upright_says
        self._says.set_text(says.format(offset=self._context.length(offset)))


def cutting(
    context: Context,
    view: VesselView,
    vessel: dict[str, Any],
    losses: Sequence[dict[str, Any]],
    pieced: Collection[int],
) -> Cutting:
    """Put the controls of the cut on the page."""
    through, says = words.THROUGH, words.CUT_SAYS
    if not has_axis(vessel):
        through, says = words.THROUGH_MIDDLE, words.CUT_SAYS_MIDDLE
    return Cutting(context, view, directions(vessel["box_mm"], losses, pieced, through), says)
