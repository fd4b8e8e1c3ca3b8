"""The way in, as one would say it with the vessel standing in front."""

from __future__ import annotations

import numpy as np

from lossfill import tolerances as tol
from lossfill.fit.fitted import Entry
from lossfill.mesh import FloatArray


def entry_words(entry: Entry, vessel_from_scan: FloatArray, place_scan: FloatArray) -> str:
    """Say from where a piece comes in, such as "from above and outside".

    Parameters
    ----------
    vessel_from_scan : (4, 4) rigid
    place_scan : (3,) middle of the loss, scan coordinates
    """
    from_where = -(vessel_from_scan[:3, :3] @ entry.direction)
    place = vessel_from_scan[:3, :3] @ place_scan + vessel_from_scan[:3, 3]
    outward = np.array([place[0], place[1], 0.0])
    size = float(np.linalg.norm(outward))
    if size < tol.ENTRY_AXIS_MM:
        # In the middle of a floor there is no outside to speak of.
        return f"from {'above' if from_where[2] > 0 else 'below'}"
    outward /= size
    left = np.cross(outward, [0.0, 0.0, 1.0])
    parts = [
        (float(from_where[2]), "above", "below"),
        (float(from_where @ outward), "outside", "inside"),
        # Left and right of one who looks at the loss from outside.
        (float(from_where @ left), "the left", "the right"),
    ]
    told = [
        (abs(share), one if share > 0 else other)
        for share, one, other in parts
        if abs(share) > tol.ENTRY_TOLD_SHARE
    ]
    return "from " + " and ".join(word for _, word in sorted(told, reverse=True))
