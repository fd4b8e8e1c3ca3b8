"""What `lossfill air` does: read a log, judge it, draw it, and tell."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lossfill import __version__
from lossfill import tolerances as tol
from lossfill.cautions import Work, cautions_for
from lossfill.cli.blocks import print_blocks, print_document
from lossfill.cli.summary import caution_lines, warning_lines
from lossfill.cli.words import wrapped
from lossfill.cure import given, salts
from lossfill.cure.air import AirLimits, Side
from lossfill.errors import InputError

if TYPE_CHECKING:
    from lossfill.cure.logger import Log
    from lossfill.cure.logger_judge import Excursion, Judged


CURE_CAUTIONS = ("lacquer", "heat")
"""Materials that a damp box holds: lacquer, and a heater."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogOrder:
    """What was asked of a log, as typed; None where it was not.

    Parameters
    ----------
    fahrenheit, dates : what the file does not say itself
    needed_hours, temperature, humidity : what counts as fit, and for how long
    plot : PNG file to write
    salts : readings above salts
    surface : temperature of the coldest surface
    """

    fahrenheit: bool | None = None
    dates: str | None = None
    needed_hours: str | None = None
    temperature: str | None = None
    humidity: str | None = None
    plot: Path | None = None
    salts: tuple[str, ...] = ()
    surface: str | None = None


def run_air(path: Path, order: LogOrder, *, as_json: bool) -> None:
    """Judge a log, draw it where that was asked, and print what was found."""
    from lossfill.cure.logger import LogSettings, corrected, read_log
    from lossfill.cure.logger_dates import DateOrder
    from lossfill.cure.logger_judge import judge_log
    from lossfill.cure.logger_plot import write_plot

    limits = _limits(order)
    needed = given.hours_range(order.needed_hours) if order.needed_hours else tol.CURE_HOURS
    surface = None if order.surface is None else given.temperature_c(order.surface)
    if order.plot is not None and order.plot.suffix.lower() != ".png":
        raise InputError(f"{order.plot.name} is no PNG file; give a name that ends in .png")
    dates = None if order.dates is None else DateOrder(order.dates)
    log = read_log(path, LogSettings(dates=dates, fahrenheit=order.fahrenheit))
    correction = _correction(order, log)
    if correction is not None:
        log = corrected(log, correction)
    judged = judge_log(log, limits, needed, surface)
    if order.plot is not None:
        write_plot(log, limits, order.plot)
    if as_json:
        print_document(_log_document(path, log, limits, judged, correction, order.plot))
        return
    print_blocks(
        _log_lines(path, judged, limits),
        _outside_lines(judged),
        _remaining_lines(judged),
        [f"Picture: {order.plot}"] if order.plot else [],
        warning_lines(log.warnings),
        caution_lines(cautions_for((Work.CURE,), CURE_CAUTIONS)),
    )


def _limits(order: LogOrder) -> AirLimits:
    usual = AirLimits()
    return AirLimits(
        temperature_c=given.temperature_range_c(order.temperature)
        if order.temperature
        else usual.temperature_c,
        humidity_percent=given.percent_range(order.humidity)
        if order.humidity
        else usual.humidity_percent,
    )


def _correction(order: LogOrder, log: Log) -> salts.Correction | None:
    if not order.salts:
        return None
    usual = float(log.temperature_c.mean())
    return salts.calibrate([given.salt_reading(text, usual) for text in order.salts])


def _log_lines(path: Path, judged: Judged, limits: AirLimits) -> Iterator[str]:
    (cold, warm), (dry, damp) = limits.temperature_c, limits.humidity_percent
    yield f"{path.name}: {judged.start:%Y-%m-%d %H:%M} to {judged.end:%Y-%m-%d %H:%M}"
    practice = " (common practice)" if limits.is_usual else ""
    yield f"  range: {cold:.3g} to {warm:.3g} °C and {dry:.3g} to {damp:.3g} %{practice}"
    yield (
        f"  in range: {hours(judged.hours_in_range)} of {hours(judged.hours_known)}, "
        f"{_share(judged)} %"
    )
    if judged.gaps:
        lost = judged.hours - judged.hours_known
        times = "once" if judged.gaps == 1 else f"{judged.gaps} times"
        yield f"  not known: {hours(lost)}; readings stop {times}, and none of that counts"


