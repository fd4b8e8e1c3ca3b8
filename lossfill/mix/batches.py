"""How a mass is mixed: in batches that are used up before they set and still mix true."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lossfill import tolerances as tol
from lossfill.materials.material import Kind, Material
from lossfill.mix.quantities import Amount, Use
from lossfill.mix.settings import MixSettings

_POURED = frozenset({Kind.EPOXY, Kind.PLASTER})


@dataclass(frozen=True, slots=True)
class Batch:
    """Equal batches of one sitting.

    Parameters
    ----------
    count : how many
    mass_g : of each, before it is rounded to the scale
    raised : whether it was made larger than needed, to mix true
    """

    count: int
    mass_g: float
    raised: bool


def least_batch_g(material: Material, choice: MixSettings) -> float:
    """The smallest batch that mixes true.

    What the material asks for; and where it has parts, as much as lets the scale tell the least of
    them to within `ratio_error_share`.
    """
    if len(material.parts) < 2:
        return material.least_batch_g
    least_share = min(part.mass_share for part in material.parts)
    told_g = choice.scale_step_g / choice.ratio_error_share
    return max(material.least_batch_g, told_g / least_share)


def most_batch_g(material: Material, use: Use, choice: MixSettings) -> float:
    """The largest batch that can be used up before it sets.

    What is liquid is poured into a loss, but spread along a break.
    """
    if material.pot_life_min is None:
        return math.inf
    is_poured = use == "fill" and material.kind in _POURED
    rate = choice.poured_ml_min if is_poured else choice.laid_ml_min
    return material.pot_life_min * rate * material.density_g_ml


def sittings_of(material: Material, layers: int) -> int:
    """How many times it is mixed anew: once, or for each layer where it does not keep so long."""
    pot_life_min, wait_min = material.pot_life_min, 60.0 * material.layer_hours[0]
    return 1 if pot_life_min is None or pot_life_min >= wait_min * max(layers - 1, 0) else layers


def batch_for(mass_g: float, material: Material, use: Use, choice: MixSettings) -> Batch:
    """The batches of one sitting."""
    count = max(1, math.ceil(mass_g / most_batch_g(material, use, choice) - tol.STEP_SLACK))
    least = least_batch_g(material, choice)
    return Batch(count, max(mass_g / count, least), raised=mass_g / count < least)


def amounts_of(batch_g: float, count: int, material: Material, choice: MixSettings) -> list[Amount]:
    """What to weigh or draw up of each component for some equal batches together.

    Each batch is measured for itself, so that each is rounded up.
    """
    return [
        Amount(
            part.name,
            _times(count, batch_g * part.mass_share, choice.scale_step_g),
            _times(count, batch_g * part.mass_share / part.density_g_ml, choice.syringe_step_ml)
            if part.pours
            else None,
        )
        for part in material.parts
    ]


def summed(every: list[list[Amount]]) -> tuple[Amount, ...]:
    """The amounts of several sittings of one material together."""
    return tuple(
        Amount(
            same[0].part,
            _clean(math.fsum(one.mass_g for one in same)),
            None
            if same[0].volume_ml is None
            else _clean(math.fsum(one.volume_ml or 0.0 for one in same)),
        )
        for same in zip(*every, strict=True)
    )


def rounded_up(value: float, step: float) -> float:
    """The next whole step that is not below a value."""
    return _clean(math.ceil(value / step - tol.STEP_SLACK) * step)


def _times(count: int, value: float, step: float) -> float:
    return _clean(count * rounded_up(value, step))


def _clean(value: float) -> float:
    """Without the dust of binary fractions: 0.07, not 0.07000000000000001."""
    return round(value, 9)
