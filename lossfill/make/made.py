"""What making gives: solids, drawings, and what was proved of them."""

from __future__ import annotations

from dataclasses import dataclass, field

import manifold3d

from lossfill.drawing.model import Drawing


@dataclass(frozen=True, slots=True)
class Proved:
    """One thing that was measured of what was made, against its limit.

    Parameters
    ----------
    what : in words, with its unit, such as "volume shared with the piece as the halves part, mm³"
    value : as measured
    limit : the most that it may be
    """

    what: str
    value: float
    limit: float

    @property
    def passed(self) -> bool:
        """Whether the limit is kept; a value that is not a number fails."""
        return self.value <= self.limit


@dataclass(frozen=True, slots=True, eq=False)
class MadeSolid:
    """One solid to be printed or cut, mm.

    Parameters
    ----------
    name : of its files, without ending, such as "loss_1_mould_lower"
    title : what it is, in words
    solid : standing as it prints best, its lowest point on z = 0
    material : a note on what it is made of, or nothing
    """

    name: str
    title: str
    solid: manifold3d.Manifold = field(repr=False)
    material: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Made:
    """One thing made for one loss.

    Parameters
    ----------
    thing : its name, such as "mould"
    number : of the loss
    solids, drawings : what it consists of
    proved : what was measured of it
    notes : sentences that every front end must show: how to use it, and what to know of it
    """

    thing: str
    number: int
    solids: tuple[MadeSolid, ...] = ()
    drawings: tuple[Drawing, ...] = ()
    proved: tuple[Proved, ...] = ()
    notes: tuple[str, ...] = field(default=())
