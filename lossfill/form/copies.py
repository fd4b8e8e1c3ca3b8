"""What stands in for a lost part: the vessel's own skin, mirrored or turned, or another's.

On the grid of cells a mirror plane through the axis takes column j to column k - j, and a turn by
part of the circle takes it to j - k. A vessel made by hand is neither exactly, and its plane misses
the axis by a little: the image is laid onto the skin by the small rigid motion and the turn that
make the two agree best, robustly, so that a dent or a handle does not pull it.

The motion is linear here: it moves the skin at P with normal N by N · (t + ω × P).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from lossfill import tolerances as tol
from lossfill.form.cells import Cells, Skin
from lossfill.mesh import BoolArray, FloatArray
from lossfill.robust import belief, spread_of


@dataclass(frozen=True, slots=True, eq=False)
class Copy:
    """How a place of the wall finds the one that it is like.

    Parameters
    ----------
    mirrored : the place at angle θ is like that at `turn_rad` - θ; else that at θ - `turn_rad`
    turn_rad : see above; a mirror's plane stands at half of it
    motion : (6,) shift in mm and turn in radians that lay the image onto the skin
    residual_mm : robust spread of what skin and image then differ by; infinite where untested
    overlap : share of the skin that has an image to compare with
    larger : share by which the image is made larger, about the foot
    """

    mirrored: bool
    turn_rad: float
    motion: FloatArray
    residual_mm: float = float("inf")
    overlap: float = 0.0
    larger: float = 0.0


def image(cells: Cells, skin: Skin, copy: Copy) -> Skin:
    """Skin as seen through a copy: what it puts into each cell; no weight where it has nothing."""
    angles = cells.angles
    source = copy.turn_rad - angles if copy.mirrored else angles - copy.turn_rad
    columns = cells.shape[1]
    place = np.mod(source / cells.column_rad, columns)
    low = np.floor(place).astype(np.intp) % columns
    high, t = (low + 1) % columns, np.mod(place, 1.0)
    weight = (1 - t) * skin.weight[:, low] + t * skin.weight[:, high]
    values = skin.offset_mm * skin.weight
    total = (1 - t) * values[:, low] + t * values[:, high]
    # A column that lies on one of the two needs the other for nothing.
    there = weight > tol.COPY_WEIGHT_MIN
    offset = np.divide(total, weight, out=np.zeros(cells.shape), where=there)
    moved = _moved_by(cells) @ copy.motion + copy.larger * _swelled_by(cells)[:, None]
    offset += np.where(there, moved, 0.0)
    return Skin(offset, np.where(there, weight, 0.0))


def find_mirrors(cells: Cells, skin: Skin) -> list[Copy]:
    """Find the planes through the axis, or near it, across which the skin is most like itself.

    Returns
    -------
    The best first; a vessel of many lobes has many that are all but as good.
    """
    there, values = _weighed(cells, skin)
    # Σ w w' (d - d')² over all pairs of columns j, k - j: a convolution for all planes at once.
    overlap = _convolved(there, there)
    squares = 2 * (
        _convolved(there * values**2, there) - _convolved(there * values, there * values)
    )
    score = _score(overlap, squares)
    tried = [
        register(cells, skin, Copy(True, k * cells.column_rad, np.zeros(6)))
        for k in _lowest(score, tol.MIRROR_PLANES)
    ]
    tried.sort(key=lambda found: found.residual_mm)
    # With little overlap the first rounds leave it a quarter of a degree off.
    return [register(cells, skin, copy) for copy in tried[:1]] + tried[1:]


def find_turn(cells: Cells, skin: Skin, *, n: int | None = None) -> tuple[int, float] | None:
    """Find how often the skin repeats itself around the turn.

    Parameters
    ----------
    n : the number of repeats where it is known

    Returns
    -------
    The number and the share of the skin's variation that is left between repeats; None where
    nothing repeats plainly.
    """
    there, values = _weighed(cells, skin)
    overlap = _correlated(there, there)
    cross = _correlated(there * values, there * values)
    squares = _correlated(there * values**2, there)
    # The correlation of two images is not symmetric in its squares: both ways are counted.
    squares = squares + squares[(-np.arange(len(squares))) % len(squares)] - 2 * cross
    score = _score(overlap, squares)
    finite = np.isfinite(score)
    usual = float(score[finite].mean())
    if not usual > 0:
        return None
    columns = len(score)
    shifts = np.arange(columns + 1)
    wrapped = np.append(score, score[0])
    known = np.isfinite(wrapped)

    def left(m: int) -> float:
        at = np.arange(1, m) * columns / m
        return float(np.interp(at, shifts[known], wrapped[known]).mean()) / usual

    if n is not None:
        return n, left(n)
    orders = np.arange(2, tol.REPEAT_MAX + 1)
    rest = np.array([left(int(m)) for m in orders])
    # A sixfold vessel repeats twice and thrice as well: the finest repeat that is as good counts.
    good = np.flatnonzero(rest <= float(rest.min()) + tol.TURN_AS_GOOD)
    best = int(good[-1])
    return (int(orders[best]), float(rest[best])) if rest[best] < tol.TURN_LEFT_MAX else None


def turns(cells: Cells, skin: Skin, n: int) -> list[Copy]:
    """Copies by which each of `n` repeats stands in for one, laid onto the skin one by one."""
    return [register(cells, skin, Copy(False, 2 * np.pi * k / n, np.zeros(6))) for k in range(1, n)]


def register(
    cells: Cells,
    skin: Skin,
    copy: Copy,
    *,
    other: Skin | None = None,
    rounds: int = tol.COPY_ROUNDS,
    sized: bool = False,
) -> Copy:
    """Lay a copy onto the skin: settle its turn and its small motion.

    Parameters
    ----------
    skin : what the image is laid onto
    copy : near the right one
    other : the skin that is copied, where it is not the same
    sized : settle its size too
    """
    there = skin.weight > 0
    for _ in range(rounds):
        seen = image(cells, skin if other is None else other, copy)
        both = there & (seen.weight > 0)
        if both.sum() < 50:
            return replace(copy, residual_mm=float("inf"), overlap=0.0)
        # Seven numbers are asked for: a few thousand cells, spread evenly, tell them all.
        some = np.flatnonzero(both)
        some = some[:: max(1, len(some) // tol.COPY_CELLS)]
        answer, spread = _robust(*_apart(cells, skin, seen, some, sized=sized))
        # Farther than this the slope says nothing, and a plain pot has no turn to settle at all.
        by = float(np.clip(answer[6], -tol.COPY_STEP_RAD, tol.COPY_STEP_RAD))
        copy = replace(
            copy,
            turn_rad=float(np.mod(copy.turn_rad + by, 2 * np.pi)),
            motion=copy.motion + answer[:6],
            residual_mm=spread,
            overlap=float(both.sum() / max(there.sum(), 1)),
            larger=copy.larger + (float(answer[7]) if sized else 0.0),
        )
    return copy


def left_out_in_turn(cells: Cells, skin: Skin, copy: Copy, *, other: Skin, parts: int) -> float:
    """Standard error of a copy's size, from leaving out one part of the turn after the other.

    Unlike the scatter of single cells it feels that each vessel is out of round in its own way.

    Reference: B. Efron, "The Jackknife, the Bootstrap and Other Resampling Plans", SIAM 1982,
    chapter 3, from memory.
    """
    seen = image(cells, other, copy)
    some = np.flatnonzero((skin.weight > 0) & (seen.weight > 0))
    some = some[:: max(1, len(some) // tol.COPY_CELLS)]
    part = some % cells.shape[1] * parts // cells.shape[1]
    sizes = [
        float(_robust(*_apart(cells, skin, seen, some[part != k], sized=True))[0][7])
        for k in np.unique(part)
        if (part != k).sum() >= 50
    ]
    n = len(sizes)
    return float(np.sqrt((n - 1) * np.var(sizes))) if n > 1 else float("inf")


def _apart(
    cells: Cells, skin: Skin, seen: Skin, some: NDArray[np.intp], *, sized: bool
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """What moves the image at some cells, how far it is off there, and how much each cell says.

    Returns
    -------
    (N, 7) or, with its size, (N, 8); (N,) mm; (N,)
    """
    slope, sloped = _slope(cells, seen)
    columns = [_moved_by(cells).reshape(-1, 6)[some], -slope.ravel()[some, None]]
    if sized:
        columns.append(_swelled_by(cells)[some // cells.shape[1], None])
    area = cells.area_mm2[some // cells.shape[1]]
    difference = (skin.offset_mm - seen.offset_mm).ravel()[some]
    return np.hstack(columns), difference, area * sloped.ravel()[some]


def together(images: list[tuple[Skin, float]]) -> Skin:
    """Mean of several images, each weighed by the square of how well it lies on the skin."""
    total = np.zeros_like(images[0][0].offset_mm)
    count = np.zeros_like(total)
    weight = np.zeros_like(total)
    for seen, residual_mm in images:
        share = (seen.weight > 0) / (residual_mm**2 + tol.RESIDUAL_FLOOR_MM**2)
        total += share * seen.offset_mm
        count += share
        weight += seen.weight
    offset = np.divide(total, count, out=np.zeros_like(total), where=count > 0)
    return Skin(offset, np.where(count > 0, weight, 0.0))


def _moved_by(cells: Cells) -> FloatArray:
    """How far a shift along and a turn about x, y and z move each cell's skin, (R, C, 6)."""
    cos, sin = np.cos(cells.angles), np.sin(cells.angles)
    r, z = cells.radius_mm[:, None], cells.height_mm[:, None]
    n_r, n_z = cells.normal_r[:, None], cells.normal_z[:, None]
    level = np.ones_like(cos)
    # The turn about the axis moves no skin: it is what `turn_rad` is for.
    lever = z * n_r - r * n_z
    columns = [n_r * cos, n_r * sin, n_z * level, -lever * sin, lever * cos, 0.0 * n_r * level]
    return np.stack(columns, axis=2)


