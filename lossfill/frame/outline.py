"""Outline of an oval or lobed vessel: taken out before revolving and put back after.

A pot a little out of round is left to the elastic form. Where the outline strays farther than the
wall is thick, no single section describes the vessel, and neither skin could be told from the
other. Then every point is first moved to where it would lie on a round vessel: the oval, the same
at all heights, is taken out first (`oval`), then lobes (`lobes`), which are even only without it.
The form, too, goes by angles on the round vessel: it was round when its wall came out uneven.
"""

from __future__ import annotations

from dataclasses import dataclass

from lossfill.frame.lobes import Lobes
from lossfill.frame.oval import Oval
from lossfill.frame.samples import Samples
from lossfill.mesh import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """Way from an oval or lobed vessel to the round one and back.

    Parameters
    ----------
    oval, lobes : the two parts; None where the vessel has no such part
    """

    oval: Oval | None
    lobes: Lobes | None

    @property
    def repeats(self) -> int | None:
        """How many lobes there are, or None."""
        # Their harmonics are the low ones, that of the lobes and its double.
        return None if self.lobes is None else self.lobes.orders[-2]

    def drawn(self, samples: Samples) -> Samples:
        """Take the oval out of samples of the vessel, normals with them."""
        return samples if self.oval is None else self.oval.to_round(samples)

    def to_round(self, samples: Samples) -> Samples:
        """Move samples of the vessel to where they lie on the round one, normals with them."""
        drawn = self.drawn(samples)
        return drawn if self.lobes is None else self.lobes.to_round(drawn)

    def from_round(self, points: FloatArray, along: FloatArray) -> FloatArray:
        """Move points (N, 3) of the round vessel at places `along` to the real one."""
        if self.lobes is not None:
            points = self.lobes.from_round(points, along)
        return points if self.oval is None else self.oval.from_round(points)
