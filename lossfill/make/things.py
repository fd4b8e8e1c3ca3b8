"""All that can be made, by name, and one call that makes what is asked for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from lossfill.drawing.paper import PaperSettings
from lossfill.errors import BooleanError, InputError, UnsuitedError
from lossfill.fill.make import storable
from lossfill.make.backing import BackingSettings, make_backing
from lossfill.make.brief import Brief
from lossfill.make.gauges import GaugeSettings, make_gauges
from lossfill.make.made import Made
from lossfill.make.mould import make_mould
from lossfill.make.mould_settings import MouldSettings
from lossfill.make.piece import PieceSettings, make_piece
from lossfill.make.rib import RibSettings, make_rib
from lossfill.make.shrink import Shrink
from lossfill.make.stack import StackSettings, make_stack
from lossfill.make.wrap import WrapSettings, make_wrap


@dataclass(frozen=True, slots=True)
class MakeSettings:
    """What a repairer may choose of the things made.

    Parameters
    ----------
    piece, mould, backing, rib, gauges, wrap, stack : of each thing
    shrink : of what the piece or what goes into the mould is made of
    paper : on which the drawings are printed
    """

    piece: PieceSettings = field(default_factory=PieceSettings)
    mould: MouldSettings = field(default_factory=MouldSettings)
    backing: BackingSettings = field(default_factory=BackingSettings)
    rib: RibSettings = field(default_factory=RibSettings)
    gauges: GaugeSettings = field(default_factory=GaugeSettings)
    wrap: WrapSettings = field(default_factory=WrapSettings)
    stack: StackSettings = field(default_factory=StackSettings)
    shrink: Shrink = field(default_factory=Shrink)
    paper: PaperSettings = field(default_factory=PaperSettings)


Maker = Callable[[Brief, MakeSettings], Made]

MAKERS: dict[str, Maker] = {
    "piece": lambda brief, chosen: make_piece(brief, chosen.piece, shrink=chosen.shrink),
    "mould": lambda brief, chosen: make_mould(brief, chosen.mould, shrink=chosen.shrink),
    "backing": lambda brief, chosen: make_backing(brief, chosen.backing),
    "rib": lambda brief, chosen: make_rib(brief, chosen.rib),
    "gauges": lambda brief, chosen: make_gauges(brief, chosen.gauges),
    "wrap": lambda brief, chosen: make_wrap(brief, chosen.wrap),
    "stack": lambda brief, chosen: make_stack(brief, chosen.stack),
}
"""Every thing that can be made, by the name by which it is asked for."""

ALL = "all"


@dataclass(frozen=True, slots=True)
class NotMade:
    """A thing that was asked for and does not suit a loss, or did not come out.

    Parameters
    ----------
    thing, number : its name, and of which loss
    why : one line
    """

    thing: str
    number: int
    why: str


@dataclass(frozen=True, slots=True, eq=False)
class Makings:
    """What was made, and what was not.

    Parameters
    ----------
    made : in the order of losses and of `MAKERS`
    not_made : with the reason
    """

    made: tuple[Made, ...]
    not_made: tuple[NotMade, ...]


def names_of(words: Sequence[str]) -> tuple[str, ...]:
    """Names of things from the words asked for, in the order of `MAKERS`.

    Raises
    ------
    InputError
        For a name that is none, or none at all.
    """
    asked = {name.strip().lower() for word in words for name in word.split(",")} - {""}
    unknown = sorted(asked - MAKERS.keys() - {ALL})
    if unknown or not asked:
        what = f"{unknown[0]!r} cannot be made" if unknown else "nothing to make was named"
        raise InputError(f"{what}: name some of {', '.join(MAKERS)}, or {ALL}")
    return tuple(name for name in MAKERS if name in asked or ALL in asked)


def make_things(
    briefs: Sequence[Brief],
    names: Sequence[str],
    settings: MakeSettings = MakeSettings(),
    *,
    progress: Callable[[str, float], None] | None = None,
) -> Makings:
    """Make things for every loss; what does not suit one of them is left out and told.

    Raises
    ------
    InputError
        For a setting that cannot be used, or where nothing at all was made.
    """
    makings = make_what_suits(briefs, names, settings, progress=progress)
    if not makings.made:
        first = makings.not_made[:1]
        why = first[0].why if first else "no loss has a piece: fill the scan first"
        raise InputError(f"nothing was made: {why}")
    return makings


def make_what_suits(
    briefs: Sequence[Brief],
    names: Sequence[str],
    settings: MakeSettings = MakeSettings(),
    *,
    progress: Callable[[str, float], None] | None = None,
) -> Makings:
    """The same, also where nothing suits: beside pieces that are there all the same.

    Parameters
    ----------
    briefs : of the losses
    names : keys of `MAKERS`
    progress : told of each thing as it begins, and the share of the work done

    Raises
    ------
    InputError
        For a setting that cannot be used.
    """
    made: list[Made] = []
    not_made: list[NotMade] = []
    jobs = [(brief, name) for brief in briefs for name in names]
    for k, (brief, name) in enumerate(jobs):
        if progress is not None:
            progress(f"making the {name} for loss {brief.number}", k / len(jobs))
        try:
            made.append(_storable(MAKERS[name](brief, settings)))
        except (UnsuitedError, BooleanError) as error:
            not_made.append(NotMade(name, brief.number, str(error)))
    return Makings(tuple(made), tuple(not_made))


def _storable(made: Made) -> Made:
    """The same with solids that a file's 32-bit numbers hold exactly."""
    solids = tuple(replace(one, solid=storable(one.solid)[0]) for one in made.solids)
    return replace(made, solids=solids)