def _outside_lines(judged: Judged) -> Iterator[str]:
    if judged.excursions or judged.stops:
        yield "Outside the range"
    for one in judged.excursions:
        yield from wrapped(_excursion_words(one), "  ", "    ")
    for stop in judged.stops:
        words = f"{stop.words}: {hours(stop.hours)}, first {stop.first:%Y-%m-%d %H:%M}"
        yield from wrapped(words, "  ", "    ")
    if judged.wet_hours == 0.0:
        yield "  the coldest surface stayed above the dew point"


def _excursion_words(one: Excursion) -> str:
    unit = "%" if one.side in (Side.DRY, Side.DAMP) else "°C"
    times = "once" if one.times == 1 else f"{one.times} times"
    return (
        f"{one.side.value}: {hours(one.hours)}, {times}; worst {one.worst:.1f} {unit} on "
        f"{one.when:%Y-%m-%d at %H:%M}, in a stretch of {hours(one.worst_hours)}"
    )


def _remaining_lines(judged: Judged) -> Iterator[str]:
    least, most = judged.remaining_hours
    needed = _between(*judged.needed_hours)
    yield "What remains"
    if most <= 0.0:
        yield f"  nothing: {needed} in range were needed; touch a test piece before you go on"
    elif least <= 0.0:
        yield f"  perhaps nothing, at most {hours(most)} in range, of {needed} needed"
    else:
        yield f"  {_between(least, most)} in range, of {needed} needed"
    yield from wrapped(
        "Lacquer tells you itself: a test piece that no longer takes a fingerprint has set; "
        "hard enough to sand takes days to weeks (common practice).",
        "  ",
    )


def hours(value: float) -> str:
    """Hours as one says them: minutes below two hours, days above four."""
    if value < 2.0:
        return f"{value * 60.0:.0f} min"
    return f"{value:.1f} h" if value < 96.0 else f"{value / 24.0:.1f} days"


def _between(least: float, most: float) -> str:
    if least == most:
        return hours(least)
    # Minutes are for what is short throughout: "1.0 h to 25.0 h", not "60 min to 25.0 h".
    low = f"{least:.1f} h" if least < 2.0 <= most < 96.0 else hours(least)
    return f"{low} to {hours(most)}"


def _share(judged: Judged) -> str:
    """Whole percent; 100 and 0 only where it is all or nothing."""
    percent = 100.0 * judged.share
    if 99.0 < percent < 100.0 - 1e-9:
        return "over 99"
    return "under 1" if 0.0 < percent < 1.0 else f"{percent:.0f}"


def _log_document(
    path: Path,
    log: Log,
    limits: AirLimits,
    judged: Judged,
    correction: salts.Correction | None,
    plot: Path | None,
) -> dict[str, Any]:
    content = asdict(judged)
    content["start"], content["end"] = judged.start.isoformat(), judged.end.isoformat()
    content["excursions"] = [
        asdict(one) | {"side": one.side.value, "when": one.when.isoformat()}
        for one in judged.excursions
    ]
    content["stops"] = [asdict(one) | {"first": one.first.isoformat()} for one in judged.stops]
    return {
        "program": f"lossfill {__version__}",
        "file": path.name,
        "readings": len(log.hours),
        "limits": asdict(limits),
        **content,
        "correction": None if correction is None else asdict(correction),
        "plot": None if plot is None else str(plot),
        "warnings": list(log.warnings),
        "cautions": list(cautions_for((Work.CURE,), CURE_CAUTIONS)),
    }
