"""Stage 5: where is material missing, and what kind of loss is it?"""

from lossfill.loss.find import find_losses
from lossfill.loss.loss import Loss, LossKind

__all__ = ["Loss", "LossKind", "find_losses"]
