"""Gauges: cards cut to sections of vessel and piece, which cross to a form and check a piece."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from lossfill import tolerances as tol
from lossfill.errors import InputError, UnsuitedError
from lossfill.make.brief import Brief, Side
from lossfill.make.cards import Card, Slot, Window, cut_cards, meets, skin_sides
from lossfill.make.cardsheet import sheet
from lossfill.make.facing import Facing, facing
from lossfill.make.joins import skin_of_piece
from lossfill.make.made import Made, Proved
from lossfill.make.section import Area
from lossfill.make.sweep import in_vessel, sampled, whole_surface
from lossfill.mesh import FloatArray
from lossfill.nearest import Surface

USUAL_LEVELS, USUAL_UPRIGHTS = 3, 5
"""Cards of each sort where there is room: a card for each 10 mm or so of a loss of common size."""


@dataclass(frozen=True, slots=True)
class GaugeSettings:
    """What may be chosen of gauges.

    Parameters
    ----------
    side : the skin that they follow
    levels, uprights : how many cards of each sort; None for 3 and 5, or fewer on a small loss,
        where they may stand past it on the vessel
    margin_mm : how far they reach past the loss, so that they rest on the vessel
    depth_mm : how deep the cards are where the wall stands out most
    card_mm : thickness of the card or board that they are cut from
    play_mm : how much wider the slots are
    """

    side: Literal["outer", "inner"] = "outer"
    levels: int | None = None
    uprights: int | None = None
    margin_mm: float = 15.0
    depth_mm: float = 25.0
    card_mm: float = 1.5
    play_mm: float = 0.1

    def __post_init__(self) -> None:
        if self.side not in ("outer", "inner"):
            raise InputError(f"gauges follow the outer or the inner side, not {self.side!r}")
        for what, count in (("level", self.levels), ("upright", self.uprights)):
            if count is not None and not 2 <= count <= 30:
                raise InputError(f"{count} {what} gauge cards make no form: choose 2 to 30")
        for what, value, low, high in (
            ("margin", self.margin_mm, 3.0, 60.0),
            ("depth", self.depth_mm, 10.0, 100.0),
            ("card thickness", self.card_mm, 0.2, 6.0),
            ("slot play", self.play_mm, 0.0, 1.0),
        ):
            if not low <= value <= high:
                raise InputError(
                    f"a gauge's {what} of {value:g} mm cannot be: choose {low:g} to {high:g} mm"
                )

    @property
    def slot_mm(self) -> float:
        """Width of the slots."""
        return self.card_mm + self.play_mm

    @property
    def apart_mm(self) -> float:
        """Least distance between cards whose count is not given."""
        return 2.0 * self.slot_mm + tol.GAUGE_APART_MM


def make_gauges(brief: Brief, settings: GaugeSettings | None = None) -> Made:
    """Draw the gauge cards for a loss.

    Raises
    ------
    UnsuitedError
        Where the loss lacks the side, or the cards stand too close or have no room.
    """
    settings = settings or GaugeSettings()
    side = Side.OUTER if settings.side == "outer" else Side.INNER
    view = facing(brief, side)
    window, places, cut_short = _window(brief, view, side, settings)
    cards, reach = cut_cards(brief, view, window, places, settings.depth_mm)
    cards, apart = _slotted(cards, view, reach, settings)
    skin, lost = whole_surface(brief), Surface(skin_of_piece(brief.lost, side))
    off = max(_off(card, skin, reach, settings.slot_mm) for card in cards)
    notes = _notes(settings, view, cut_short)
    drawings = tuple(
        sheet(brief, [card for card in cards if card.level == level], view, lost, reach,
              settings.slot_mm, settings.side, notes)
        for level in (True, False)
    )  # fmt: skip
    proved = (
        Proved("distance of the cards' edges from the skin, mm", off, tol.TEMPLATE_EDGE_MM),
        Proved("distance between two cards' skins where they cross, mm", apart, tol.SLOT_MATCH_MM),
    )
    return Made("gauges", brief.number, drawings=drawings, proved=proved, notes=notes)


def _window(
    brief: Brief, view: Facing, side: Side, settings: GaugeSettings
) -> tuple[Window, tuple[FloatArray, FloatArray], bool]:
    """What the cards cover, where they stand, and whether the loss runs on past them."""
    skin = skin_of_piece(brief.lost, side)
    # The edge of a tile is skin too, but no card stands on it.
    seen = view.sees(skin)
    across, out, up = view.places(skin.vertices[np.unique(skin.faces[seen])]).T
    left, right, low, high = across.min(), across.max(), up.min(), up.max()
    aside = settings.margin_mm / (float(np.median(out)) if view.about_axis else 1.0)
    reach = np.radians(tol.GAUGE_REACH_DEG) if view.about_axis else np.inf
    cut_short = bool(left < -reach or right > reach)
    left, right = max(left, -reach), min(right, reach)
    # Inside a vessel, the wall opposite must not be taken for the wall about the loss, which itself
    # curves towards the viewer, over the margin by up to twice its width.
    limit = float(out.max()) + 2.0 * settings.margin_mm if side is Side.INNER else 2000.0
    window = Window(
        (max(left - aside, -reach), min(right + aside, reach)),
        (low - settings.margin_mm, high + settings.margin_mm),
        limit,
    )
    radius = float(out.min()) if view.about_axis else 1.0
    wall = view.up_of(brief)
    levels = _spread(low, high, settings.levels, USUAL_LEVELS, settings.apart_mm, wall)
    uprights = _spread(left, right, settings.uprights, USUAL_UPRIGHTS,
                       settings.apart_mm / radius, window.across)  # fmt: skip
    return window, (levels, uprights), cut_short


def _spread(
    low: float, high: float, asked: int | None, usual: int, apart: float, room: tuple[float, float]
) -> FloatArray:
    """Places of cards, evenly over the loss; where none were asked for, never too close."""
    count = asked or int(np.clip((high - low) / apart, 2, usual))
    if asked is None and high - low < count * apart:
        # A small loss: the cards stand past it, but still on the wall.
        edge = (0.5 * count + 0.25) * apart
        middle = np.clip(0.5 * (low + high), room[0] + edge, max(room[1] - edge, room[0] + edge))
        low, high = middle - 0.5 * count * apart, middle + 0.5 * count * apart
    places: FloatArray = low + (np.arange(count) + 0.5) / count * (high - low)
    return places


def _slotted(
    cards: list[Card], view: Facing, reach: float, settings: GaugeSettings
) -> tuple[list[Card], float]:
    """Cut the slots, and say how far apart the two cards of a crossing see the skin, mm."""
    slots: dict[str, list[Slot]] = {card.name: [] for card in cards}
    apart = 0.0
    for level in (card for card in cards if card.level):
        for upright in (card for card in cards if not card.level):
            start, way = view.ray(upright.place)
            up_start, up_way = np.array([0.0, level.place]), np.array([1.0, 0.0])
            met = meets(level.corners, start, way)
            up_met = meets(upright.corners, up_start, up_way)
            if met is None or up_met is None:
                continue
            points = [
                in_vessel((at + along * ahead)[None], card.plane_from_vessel)
                for card, at, along, ahead in (
                    (level, start, met, way), (upright, up_start, up_met, up_way))
            ]  # fmt: skip
            apart = max(apart, float(np.linalg.norm(points[0] - points[1])))
            half, over = 0.5 * (met + reach), 5.0 * settings.slot_mm
            # Levels open at the back and uprights at the skin: each upright slides in from outside.
            slots[level.name].append(Slot(start, way, half, reach + over, upright.name))
            slots[upright.name].append(Slot(up_start, up_way, met - over, half, level.name))
    _check_apart(slots, cards, settings)
    return [_with_slots(card, slots[card.name], settings) for card in cards], apart


def _check_apart(slots: dict[str, list[Slot]], cards: list[Card], settings: GaugeSettings) -> None:
    """Refuse cards whose slots leave no card between them."""
    for card in cards:
        middles = np.array([s.start + (s.low_mm if card.level else s.high_mm) * s.way
                            for s in slots[card.name]])  # fmt: skip
        if len(middles) < 2:
            continue
        gap = float(np.linalg.norm(np.diff(middles, axis=0), axis=1).min())
        if gap < 2.0 * settings.slot_mm:
            sort = "upright" if card.level else "level"
            raise UnsuitedError(
                f"the {sort} gauge cards stand {gap:.1f} mm apart, less than two slots of "
                f"{settings.slot_mm:g} mm: ask for fewer or cut them from thinner card"
            )


def _with_slots(card: Card, slots: list[Slot], settings: GaugeSettings) -> Card:
    area: Area = card.area
    for slot in slots:
        area = area - Area([slot.corners(settings.slot_mm)])
    whole: Area = max(area.decompose(), key=lambda part: part.area())
    return replace(card, area=whole, slots=tuple(slots))


def _off(card: Card, skin: Surface, reach: float, slot_mm: float) -> float:
    """Largest distance of a card's drawn edge from the skin, mm."""
    starts = card.corners
    chosen = skin_sides(card, reach, slot_mm)
    points = sampled(starts[chosen], np.roll(starts, -1, axis=0)[chosen])
    return float(skin.distance(in_vessel(points, card.plane_from_vessel)).max())


