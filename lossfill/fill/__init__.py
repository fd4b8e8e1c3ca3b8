"""Stage 6: the solid that replaces it."""

from lossfill.fill.fill import Check, Fill
from lossfill.fill.make import make_fill

__all__ = ["Check", "Fill", "make_fill"]
