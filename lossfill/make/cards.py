"""Cards cut to sections of the vessel made whole, with slots where they cross."""

from __future__ import annotations

from dataclasses import dataclass, replace

import manifold3d
import numpy as np

from lossfill import tolerances as tol
from lossfill.errors import UnsuitedError
from lossfill.make.brief import Brief
from lossfill.make.facing import Facing
from lossfill.make.section import Area, section, whole_section
from lossfill.make.sweep import Outwards, box, outline, swept_in, swept_out
from lossfill.mesh import BoolArray, FloatArray, IntArray

FAR_MM = 2000.0
"""Beyond every vessel."""


@dataclass(frozen=True, slots=True, eq=False)
class Slot:
    """A slot in a card, along the way out.

    Parameters
    ----------
    start, way : (2,) where the crossing starts in the card, and its direction outwards
    low_mm, high_mm : from where to where it is open, along the way
    mate : name of the card that goes in
    """

    start: FloatArray
    way: FloatArray
    low_mm: float
    high_mm: float
    mate: str

    def corners(self, width_mm: float) -> FloatArray:
        """Its rectangle, (4, 2), counter-clockwise."""
        aside = 0.5 * width_mm * np.array([-self.way[1], self.way[0]])
        low, high = (self.start + at * self.way for at in (self.low_mm, self.high_mm))
        return np.stack([low - aside, high - aside, high + aside, low + aside])

    def holds(self, points: FloatArray, width_mm: float) -> BoolArray:
        """Which points (N, 2) lie in it or on its rim."""
        off = points - self.start
        along, aside = off @ self.way, off @ np.array([-self.way[1], self.way[0]])
        hair = 1e-3
        inside: BoolArray = (
            (np.abs(aside) < 0.5 * width_mm + hair)
            & (along > self.low_mm - hair)
            & (along < self.high_mm + hair)
        )
        return inside


@dataclass(frozen=True, slots=True, eq=False)
class Card:
    """One card, in the plane of its section.

    Parameters
    ----------
    name : "L1" and so on for level cards, "U1" and so on for upright ones
    place : its height, or its angle or place across
    level : which sort it is
    plane_from_vessel : (4, 4) the plane
    outwards : which way is out
    area : the card, mm
    slots : cut into it
    """

    name: str
    place: float
    level: bool
    plane_from_vessel: FloatArray
    outwards: Outwards
    area: Area
    slots: tuple[Slot, ...] = ()

    @property
    def corners(self) -> FloatArray:
        """Its outline, (N, 2)."""
        return outline(self.area)


@dataclass(frozen=True, slots=True)
class Window:
    """What part of the vessel the cards cover, and how far out they reach.

    Parameters
    ----------
    across, up : lowest and highest, as `Facing.places` gives them
    limit_mm : how far out the wall is followed
    """

    across: tuple[float, float]
    up: tuple[float, float]
    limit_mm: float

    def strip(self, facing: Facing, *, level: bool, reach_mm: float) -> Area:
        """Its outline in the plane of a card, as far out as is asked."""
        behind = 0.0 if facing.about_axis else -FAR_MM
        if not level:
            return box((behind, self.up[0]), (reach_mm, self.up[1]))
        if not facing.about_axis:
            return box((self.across[0], behind), (self.across[1], reach_mm))
        turns = np.linspace(*self.across, 181)
        arc = reach_mm * np.stack([-np.sin(turns), np.cos(turns)], axis=1)
        result: Area = Area([np.concatenate([[[0.0, 0.0]], arc])])
        return result


