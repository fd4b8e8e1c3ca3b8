"""What is mixed where each loss is filled as recommended, with the usual materials."""

from __future__ import annotations

from lossfill.materials import read_table
from lossfill.mix.mix import quantities_for
from lossfill.mix.needs import needs_of
from lossfill.mix.quantities import Quantities
from lossfill.mix.settings import MixSettings
from lossfill.pack.record import FillRecord


def usual_quantities(record: FillRecord) -> Quantities:
    """Reckon it from the record alone, before anything has been chosen."""
    return quantities_for(needs_of(record), MixSettings(), read_table())
