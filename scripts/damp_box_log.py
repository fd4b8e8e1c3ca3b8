"""An invented log of a damp box, such as a small logger in it would write.

Nothing in it was measured. The box stands in a room that cools at night; a damp cloth keeps it
humid while it lasts, and is wetted anew; the box is opened twice; the logger is read out once, and
misses a reading. ``python scripts/damp_box_log.py`` writes meshes/damp_box_log.csv.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np

STEP_MINUTES = 10
DAYS = 4
START = dt.datetime(2025, 3, 14, 18, 0)
WETTED_H = (0.0, 26.0, 58.0)
OPENED_H = (25.5, 57.5)
COLD_NIGHT_H = (54.0, 62.0)
READ_OUT_H = (70.0, 73.5)


def damp_box_log(seed: int = 1) -> str:
    """Text of the log: a heading, and a line for each reading.

    Parameters
    ----------
    seed : of the sensor's noise
    """
    random = np.random.default_rng(seed)
    hours = np.arange(0.0, DAYS * 24.0, STEP_MINUTES / 60.0)
    clock = (hours + START.hour) % 24.0
    warm = 23.5 + 1.6 * np.sin((clock - 9.0) / 24.0 * 2.0 * np.pi)
    begin, end = COLD_NIGHT_H
    chill = np.clip((hours - begin) / 3.0, 0.0, 1.0) * np.clip((end - hours) / 3.0, 0.0, 1.0)
    warm -= 4.5 * chill
    damp = np.full_like(hours, 48.0)
    for wetted in WETTED_H:
        since = hours - wetted
        rise = (1.0 - np.exp(-since / 0.7)) * np.exp(-np.clip(since - 14.0, 0.0, None) / 20.0)
        damp = np.where(since >= 0.0, 48.0 + 31.0 * rise, damp)
    for opened in OPENED_H:
        since = hours - opened
        damp -= np.where((since >= 0.0) & (since < 0.8), 22.0 * np.exp(-since / 0.3), 0.0)
    warm += random.normal(0.0, 0.05, len(hours))
    damp += random.normal(0.0, 0.3, len(hours))
    lines = ["Time,Temperature (°C),Humidity (%RH)"]
    for index, at in enumerate(hours):
        if READ_OUT_H[0] < at < READ_OUT_H[1]:
            continue
        when = START + dt.timedelta(minutes=STEP_MINUTES * index)
        values = "," if index == 100 else f"{warm[index]:.1f},{damp[index]:.1f}"
        lines.append(f"{when:%Y-%m-%d %H:%M},{values}")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    path = Path(__file__).parents[1] / "meshes" / "damp_box_log.csv"
    path.write_text(damp_box_log(), encoding="utf-8")
