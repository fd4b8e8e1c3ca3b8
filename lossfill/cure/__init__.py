"""When which step may follow, and the air in which lacquer cures."""

from lossfill.cure.plan import Plan, Step

__all__ = ["Plan", "Step"]
