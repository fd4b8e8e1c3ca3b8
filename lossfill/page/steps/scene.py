"""What the view shows in several steps: the vessel, the losses in it, the pieces for them."""

from __future__ import annotations

from typing import Any

from lossfill.page.context import Context
from lossfill.page.view import Mark, Shape

CLAY = "#cec8be"
LOST = "#2f6db3"
PIECE = "#d9a441"
"""Blue and ochre differ in lightness too: they are told apart in grey and by any common eye."""

CLOSE_UP_MM = 12.0
"""At least so much is seen about a place, or a pin hole would fill the view."""

Box = tuple[tuple[float, float, float], tuple[float, float, float]]


def box_of(vessel: dict[str, Any]) -> Box:
    """Lowest and highest corner of the vessel, vessel coordinates."""
    low, high = vessel["box_mm"]
    return (low[0], low[1], low[2]), (high[0], high[1], high[2])


def has_axis(vessel: dict[str, Any]) -> bool:
    """Whether the vessel is turned about an axis."""
    return vessel["frame"].get("rim_diameter_mm") is not None


def vessel_shape(context: Context, *, opacity: float = 1.0) -> Shape:
    """The vessel as scanned."""
    return Shape("vessel", context.url("vessel.mesh"), CLAY, opacity=opacity)


def loss_shape(context: Context, loss: dict[str, Any]) -> Shape:
    """What is missing at one place."""
    number = loss["number"]
    return Shape(loss_name(number), context.url(f"loss_{number}.mesh"), LOST)


def piece_shape(context: Context, piece: dict[str, Any]) -> Shape:
    """One piece at home."""
    return Shape(piece_name(piece["name"]), context.url(f"piece_{piece['name']}.mesh"), PIECE)


def loss_name(number: int) -> str:
    """What a loss is called in the view."""
    return f"loss_{number}"


def piece_name(name: str) -> str:
    """What a piece is called in the view."""
    return f"piece_{name}"


def loss_marks(losses: list[dict[str, Any]]) -> list[Mark]:
    """The losses' numbers, each at its loss."""
    return [Mark(loss_name(one["number"]), place_of(one), str(one["number"])) for one in losses]


def place_of(loss: dict[str, Any]) -> tuple[float, float, float]:
    """The middle of a loss, vessel coordinates."""
    x, y, z = loss["centre_mm"]
    return float(x), float(y), float(z)


def close_up_mm(loss: dict[str, Any]) -> float:
    """How much is to be seen about a loss."""
    return float(max(loss["extent_around_mm"], loss["extent_along_mm"], CLOSE_UP_MM))
