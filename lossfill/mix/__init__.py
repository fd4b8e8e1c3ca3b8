"""How much of what to mix, for each loss and for the whole vessel."""

from lossfill.mix.quantities import Amount, ChainLink, Need, Portion, Quantities, Total

__all__ = ["Amount", "ChainLink", "Need", "Portion", "Quantities", "Total"]