def _notes(settings: GaugeSettings, view: Facing, cut_short: bool) -> tuple[str, ...]:
    seen = "outside" if settings.side == "outer" else "inside"
    notes = [
        f"Cut from card {settings.card_mm:g} mm thick; the slots are {settings.slot_mm:g} mm wide. "
        "Cut the lines smooth: wiggles finer than a pencil's line are the scan's noise.",
        f"Level cards (L) lie with the printed side up, and upright ones (U) with it to the left, "
        f"seen from {seen}. Hold the level cards one above the other and push each upright one in "
        "from the front, each into the slots that bear its number.",
        f"Hold the form against the vessel's {settings.side} side. Short marks on a card's edge "
        "are the joins, and along the line between them lies the piece: fill or carve until it "
        "touches the edge there. A single card serves to check a piece.",
        "A fresh edge of card or board cuts skin: smooth it before you press on it.",
    ]
    if not view.about_axis:
        notes.append(
            "Level cards are parallel to each other, and so are the upright ones; the loss faces "
            "you, and the joins show where each stands."
        )
    if cut_short:
        notes.append(
            "The loss runs farther around the vessel than a form could be lifted off: the cards "
            f"cover {tol.GAUGE_REACH_DEG:g}° to either side of its middle."
        )
    return tuple(notes)
