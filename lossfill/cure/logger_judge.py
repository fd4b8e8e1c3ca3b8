"""How long the air of a log was fit for curing, where it was worst, and what remains.

Between two readings temperature and humidity are drawn straight, so that the moment at which a
limit is crossed is exact for that line, and hours are weighted by time, not by readings. Where
readings stop for longer than a few usual steps, nothing is known and nothing counts.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from lossfill import tolerances as tol
from lossfill.cure.air import AirLimits, Side, limit_of
from lossfill.cure.logger import Log
from lossfill.errors import InputError

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Numbers = npt.NDArray[np.float64]
    Spans = list[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Excursion:
    """Time on one side of the range.

    Parameters
    ----------
    side : which
    worst : the reading farthest out, °C or %
    when : moment of it
    worst_hours : length of the stretch that holds it, h
    hours : all time on this side, h
    times : stretches on this side
    """

    side: Side
    worst: float
    when: dt.datetime
    worst_hours: float
    hours: float
    times: int


@dataclass(frozen=True, slots=True)
class NoCure:
    """Stretches in which lacquer does not cure at all, or in which a surface was wet.

    Parameters
    ----------
    words : what happened
    hours : how long in all, h
    first : when it began first
    """

    words: str
    hours: float
    first: dt.datetime


@dataclass(frozen=True, slots=True)
class Judged:
    """What a log says about the cure.

    Parameters
    ----------
    start, end : first and last reading
    hours : between them, h
    hours_known : of these, without the gaps
    hours_in_range : of these, with temperature and humidity both in range
    share : of `hours_known`
    gaps : pauses in which nothing is known
    excursions : one for each side on which the air was, the longest first
    stops : what stopped the cure
    wet_hours : time in which the given surface was at or below the dew point; None without one
    needed_hours : in range before the next coat, least and most
    remaining_hours : of these, still to come
    """

    start: dt.datetime
    end: dt.datetime
    hours: float
    hours_known: float
    hours_in_range: float
    share: float
    gaps: int
    excursions: tuple[Excursion, ...]
    stops: tuple[NoCure, ...]
    wet_hours: float | None
    needed_hours: tuple[float, float]
    remaining_hours: tuple[float, float]


def judge_log(
    log: Log,
    limits: AirLimits | None = None,
    needed_hours: tuple[float, float] = tol.CURE_HOURS,
    surface_c: float | None = None,
) -> Judged:
    """Judge the air of a log.

    Parameters
    ----------
    log : readings
    limits : what counts as fit; the usual range without it
    needed_hours : in range before the next coat, least and most, h
    surface_c : temperature of the coldest surface in the box, °C

    Raises
    ------
    InputError
        The needed hours are none.
    """
    fit = limits or AirLimits()
    least, most = needed_hours
    if not 0.0 <= least <= most < float("inf"):
        raise InputError(
            f"needed hours of {least:g} to {most:g} are none; give one number, such as 24, or 24-48"
        )
    known = known_steps(log)
    good = float(in_range_hours(log, fit).sum())
    steps = log.hours[1:] - log.hours[:-1]
    total, seen = float(log.hours[-1]), float(steps[known].sum())
    wet = None if surface_c is None else _wet_spans(log, surface_c)
    stops = _stops(log, wet or [])
    return Judged(
        start=log.start,
        end=log.moment(total),
        hours=total,
        hours_known=seen,
        hours_in_range=good,
        share=good / seen if seen > 0.0 else 0.0,
        gaps=int((~known).sum()),
        excursions=_excursions(log, fit),
        stops=stops,
        wet_hours=None if wet is None else _length(wet),
        needed_hours=(least, most),
        remaining_hours=(max(least - good, 0.0), max(most - good, 0.0)),
    )


def known_steps(log: Log) -> npt.NDArray[np.bool_]:
    """Whether the air is known between each reading and the next, shape (n - 1,)."""
    import numpy as np

    steps = np.diff(log.hours)
    # A share of slack, or a step of three times the usual would hang on the last digit.
    return np.asarray(steps <= tol.LOG_GAP_STEPS * log.step_hours * (1.0 + 1e-9))


def in_range_hours(log: Log, limits: AirLimits) -> Numbers:
    """Hours in range between each reading and the next, shape (n - 1,); 0 in a gap."""
    import numpy as np

    warm_in, warm_out = _stretch(log.temperature_c, *limits.temperature_c)
    damp_in, damp_out = _stretch(log.humidity_percent, *limits.humidity_percent)
    share = np.minimum(warm_out, damp_out) - np.maximum(warm_in, damp_in)
    return np.asarray(np.diff(log.hours) * np.clip(share, 0.0, 1.0) * known_steps(log))


def spans_between(log: Log, values: Numbers, low: float, high: float) -> Spans:
    """Stretches of time in which values, drawn straight, lie within two limits.

    Parameters
    ----------
    log : gives the times
    values : at its readings, shape (n,)
    low, high : limits, either of them infinite

    Returns
    -------
    (from, to) in hours; stretches that touch are one, a gap parts them. A mere touch has no length
    and is left out.
    """
    import numpy as np

    begins, ends = _stretch(values, low, high)
    steps = np.diff(log.hours)
    use = known_steps(log) & (ends > begins)
    joined: Spans = []
    for index in np.flatnonzero(use):
        start = float(log.hours[index])
        step = float(steps[index])
        # The end of a whole step is the next reading's own number, so that stretches meet exactly.
        whole = bool(ends[index] >= 1.0)
        end = float(log.hours[index + 1]) if whole else start + float(ends[index]) * step
        start += float(begins[index]) * step
        if joined and joined[-1][1] == start:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    return joined


def _stretch(values: Numbers, low: float, high: float) -> tuple[Numbers, Numbers]:
    """Part of each step, from 0 to 1, in which a line between readings lies within limits."""
    import numpy as np

    first, last = values[:-1], values[1:]
    slope = last - first
    moves = np.where(slope == 0.0, 1.0, slope)
    at_low, at_high = (low - first) / moves, (high - first) / moves
    begins = np.where(slope >= 0.0, at_low, at_high)
    ends = np.where(slope >= 0.0, at_high, at_low)
    inside = (first >= low) & (first <= high)
    begins = np.where(slope == 0.0, np.where(inside, 0.0, 1.0), begins)
    ends = np.where(slope == 0.0, np.where(inside, 1.0, 0.0), ends)
    begins, ends = np.clip(begins, 0.0, 1.0), np.clip(ends, 0.0, 1.0)
    return begins, np.maximum(ends, begins)


def _excursions(log: Log, limits: AirLimits) -> tuple[Excursion, ...]:
    found = [_excursion(log, limits, side) for side in Side]
    told = [one for one in found if one is not None]
    return tuple(sorted(told, key=lambda one: -one.hours))


def _excursion(log: Log, limits: AirLimits, side: Side) -> Excursion | None:
    import numpy as np

    spans = side_spans(log, limits, side)
    if not spans:
        return None
    below = side in (Side.DRY, Side.COLD)
    values = log.humidity_percent if side in (Side.DRY, Side.DAMP) else log.temperature_c
    out = values if below else -values
    # Straight lines are farthest out at a reading; of those, at one that lies in a stretch, for a
    # single reading between two gaps has no length.
    begins, ends = (np.array(column) for column in zip(*spans, strict=True))
    first = np.searchsorted(log.hours, begins, side="left")
    after = np.searchsorted(log.hours, ends, side="right")
    marks = np.zeros(len(values) + 1, dtype=np.int64)
    np.add.at(marks, first, 1)
    np.add.at(marks, after, -1)
    inside = np.cumsum(marks[:-1]) > 0
    index = int(np.argmin(np.where(inside, out, np.inf)))
    at = float(log.hours[index])
    length = max(end - begin for begin, end in spans if begin <= at <= end)
    return Excursion(side, float(values[index]), log.moment(at), length, _length(spans), len(spans))


def side_spans(log: Log, limits: AirLimits, side: Side) -> Spans:
    """Stretches of time on one side of the range, in hours."""
    edge, endless = limit_of(side, limits), float("inf")
    # By the number next to the limit, for air that lies on the limit is in range.
    values = log.humidity_percent if side in (Side.DRY, Side.DAMP) else log.temperature_c
    if side in (Side.DRY, Side.COLD):
        return spans_between(log, values, -endless, math.nextafter(edge, -endless))
    return spans_between(log, values, math.nextafter(edge, endless), endless)


def _stops(log: Log, wet: Spans) -> tuple[NoCure, ...]:
    low, high = tol.CURE_NONE_ABOVE_C
    cold = spans_between(log, log.temperature_c, -float("inf"), tol.CURE_STOPS_C)
    hot = spans_between(log, log.temperature_c, low, high)
    told = (
        (cold, f"at {tol.CURE_STOPS_C:g} °C and below curing stops (common practice)"),
        (hot, f"between {low:g} and {high:g} °C lacquer does not cure (common practice)"),
        (wet, "water could settle on the coldest surface"),
    )
    return tuple(
        NoCure(words, _length(spans), log.moment(spans[0][0])) for spans, words in told if spans
    )


def _wet_spans(log: Log, surface_c: float) -> Spans:
    import numpy as np

    from lossfill.cure.moist import dew_points_c

    least = tol.AIR_HUMIDITY_LEAST_PERCENT
    dew = dew_points_c(log.temperature_c.tolist(), np.maximum(log.humidity_percent, least).tolist())
    return spans_between(log, np.array(dew), surface_c, float("inf"))


def _length(spans: Spans) -> float:
    return sum(end - begin for begin, end in spans)
