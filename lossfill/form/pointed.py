"""Places at which a person says that something is missing, and what is bare of skin about them.

What is too small to be told from texture by itself can be told once one knows where to look: the
skin about the place is laid aside, and what lies below where the skin around leads to is a gap.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from lossfill import tolerances as tol
from lossfill.errors import InputError
from lossfill.form.cells import Cells, Skin, gather, label_around
from lossfill.form.conform import split_scales
from lossfill.form.rings import with_rings
from lossfill.form.skin import Seen
from lossfill.frame.frame import Frame
from lossfill.frame.profile import at
from lossfill.frame.samples import Samples
from lossfill.mesh import BoolArray, FloatArray

_CLOCK = re.compile(r"(1[0-2]|0?[1-9])(?::([0-5][0-9]))?")


def angle_of_clock(text: str) -> float:
    """Angle of a place told by the clock, degrees counter-clockwise from above, 0 to 360.

    Parameters
    ----------
    text : such as "4:30", with 12 at angle 0 and the hours running clockwise seen from above

    Raises
    ------
    InputError
        Where it is no time of a clock.
    """
    match = _CLOCK.fullmatch(text.strip())
    if match is None:
        raise InputError(
            f"{text.strip()[:20]!r} is no place on a clock: give hours and minutes, such as 4:30"
        )
    hours = int(match[1]) + int(match[2] or 0) / 60.0
    return (-30.0 * hours) % 360.0


def place_on_outside(frame: Frame, angle_deg: float, height_mm: float) -> FloatArray:
    """The place of the outer skin at an angle and a height, (3,) vessel coordinates.

    Raises
    ------
    InputError
        Where the vessel is not so tall.
    """
    profile = frame.profile
    outside = profile.points[profile.lip :]
    top = float(outside[0, 1])
    if not 0.0 <= height_mm <= top + tol.POINTED_REACH_MM:
        raise InputError(
            f"{height_mm:g} mm above the foot is not on this vessel: give 0 to {top:.0f} mm"
        )
    level = np.abs(outside[:, 1] - height_mm)
    # Where the outside passes a height more than once, a person means what bulges out.
    there = np.flatnonzero(level <= level.min() + profile.spacing_mm)
    along = int(there[outside[there, 0].argmax()])
    radius, height = outside[along]
    turn = np.radians(angle_deg)
    place = np.array([[radius * np.cos(turn), radius * np.sin(turn), height]])
    if frame.outline is not None:
        place = frame.outline.from_round(place, np.array([float(profile.lip + along)]))
    result: FloatArray = place[0]
    return result


def pointed_places(
    frame: Frame,
    pointed_mm: Sequence[tuple[float, float, float]],
    pointed_at: Sequence[tuple[float, float]],
) -> FloatArray:
    """All places pointed at, (N, 3) vessel coordinates.

    Parameters
    ----------
    pointed_mm : places in vessel coordinates
    pointed_at : angle (degrees) and height above the foot (mm) of places on the outside

    Raises
    ------
    InputError
        Where one of them is not on the vessel.
    """
    places = [np.asarray(place, dtype=np.float64) for place in pointed_mm]
    places += [place_on_outside(frame, angle, height) for angle, height in pointed_at]
    result = np.array(places, dtype=np.float64).reshape(-1, 3)
    if not np.isfinite(result).all():
        raise InputError("a place that was pointed at has no number: point at it again")
    return result


def cells_about(frame: Frame, cells: Cells, places: FloatArray) -> BoolArray:
    """Cells within reach of some places, (R, C).

    Parameters
    ----------
    places : (N, 3) vessel coordinates
    """
    mask = np.zeros(cells.shape, dtype=bool)
    if frame.outline is not None:
        here = Samples(places, places, places, 0.0)
        places = frame.outline.to_round(here).points
    points, _ = at(frame.profile, cells.along)
    for x, y, z in places:
        toward = x * np.cos(cells.angles) + y * np.sin(cells.angles)
        across = points[:, :1] ** 2 - 2.0 * points[:, :1] * toward + x**2 + y**2
        mask |= across + (points[:, 1:] - z) ** 2 < tol.POINTED_REACH_MM**2
    return mask


def bare_about(
    cells: Cells,
    seen: Seen,
    near: BoolArray,
    gap: BoolArray,
    offset_mm: FloatArray,
    where: NDArray[np.intp],
) -> BoolArray:
    """Cells that lie below what the skin beyond the places' reach leads to, (R, C).

    Parameters
    ----------
    near : (R, C) cells within reach of the places, which have no say in where the skin was
    gap : (R, C) where the vessel shows no skin anyway
    offset_mm, where : (N,) of all samples, however they face: distance from the profile, and cell
    """
    hidden = near | gap
    clear = Skin(seen.skin.offset_mm, np.where(hidden, 0.0, seen.skin.weight))
    field = with_rings(cells, seen.skin, seen.field_mm, hidden)
    residual = np.where(clear.weight > 0, clear.offset_mm - field, 0.0)
    smooth, rough = split_scales(cells, Skin(residual, clear.weight))
    usual = np.sqrt(np.median(rough, axis=1, keepdims=True))
    depth = np.maximum(tol.POINTED_LOW_MM, tol.SAG_SPREADS * usual)
    below = offset_mm - (field + smooth).ravel()[where]
    # Far below lies the other skin, or what is seen of a handle from its wrong side.
    ours = near.ravel()[where] & (np.abs(below) < tol.POINTED_DEEPEST_MM)
    is_low = (below < -depth.ravel()[where // cells.shape[1]]).astype(np.float64)
    low = gather(cells, where[ours], is_low[ours])
    bare = near & (low.offset_mm > tol.POINTED_BARE_SHARE)
    # A crumb of a break may show no sample at all.
    labels, n = label_around(bare | (near & (low.weight == 0)))
    meets = np.bincount(labels[bare], minlength=n + 1) > 0
    meets[0] = False
    result: BoolArray = meets[labels]
    return result
