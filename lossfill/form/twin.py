"""Another vessel of the set: how much larger it is, and how its skin lies on this one's.

Two pots of a set are alike but for their size: one clay shrinks more, one was thrown fuller. The
size is the scale about the foot at which the twin's skin lies best on the skin that is left here,
found together with its turn and its small motion, with all that differs otherwise set aside.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from lossfill import tolerances as tol
from lossfill.form.cells import Cells, Skin, gather, place
from lossfill.form.copies import Copy, image, left_out_in_turn, register
from lossfill.frame.frame import Frame
from lossfill.frame.profile import Profile, project
from lossfill.mesh import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Twin:
    """Another vessel of the set, laid onto this one.

    Parameters
    ----------
    skin : (R, C) what it puts into each cell; no weight anywhere where it does not lie along
    residual_mm : robust spread of what its skin and this one differ by; infinite where it does
        not lie along
    larger : by what share it is larger than this vessel, as scanned; None where that could not be
        told
    larger_error : standard error of that share
    scaled : whether it was brought to this vessel's size before it was laid on
    """

    skin: Skin = field(repr=False)
    residual_mm: float
    larger: float | None
    larger_error: float
    scaled: bool

    @property
    def size_says(self) -> str:
        """How large it is beside this vessel, to as many digits as are sure."""
        if self.larger is None:
            return "its size beside this vessel could not be told"
        percent, error = 100 * self.larger, 100 * self.larger_error
        fine = error < tol.TWIN_SIZE_FINE_PERCENT
        give = max(error, 0.1 if fine else 1.0)
        words = f"{give:.1f} %" if fine else f"{give:.0f} %"
        if abs(percent) < max(2 * error, 0.05 if fine else 0.5):
            return f"of this vessel's size within {words}"
        more = "larger" if percent > 0 else "smaller"
        size = f"{abs(percent):.1f} %" if fine else f"{abs(percent):.0f} %"
        what = "scaled to this vessel" if self.scaled else "not scaled"
        return f"{size} {more}, give or take {words}; {what}"


def lay_twin(cells: Cells, profile: Profile, skin: Skin, twin: Frame, *, scaled: bool) -> Twin:
    """Find a twin's size and lay it onto this vessel.

    Parameters
    ----------
    skin : (R, C) what is left of this vessel
    twin : the other vessel, upright
    scaled : bring it to this vessel's size first; else it keeps its own
    """
    factor = _rough_factor(profile, twin)
    copy: Copy | None = None
    for _ in range(tol.TWIN_SIZE_ROUNDS):
        seen = _skin_of(twin, profile, cells, factor=factor)
        if copy is None:
            copy = _turned_on(cells, skin, seen)
        if not np.isfinite(copy.residual_mm):
            return _laid(cells, skin, twin, profile, copy, None, 0.0, scaled=scaled)
        copy = register(cells, skin, replace(copy, larger=0.0), other=seen, sized=True)
        factor *= 1 + copy.larger
        if abs(copy.larger) < tol.TWIN_SIZE_ROUNDING:
            break
    assert copy is not None
    error = float(left_out_in_turn(cells, skin, copy, other=seen, parts=tol.TWIN_SIZE_PARTS))
    return _laid(cells, skin, twin, profile, copy, factor, error, scaled=scaled)


def _laid(
    cells: Cells,
    skin: Skin,
    twin: Frame,
    profile: Profile,
    copy: Copy,
    factor: float | None,
    error: float,
    *,
    scaled: bool,
) -> Twin:
    """Lay it on at the size that is wanted; its turn is the same at either."""
    larger = None if factor is None else 1 / factor - 1
    seen = _skin_of(twin, profile, cells, factor=factor if scaled and factor else 1.0)
    if factor is None:
        laid = _turned_on(cells, skin, seen)
    else:
        laid = register(cells, skin, Copy(False, copy.turn_rad, np.zeros(6)), other=seen)
    if not np.isfinite(laid.residual_mm):
        nothing = Skin(np.zeros(cells.shape), np.zeros(cells.shape))
        return Twin(nothing, float("inf"), larger, error, scaled)
    return Twin(image(cells, seen, laid), laid.residual_mm, larger, error, scaled)


def _turned_on(cells: Cells, skin: Skin, twin: Skin) -> Copy:
    """Turn another vessel's skin about the axis until it lies on this one's."""
    columns = cells.shape[1]
    starts = range(0, columns, max(1, columns // tol.TWIN_STARTS))
    rough = [
        register(cells, skin, Copy(False, k * cells.column_rad, np.zeros(6)), other=twin, rounds=1)
        for k in starts
    ]
    best = sorted(rough, key=lambda copy: copy.residual_mm)[: tol.MIRROR_PLANES]
    return min(
        (register(cells, skin, copy, other=twin) for copy in best),
        key=lambda copy: copy.residual_mm,
    )


def _rough_factor(profile: Profile, twin: Frame) -> float:
    """Scale at which the twin's profile lies nearest to this one's, to about a step."""
    points, normals = _in_space(twin.profile.points), _in_space(twin.profile.normals)

    def apart_mm(factor: float) -> float:
        drop = project(profile, factor * points, normals)
        # What faces no part of it, and what is far off, says no more than that.
        off = np.where(drop.agreement > tol.SKIN_AGREEMENT, np.abs(drop.offset_mm), np.inf)
        return float(np.minimum(off, tol.TWIN_APART_MM).mean())

    low, high = tol.TWIN_FACTORS
    steps = round(np.log(high / low) / tol.TWIN_FACTOR_STEP)
    tried = np.geomspace(low, high, steps + 1)
    return float(min(tried, key=lambda factor: apart_mm(float(factor))))


def _in_space(half_plane: FloatArray) -> FloatArray:
    """(N, 2) of radius and height to (N, 3)."""
    return np.insert(half_plane, 1, 0.0, axis=1)


def _skin_of(twin: Frame, profile: Profile, cells: Cells, *, factor: float) -> Skin:
    """Skin of a twin, scaled about the foot, on this profile, in the twin's own turn."""
    samples = twin.samples
    there = samples.scaled(factor)
    drop = project(profile, there.points, there.calm_normals)
    reach = max(2.0, tol.SKIN_REACH * factor * twin.rim_diameter_mm)
    skin = (np.abs(drop.offset_mm) < reach) & (drop.agreement > tol.SKIN_AGREEMENT)
    where = place(cells, profile, drop, there)
    return gather(cells, where[skin], drop.offset_mm[skin])
