"""Stage 2: find the solid that is really there."""

from lossfill.body.body import Body, Repair
from lossfill.body.repair import make_body

__all__ = ["Body", "Repair", "make_body"]
