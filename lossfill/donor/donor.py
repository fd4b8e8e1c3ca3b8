"""A solid that shows, about where it belongs, what a body lacks."""

from __future__ import annotations

from dataclasses import dataclass, field

from lossfill.solids import Solid


@dataclass(frozen=True, slots=True, eq=False)
class Donor:
    """A closed surface laid on the body, from which what is missing can be taken.

    It needs no axis: it is how losses in handles, and in boxes and tiles, are made good. It lies
    on the body's skin only roughly; `lead` brings it flush.

    Parameters
    ----------
    source : how it was found, one of `form.sources.NAMES`
    solid : scan coordinates, mm. Over each gap it shows the intact surface, and it reaches some
        way past the join, into or over the body
    residual_mm : robust spread of its skin about the body's where both are there
    says : how it was found, for the record
    error_mm : RMS error to expect of it where no other place can tell, as for a span between two
        stubs; None where hidden patches of the body tell
    """

    source: str
    solid: Solid = field(repr=False)
    residual_mm: float
    says: str
    error_mm: float | None = None
