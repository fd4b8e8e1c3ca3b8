"""Options that several commands share: how a piece is shaped and fitted."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Any

import typer

from lossfill import tolerances as tol


def in_range(value: float | None, low: float, high: float, advice: str) -> float | None:
    """Refuse a length, mm, that is out of range, or no number."""
    if value is not None and not low <= value <= high:  # also refuses NaN
        raise typer.BadParameter(f"{value:g} mm is outside {low:g} to {high:g} mm; {advice}")
    return value


class EdgeName(StrEnum):
    """How a setback ends at the join."""

    FADE = "fade"
    STEP = "step"


class ProcessName(StrEnum):
    """What a piece is made by."""

    NOZZLE = "nozzle"
    RESIN = "resin"
    WOOD = "wood"
    CLAY = "clay"


def _gap(what: str) -> Any:
    return typer.Option(
        metavar="MM",
        help=what,
        callback=lambda value: in_range(value, 0.0, tol.CLEARANCE_MAX_MM, "that is the most"),
    )


ClearanceOption = Annotated[float | None, _gap("Another gap along the break, 0 to 1 mm.")]
SetbackOutsideOption = Annotated[
    float | None, _gap("How far the outer skin lies below the vessel's, for coats, 0 to 1 mm.")
]
SetbackInsideOption = Annotated[float | None, _gap("The same for the inner skin.")]
SetbackEdgeOption = Annotated[
    EdgeName | None, typer.Option(help="Let the setback fade to flush at the join, or step.")
]
ProcessOption = Annotated[
    ProcessName | None, typer.Option(help="Trim edges that are too thin to be made so.")
]
FilletOption = Annotated[
    float | None, _gap("Round the seat's sharp ridges to this radius, 0 to 1 mm.")
]


def pointed_at(words: list[str] | None) -> tuple[tuple[float, float], ...]:
    """Places such as "4:30,62mm" as angle, degrees, and height above the foot, mm."""
    from lossfill.errors import InputError
    from lossfill.form.pointed import angle_of_clock

    places = []
    for word in words or ():
        place, _, height = word.partition(",")
        try:
            places.append((angle_of_clock(place), float(height.strip().removesuffix("mm"))))
        except (InputError, ValueError) as error:
            raise typer.BadParameter(
                f"{word!r} is no place: give a clock and a height above the foot, such as 4:30,62mm"
            ) from error
    return tuple(places)


AtOption = Annotated[
    list[str] | None,
    typer.Option(
        "--at",
        metavar="CLOCK,HEIGHT",
        help="Look for a small loss there, such as 4:30,62mm; may be given several times.",
    ),
]

SplitOption = Annotated[
    bool,
    typer.Option("--split", help="Part a piece in two where it would else lose much of its seat."),
]
