"""What a repairer may choose of the piece's shape."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from lossfill import tolerances as tol
from lossfill.errors import InputError

Edge = Literal["fade", "step"]
Process = Literal["nozzle", "resin", "wood", "clay"]

EDGES: tuple[Edge, ...] = ("fade", "step")
LEAST_THICKNESS_MM: dict[Process, float] = {
    "nozzle": 0.8,
    "resin": 0.4,
    "wood": 1.5,
    "clay": 2.0,
}
"""mm; thinner than this an edge does not hold in the making, by process. Common practice, not
measured here: two passes of a 0.4 mm nozzle; a wall of cured resin that bears handling; wood
across the grain; clay as it is pressed and dried."""


@dataclass(frozen=True, slots=True)
class FillSettings:
    """How a piece is shaped from the loss that it fills.

    Parameters
    ----------
    clearance_mm : gap left along the break, 0–1 mm; the skin does not move
    setback_outside_mm, setback_inside_mm : how far the piece's skin lies below the body's, for
        coats of lacquer and metal, 0–1 mm
    setback_edge : "fade" lets the setback run out to nothing at the join, "step" keeps it full
    setback_fade_mm : way from the join over which a fading setback grows to its full depth, 1–20 mm
    process : how the piece is made, one of `LEAST_THICKNESS_MM`; thinner edges are trimmed. None
        trims nothing
    fillet_mm : radius to which sharp ridges of the seat are rounded, so that paste does not hold
        the piece off, 0–1 mm

    Raises
    ------
    InputError
        For a value out of range.
    """

    clearance_mm: float = 0.15
    setback_outside_mm: float = 0.0
    setback_inside_mm: float = 0.0
    setback_edge: Edge = "fade"
    setback_fade_mm: float = 3.0
    process: Process | None = None
    fillet_mm: float = 0.0

    def __post_init__(self) -> None:
        for name, value, low, high in (
            ("clearance", self.clearance_mm, 0.0, tol.CLEARANCE_MAX_MM),
            ("setback outside", self.setback_outside_mm, 0.0, tol.SETBACK_MAX_MM),
            ("setback inside", self.setback_inside_mm, 0.0, tol.SETBACK_MAX_MM),
            ("way over which the setback fades", self.setback_fade_mm, *tol.SETBACK_FADE_MM),
            ("fillet", self.fillet_mm, 0.0, tol.FILLET_MAX_MM),
        ):
            if not low <= value <= high:
                raise InputError(
                    f"the {name} of {value:g} mm is out of range: give {low:g} to {high:g} mm"
                )
        if self.setback_edge not in EDGES:
            raise InputError(
                f"the setback's edge cannot be {self.setback_edge!r}: give {' or '.join(EDGES)}"
            )
        if self.process is not None and self.process not in LEAST_THICKNESS_MM:
            raise InputError(
                f"no least thickness is known for {self.process!r}: "
                f"give {', '.join(LEAST_THICKNESS_MM)}"
            )

    @property
    def has_setback(self) -> bool:
        """Whether any skin is lowered."""
        return max(self.setback_outside_mm, self.setback_inside_mm) > 0.0

    @property
    def fade_mm(self) -> float | None:
        """The way over which a setback fades; None for a step."""
        return self.setback_fade_mm if self.setback_edge == "fade" else None

    @property
    def least_thickness_mm(self) -> float | None:
        """What the process can hold; None where it was not said."""
        return None if self.process is None else LEAST_THICKNESS_MM[self.process]


AS_IT_WAS_LOST = FillSettings()
"""The usual clearance, and the shape of what is missing."""
