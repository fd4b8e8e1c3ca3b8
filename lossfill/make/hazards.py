"""What can hurt where each thing is made and used, from the one register of cautions."""

from __future__ import annotations

from collections.abc import Iterable

from lossfill.cautions import Work, cautions_for

WORKS: dict[str, frozenset[Work]] = {
    "piece": frozenset({Work.PRINT, Work.LEVEL}),
    "mould": frozenset({Work.PRINT, Work.CAST}),
    "backing": frozenset({Work.PRINT, Work.FILL}),
    "rib": frozenset({Work.FILL, Work.LEVEL}),
    "gauges": frozenset({Work.HANDLE, Work.LEVEL}),
    "wrap": frozenset({Work.HANDLE}),
    "stack": frozenset({Work.CARVE, Work.LEVEL}),
}
"""What a person does with each thing, by its name in `things.MAKERS`."""

_KEYS: dict[str, frozenset[str]] = {
    "piece": frozenset({"print resin"}),
    "mould": frozenset({"print resin", "resin", "heat"}),
    "backing": frozenset({"print resin", "resin"}),
    "stack": frozenset({"wood dust"}),
}
"""What its stuff may be, where that is not yet known: whoever prints may print in resin."""


def cautions_of(things: Iterable[str]) -> tuple[str, ...]:
    """What to be reminded of with some things, each said once; nothing for no thing.

    Parameters
    ----------
    things : names of `things.MAKERS`
    """
    named = frozenset(things)
    if not named:
        return ()
    works = frozenset().union(*(WORKS[name] for name in named))
    keys = frozenset().union(*(_KEYS.get(name, frozenset()) for name in named))
    return cautions_for(works, keys)