def _swelled_by(cells: Cells) -> FloatArray:
    """How far each row's skin moves when the vessel grows about its foot, (R,) mm per share."""
    return cells.radius_mm * cells.normal_r + cells.height_mm * cells.normal_z


def _slope(cells: Cells, skin: Skin) -> tuple[FloatArray, BoolArray]:
    """Change of the offset around the turn, mm per radian, and where it is known."""
    ahead, back = (np.roll(skin.offset_mm, by, axis=1) for by in (-1, 1))
    known = (np.roll(skin.weight, -1, axis=1) > 0) & (np.roll(skin.weight, 1, axis=1) > 0)
    slope = np.where(known, (ahead - back) / (2 * cells.column_rad), 0.0)
    if known.any():
        # The edge of a dent is far steeper than any relief, and one such cell outweighs hundreds.
        steep = tol.COPY_STEEP * float(np.sqrt(np.median(slope[known] ** 2)))
        known &= np.abs(slope) <= steep + 1e-9
    return slope, known


def _robust(design: FloatArray, value: FloatArray, area: FloatArray) -> tuple[FloatArray, float]:
    """Weighted least squares with outliers set aside; the robust spread of the rest, mm."""
    answer = np.zeros(design.shape[1])
    scale = np.maximum(np.sqrt((design**2).mean(axis=0)), 1e-9)
    scaled = design / scale
    weight = area.astype(np.float64)
    for _ in range(tol.COPY_REWEIGHTED):
        weighted = scaled * weight[:, None]
        # A column that nothing shows, such as the turn of a plain pot, stays where it is.
        ridge = tol.COPY_RIDGE * float(weight.sum()) * np.eye(len(answer))
        solved = np.linalg.solve(weighted.T @ scaled + ridge, weighted.T @ value)
        answer = np.asarray(solved, dtype=np.float64)
        residual = value - scaled @ answer
        spread = spread_of(residual) + 1e-6
        weight = area * belief(residual, spread)
    return answer / scale, spread


