"""What was chosen to find the missing form by, and what else was tried."""

from __future__ import annotations

from dataclasses import dataclass, field

from lossfill.mesh import BoolArray


@dataclass(frozen=True, slots=True)
class Trial:
    """What came of trying one source on patches like one gap.

    Parameters
    ----------
    source : its name
    error_mm : RMS error of the skin to expect of it; None where it does not apply
    bound_mm : the skin's RMS error stays below this in nine of ten cases; None likewise
    says : how the source was found, or why it does not apply
    """

    source: str
    error_mm: float | None
    bound_mm: float | None
    says: str


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """The source chosen for a gap.

    Parameters
    ----------
    gap : (R, C) its cells
    source : name of the source
    error_mm, bound_mm : as in `Trial`, of the one that was chosen
    trials : all that were tried, in the order of `sources.NAMES`
    """

    gap: BoolArray = field(repr=False)
    source: str
    error_mm: float
    bound_mm: float
    trials: tuple[Trial, ...]
