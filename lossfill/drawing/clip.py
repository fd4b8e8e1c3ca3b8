"""What of a line and of words lies inside an upright rectangle."""

from __future__ import annotations

import numpy as np

from lossfill.drawing.model import Line
from lossfill.mesh import FloatArray


def clipped(line: Line, window: FloatArray) -> tuple[Line, ...]:
    """Parts of a line inside a rectangle, its border included.

    Parameters
    ----------
    window : (2, 2) mm, lowest and highest corner

    Returns
    -------
    Open lines in the order in which they are walked; the line itself where nothing is cut off.
    """
    points = line.points
    if bool(((points >= window[0]) & (points <= window[1])).all()):
        return (line,)
    if line.closed:
        points = np.concatenate([points, points[:1]])
    enters, leaves = _shares_inside(points, window)
    ahead = np.diff(points, axis=0)
    starts = np.where(enters[:, None] > 0, points[:-1] + enters[:, None] * ahead, points[:-1])
    ends = np.where(leaves[:, None] < 1, points[:-1] + leaves[:, None] * ahead, points[1:])
    inside = np.flatnonzero(enters < leaves)
    runs: list[list[FloatArray]] = []
    for at, k in enumerate(inside):
        runs_on = at > 0 and inside[at - 1] == k - 1 and leaves[k - 1] == 1 and enters[k] == 0
        if runs_on:
            runs[-1].append(ends[k])
        else:
            runs.append([starts[k], ends[k]])
    return tuple(Line(np.array(run), line.layer) for run in runs)


def _shares_inside(points: FloatArray, window: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Where each step between points enters and leaves the window, as shares of the step, (N-1,).

    Each of the four border lines bounds the share from below or above (Liang and Barsky 1984); a
    step with no part inside leaves before it enters. A step that stands still along an axis is
    bound by neither border or, at 2, never enters.
    """
    enters = np.zeros(len(points) - 1)
    leaves = np.ones(len(points) - 1)
    for axis in range(2):
        at, step = points[:-1, axis], np.diff(points[:, axis])
        still = step == 0
        safe = np.where(still, 1.0, step)
        crossings = [(border - at) / safe for border in window[:, axis]]
        inside = (at >= window[0, axis]) & (at <= window[1, axis])
        first = np.where(still, np.where(inside, 0.0, 2.0), np.minimum(*crossings))
        last = np.where(still, 1.0, np.maximum(*crossings))
        enters, leaves = np.maximum(enters, first), np.minimum(leaves, last)
    return enters, leaves
