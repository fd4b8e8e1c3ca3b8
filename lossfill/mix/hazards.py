"""Which works and materials what is mixed brings with it, for the register of cautions."""

from __future__ import annotations

from collections.abc import Mapping

from lossfill.cautions import Work
from lossfill.materials.material import Kind
from lossfill.mix.quantities import Quantities

_BY_KIND: Mapping[Kind, Work] = {
    Kind.PLASTER: Work.CAST,
    Kind.CLAY: Work.FIRE,
    Kind.WOOD: Work.CARVE,
    Kind.PRINT: Work.PRINT,
}
_BY_USE: Mapping[str, Work] = {"join": Work.JOIN, "coat": Work.COAT, "metal": Work.METAL}


def works_of(quantities: Quantities) -> tuple[Work, ...]:
    """What is about to be done with what is mixed."""
    works = [
        _BY_USE.get(portion.use) or _BY_KIND.get(portion.material.kind, Work.FILL)
        for portion in quantities.portions
    ]
    return tuple(dict.fromkeys(works))


def caution_keys_of(quantities: Quantities) -> tuple[str, ...]:
    """The cautions that its materials name, each once."""
    keys = [key for portion in quantities.portions for key in portion.material.cautions]
    return tuple(dict.fromkeys(keys))
