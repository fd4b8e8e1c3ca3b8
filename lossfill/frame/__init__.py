"""Stage 3: where is the axis, which way is up, where are rim and foot?"""

from lossfill.frame.find import find_frame
from lossfill.frame.frame import Frame, Roundness
from lossfill.frame.profile import Profile

__all__ = ["Frame", "Profile", "Roundness", "find_frame"]