def _weighed(cells: Cells, skin: Skin) -> tuple[FloatArray, FloatArray]:
    """Weight of each cell in a comparison, and its offset from its row's middle."""
    there = np.where(skin.weight > 0, np.sqrt(cells.area_mm2)[:, None], 0.0)
    seen = np.where(skin.weight > 0, skin.offset_mm, np.nan)
    some = np.isfinite(seen).any(axis=1)
    middle = np.zeros(len(seen))
    middle[some] = np.nanmedian(seen[some], axis=1)
    return there, np.where(skin.weight > 0, skin.offset_mm - middle[:, None], 0.0)


def _convolved(a: FloatArray, b: FloatArray) -> FloatArray:
    """Σ over rows and j of a[j] b[k - j], for each k."""
    product = (np.fft.rfft(a, axis=1) * np.fft.rfft(b, axis=1)).sum(axis=0)
    result: FloatArray = np.fft.irfft(product, a.shape[1])
    return result


def _correlated(a: FloatArray, b: FloatArray) -> FloatArray:
    """Σ over rows and j of a[j] b[j - k], for each k."""
    product = (np.fft.rfft(a, axis=1) * np.conj(np.fft.rfft(b, axis=1))).sum(axis=0)
    result: FloatArray = np.fft.irfft(product, a.shape[1])
    return result


def _score(overlap: FloatArray, squares: FloatArray) -> FloatArray:
    """Mean square difference; infinite where too little overlaps to say."""
    enough = overlap > tol.COPY_OVERLAP_MIN * overlap.max()
    return np.where(enough, squares / np.maximum(overlap, 1e-9), np.inf)


def _lowest(score: FloatArray, n: int) -> list[int]:
    """Places of the lowest local minima around a circle, best first."""
    dip = (score <= np.roll(score, 1)) & (score <= np.roll(score, -1)) & np.isfinite(score)
    places = np.flatnonzero(dip)
    return [int(k) for k in places[np.argsort(score[places], kind="stable")][:n]]