def cut_cards(
    brief: Brief,
    facing: Facing,
    window: Window,
    places: tuple[FloatArray, FloatArray],
    depth_mm: float,
) -> tuple[list[Card], float]:
    """Cut level and upright cards, as yet without slots.

    Parameters
    ----------
    places : heights of the level cards, and places across of the upright ones
    depth_mm : their depth where the wall stands out most

    Returns
    -------
    The cards, and how far out their backs are.
    """
    walls = []
    for level, positions in zip((True, False), places, strict=True):
        outwards = facing.level_out if level else Outwards(None, np.array([1.0, 0.0]))
        for k, place in enumerate(positions, start=1):
            plane = facing.level(place) if level else facing.upright(place)
            strip = window.strip(facing, level=level, reach_mm=window.limit_mm)
            wall = _near_loss(whole_section(brief, plane) ^ strip, section(brief.lost.solid, plane))
            name = f"{'L' if level else 'U'}{k}"
            walls.append(Card(name, float(place), level, plane, outwards, wall))
    reach = depth_mm + max(_out(card, outline(card.area)).max() for card in walls)
    return [_card(brief, facing, window, wall, reach) for wall in walls], float(reach)


def _near_loss(wall: Area, lost: Area) -> Area:
    """The parts of a wall's section that hold some of the loss; else its largest part."""
    parts = wall.decompose()
    if not parts:
        raise UnsuitedError("a gauge card meets no wall: ask for fewer cards")
    near = [part for part in parts if not (part ^ lost).is_empty()]
    if not near:
        near = [max(parts, key=lambda part: part.area())]
    result: Area = Area.compose(near)
    return result


def _card(brief: Brief, facing: Facing, window: Window, wall: Card, reach: float) -> Card:
    strip = window.strip(facing, level=wall.level, reach_mm=reach)
    # Only where there is wall behind: not above the rim, nor below the foot.
    before = swept_out(wall.area, wall.outwards, FAR_MM) ^ strip
    area: Area = before - swept_in(wall.area, wall.outwards, FAR_MM)
    hair, miter = tol.GAUGE_SPIKE_MM, manifold3d.JoinType.Miter
    parts = area.offset(-hair, miter).offset(hair, miter).decompose()
    if not parts:
        raise UnsuitedError(f"the gauge card {wall.name} came out empty: ask for fewer cards")
    card: Area = max(parts, key=lambda part: part.area())
    # What stands across, such as the wall opposite, leaves no room.
    if (card ^ whole_section(brief, wall.plane_from_vessel)).area() > 0.01 * card.area():
        raise UnsuitedError(
            f"the gauge card {wall.name} has no room before the wall: choose a smaller depth, "
            "a smaller margin, or the other side"
        )
    return replace(wall, area=card)


def _out(card: Card, points: FloatArray) -> FloatArray:
    """How far out points of a card lie."""
    if card.outwards.centre is None:
        result: FloatArray = points @ card.outwards.direction
        return result
    return np.asarray(np.linalg.norm(points - card.outwards.centre, axis=1), np.float64)


def meets(corners: FloatArray, start: FloatArray, way: FloatArray) -> float | None:
    """How far along a way the outline of a card is met first, or None."""
    aside = np.array([-way[1], way[0]])
    a, b = corners - start, np.roll(corners, -1, axis=0) - start
    low, high = a @ aside, b @ aside
    crossed = (low < 0.0) != (high < 0.0)
    if not crossed.any():
        return None
    share = low[crossed] / (low[crossed] - high[crossed])
    along = (a[crossed] + share[:, None] * (b - a)[crossed]) @ way
    ahead = along[along > (0.0 if np.allclose(start, 0.0) and len(along) > 2 else -FAR_MM)]
    return float(ahead.min()) if len(ahead) else None


def skin_sides(card: Card, reach_mm: float, width_mm: float) -> IntArray:
    """Which sides of a card's outline follow the skin, as indices of their first corners."""
    starts = card.corners
    ends = np.roll(starts, -1, axis=0)
    middles, steps = 0.5 * (starts + ends), ends - starts
    ways = card.outwards.at(middles)
    aside = np.abs(steps[:, 0] * ways[:, 1] - steps[:, 1] * ways[:, 0])
    # Ends of the card, and bridges across undercuts, run straight out.
    kept = aside > 1e-3 * np.linalg.norm(steps, axis=1)
    kept &= _out(card, middles) < reach_mm * np.cos(np.radians(1.0)) - 1e-3
    for slot in card.slots:
        kept &= ~slot.holds(middles, width_mm)
    return np.flatnonzero(kept).astype(np.int32)
