"""How much of what to mix, for each loss and for the whole vessel."""

from lossfill.mix.mix import quantities_for
from lossfill.mix.needs import need_given, needs_of
from lossfill.mix.quantities import Amount, ChainLink, Need, Portion, Quantities, Total
from lossfill.mix.settings import MixSettings

__all__ = [
    "Amount",
    "ChainLink",
    "MixSettings",
    "Need",
    "Portion",
    "Quantities",
    "Total",
    "need_given",
    "needs_of",
    "quantities_for",
]
