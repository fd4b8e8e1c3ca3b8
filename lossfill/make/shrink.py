"""How much larger a thing is made because what it is made of shrinks.

Shrinkage is a share of the size as made: what is 100 mm long in wet clay and 88 mm when fired has
shrunk by 0.12. To end at a wanted size it is therefore made 1/(1 - s) times as large, and not
1 + s times: 250 mm at 12 % need 284.1 mm, where 250 x 1.12 = 280 would come out 3.6 mm short.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lossfill.errors import InputError
from lossfill.mesh import FloatArray, unit


@dataclass(frozen=True, slots=True)
class Shrink:
    """What a paste, clay or wax loses in length between the mould and the finished piece.

    None by default: it differs by a hundredfold between pastes of one kind, so that it is measured
    on a test bar of the very stuff and not guessed.

    Parameters
    ----------
    along : share of the length lost along a given axis, 0 to less than 1
    across : share lost at right angles to that axis, 0 to less than 1

    Raises
    ------
    InputError
        For a share below 0 or of 1 and more.
    """

    along: float = 0.0
    across: float = 0.0

    def __post_init__(self) -> None:
        for name in ("along", "across"):
            share = getattr(self, name)
            if not share >= 0:
                raise InputError(
                    f"the shrinkage {name} is {100 * share:g} %, but it must be 0 % or more: "
                    "give how much shorter a test bar became"
                )
            if not share < 1:
                raise InputError(
                    f"the shrinkage {name} is {100 * share:g} %, but it must be less than 100 %: "
                    "give how much shorter a test bar became"
                )

    @property
    def oversize_along(self) -> float:
        """How many times as long it is made along the axis."""
        return 1 / (1 - self.along)

    @property
    def oversize_across(self) -> float:
        """How many times as wide it is made across the axis."""
        return 1 / (1 - self.across)

    @property
    def volume_factor(self) -> float:
        """How many times the finished volume goes into the mould."""
        return self.oversize_along * self.oversize_across**2

    def then(self, later: Shrink) -> Shrink:
        """Shrink once and then again, such as in drying and then in the kiln.

        What is left is multiplied: 6 % and then 6.4 % are 12.0 %, not 12.4 %.
        """
        return Shrink(
            along=1 - (1 - self.along) * (1 - later.along),
            across=1 - (1 - self.across) * (1 - later.across),
        )

    def matrix(self, axis: FloatArray, about_mm: FloatArray) -> FloatArray:
        """Enlarge from the finished size to the size as made, (4, 4).

        Parameters
        ----------
        axis : (3,) that `along` is measured along
        about_mm : (3,) the point that stays where it is
        """
        ahead = unit(np.asarray(axis, dtype=float))
        about = np.asarray(about_mm, dtype=float)
        more_along = self.oversize_along - self.oversize_across
        result = np.eye(4)
        result[:3, :3] = self.oversize_across * np.eye(3) + more_along * np.outer(ahead, ahead)
        result[:3, 3] = about - result[:3, :3] @ about
        return result


def shrink_of_bar(made_mm: float, finished_mm: float) -> float:
    """Shrinkage that a test bar shows, as a share of its length when made.

    Raises
    ------
    InputError
        Where a length is not above 0, or the bar grew.
    """
    if not finished_mm > 0 or not made_mm > 0:
        raise InputError(
            f"the test bar's lengths are {made_mm:g} and {finished_mm:g} mm, but both must be "
            "above 0: measure between its two marks"
        )
    if finished_mm > made_mm:
        raise InputError(
            f"the test bar grew from {made_mm:g} to {finished_mm:g} mm: give the length as made "
            "first, then the finished one"
        )
    return 1 - finished_mm / made_mm
