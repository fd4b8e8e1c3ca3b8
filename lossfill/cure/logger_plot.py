"""Picture of a log: temperature and humidity over time, the range grey, what lies outside hatched.

Nothing is told by colour alone: it reads the same on a grey print and to eyes that see no red.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lossfill.cure.air import AirLimits, Side
from lossfill.cure.logger import Log
from lossfill.cure.logger_judge import known_steps, side_spans
from lossfill.errors import ExportError

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

RANGE_GREY = "0.86"
BELOW_HATCH = "////"
ABOVE_HATCH = "...."
SIZE_IN = (10.0, 6.0)
DOTS_PER_INCH = 110


def write_plot(log: Log, limits: AirLimits, path: Path) -> None:
    """Draw a log into a PNG file; the same log gives the same bytes.

    Parameters
    ----------
    log : readings
    limits : range to show
    path : file to write

    Raises
    ------
    ExportError
        The file cannot be written.
    """
    from matplotlib import style
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    # The font comes with matplotlib, and a person's own settings must not change the picture.
    with style.context("default"):
        figure = Figure(figsize=SIZE_IN, dpi=DOTS_PER_INCH, layout="constrained")
        FigureCanvasAgg(figure)
        above, below = figure.subplots(2, 1, sharex=True)
        _panel(above, log, limits, (Side.COLD, Side.WARM), "Temperature, °C")
        _panel(below, log, limits, (Side.DRY, Side.DAMP), "Relative humidity, %")
        _time_axis(below, log)
        first, last = log.start, log.moment(float(log.hours[-1]))
        above.set_title(f"Air from {first:%d %B %Y %H:%M} to {last:%d %B %Y %H:%M}", fontsize=11)
        try:
            figure.savefig(path, format="png", metadata={"Software": None})
        except OSError as error:
            raise ExportError(
                f"cannot write {path}: {(error.strerror or str(error)).lower()}"
            ) from error


def _panel(axes: Any, log: Log, limits: AirLimits, sides: tuple[Side, Side], label: str) -> None:
    humid = Side.DRY in sides
    values = log.humidity_percent if humid else log.temperature_c
    low, high = limits.humidity_percent if humid else limits.temperature_c
    axes.axhspan(low, high, facecolor=RANGE_GREY, edgecolor="none", zorder=0, label="in range")
    for edge in (low, high):
        axes.axhline(edge, color="0.45", linewidth=0.8, linestyle=(0, (4, 3)), zorder=1)
    for side, edge, hatch in zip(sides, (low, high), (BELOW_HATCH, ABOVE_HATCH), strict=True):
        _hatched(axes, log, values, side_spans(log, limits, side), edge, hatch, side.value)
    hours, drawn = _with_gaps(log, values)
    axes.plot(hours, drawn, color="black", linewidth=1.3, zorder=4, label="measured")
    _gaps(axes, log)
    spread = [float(values.min()), float(values.max()), low, high]
    margin = 0.08 * (max(spread) - min(spread))
    axes.set_ylim(min(spread) - margin, max(spread) + margin)
    axes.set_ylabel(label)
    axes.grid(axis="x", color="0.8", linewidth=0.6)
    axes.legend(loc="center left", bbox_to_anchor=(1.0, 0.5), fontsize=9, frameon=False)


def _hatched(
    axes: Any,
    log: Log,
    values: npt.NDArray[np.float64],
    spans: list[tuple[float, float]],
    edge: float,
    hatch: str,
    name: str,
) -> None:
    """Hatch what lies between the curve and a limit that it is beyond."""
    import numpy as np

    if not spans:
        return
    parts = []
    for begin, end in spans:
        first = int(np.searchsorted(log.hours, begin, side="right"))
        after = int(np.searchsorted(log.hours, end, side="left"))
        # A number that is none ends each stretch: all are one patch, quick to draw.
        parts.append(np.concatenate([[begin], log.hours[first:after], [end, np.nan]]))
    hours = np.concatenate(parts)
    axes.fill_between(
        hours,
        np.interp(hours, log.hours, values),
        edge,
        where=~np.isnan(hours),
        facecolor="white",
        edgecolor="0.25",
        hatch=hatch,
        linewidth=0.0,
        zorder=2,
        label=name,
    )


def _with_gaps(
    log: Log, values: npt.NDArray[np.float64]
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Times and values with a break of the line in each gap."""
    import numpy as np

    breaks = np.flatnonzero(~known_steps(log)) + 1
    return np.insert(log.hours, breaks, np.nan), np.insert(values, breaks, np.nan)


def _gaps(axes: Any, log: Log) -> None:
    import numpy as np

    for number, index in enumerate(np.flatnonzero(~known_steps(log))):
        axes.axvspan(
            float(log.hours[index]),
            float(log.hours[index + 1]),
            facecolor="white",
            edgecolor="0.6",
            hatch="xx",
            linewidth=0.0,
            zorder=3,
            label="no reading" if number == 0 else None,
        )


def _time_axis(axes: Any, log: Log) -> None:
    """Mark the axis at round hours of the clock, days by their date."""
    total = float(log.hours[-1])
    step = next(
        (hours for hours in (1, 2, 3, 6, 12, 24, 48, 168, 336, 720) if total / hours <= 12), 2160
    )
    midnight = dt.datetime.combine(log.start.date(), dt.time(0))
    offset = (log.start - midnight).total_seconds() / 3600.0
    first = -(-offset // step) * step
    ticks = [first + step * index - offset for index in range(int(total // step) + 2)]
    ticks = [hours for hours in ticks if hours <= total + 1e-9]
    axes.set_xlim(0.0, total)
    axes.set_xticks(ticks, [_tick_words(log.moment(hours), step) for hours in ticks], fontsize=9)
    axes.set_xlabel("by the logger's clock")


def _tick_words(moment: dt.datetime, step: int) -> str:
    if step >= 24:
        return f"{moment:%d %b}\n{moment:%Y}"
    return f"{moment:%H:%M}\n{moment:%d %b}" if moment.hour < step else f"{moment:%H:%M}"
