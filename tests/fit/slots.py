"""Blocks with a dovetail slot along y; seen along y a trapezoid, wider at its floor."""

from __future__ import annotations

import manifold3d
import numpy as np
from fill.wedges import Wedged

NECK_MM = 12.0
DEPTH_MM = 6.0
LONG_MM = 20.0


def slotted(*, undercut_mm: float, depth_mm: float = DEPTH_MM, long_mm: float = LONG_MM) -> Wedged:
    """A block 40 mm wide and 14 mm deep with a slot, wider at its floor by `undercut_mm` a side."""
    block = manifold3d.Manifold.cube((40.0, long_mm, 14.0)).translate((-20.0, 0.0, -14.0))
    half = 0.5 * NECK_MM
    more = undercut_mm / depth_mm
    corners = np.array([
        [half - more, 1.0],
        [-half + more, 1.0],
        [-half - undercut_mm, -depth_mm],
        [half + undercut_mm, -depth_mm],
    ])  # fmt: skip
    prism = manifold3d.Manifold.extrude(manifold3d.CrossSection([corners]), long_mm + 2.0)
    standing = prism.rotate((90.0, 0.0, 0.0)).translate((0.0, long_mm + 1.0, 0.0))
    whole = block.as_original()
    piece, body = whole.split(standing)
    return Wedged(whole, piece, body)
