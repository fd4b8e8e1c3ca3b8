"""Stage 6: the solid that replaces it."""

from lossfill.fill.fill import Check, Fill
from lossfill.fill.make import make_fill
from lossfill.fill.settings import FillSettings

__all__ = ["Check", "Fill", "FillSettings", "make_fill"]
