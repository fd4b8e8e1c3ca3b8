"""Stage 5: where is material missing, and what kind of loss is it?"""

from lossfill.loss.cracks import Crack, find_cracks
from lossfill.loss.find import find_losses
from lossfill.loss.loss import Loss, LossKind
from lossfill.loss.way import Advice, Way, WayRule, way_to_fill

__all__ = [
    "Advice",
    "Crack",
    "Loss",
    "LossKind",
    "Way",
    "WayRule",
    "find_cracks",
    "find_losses",
    "way_to_fill",
]
