"""A logger's file of time, temperature and humidity, read whatever way it was written."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from lossfill import tolerances as tol
from lossfill.cure.logger_columns import Columns, find_columns, split
from lossfill.cure.logger_dates import DateOrder, Written, moment_of, order_of, take_apart
from lossfill.errors import InputError

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from lossfill.cure.salts import Correction


@dataclass(frozen=True, slots=True, kw_only=True)
class LogSettings:
    """What a person says about a file where it does not say so itself.

    Parameters
    ----------
    dates : order of day and month; None lets the file settle it
    fahrenheit : unit of its temperatures; None takes the heading's
    """

    dates: DateOrder | None = None
    fahrenheit: bool | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Log:
    """Readings in the order of time.

    Parameters
    ----------
    start : moment of the first reading, by the logger's clock
    hours : since `start`, rising, h, shape (n,)
    temperature_c : °C, shape (n,)
    humidity_percent : relative humidity, 0 to 100 %, shape (n,)
    warnings : what was left out or read in one of several ways
    """

    start: dt.datetime
    hours: npt.NDArray[np.float64]
    temperature_c: npt.NDArray[np.float64]
    humidity_percent: npt.NDArray[np.float64]
    warnings: tuple[str, ...] = ()

    @property
    def step_hours(self) -> float:
        """Usual time between two readings, h."""
        import numpy as np

        return float(np.median(np.diff(self.hours)))

    def moment(self, hours: float) -> dt.datetime:
        """Date and time of so many hours after the first reading, to the second."""
        return self.start + dt.timedelta(seconds=round(hours * 3600.0))


@dataclass(frozen=True, slots=True)
class _Row:
    when: Written
    temperature: float
    humidity: float


_MISSING = frozenset(
    ("", "-", "--", "---", "n/a", "na", "nan", "null", "none", "error", "err", "logged", "×")
)
_NUMBER = re.compile(
    r"([+-]?(?:\d+[.,]?\d*|[.,]\d+))\s*(?:°?\s*([cf])|℃|℉|%\s*(?:rh)?|rh)?", re.IGNORECASE
)


def read_log(path: Path, settings: LogSettings | None = None) -> Log:
    """Read a logger's file.

    Parameters
    ----------
    path : text with a heading; cells parted by commas, semicolons or tabs
    settings : what the file does not say itself

    Raises
    ------
    InputError
        It is no such file; the line is told where one is to blame.
    """
    try:
        if path.stat().st_size > tol.LOG_FILE_MAX_MB * 1e6:
            raise InputError(
                f"{path.name} holds {path.stat().st_size / 1e6:.0f} MB, more than "
                f"{tol.LOG_FILE_MAX_MB:g} MB: export a shorter time"
            )
        data = path.read_bytes()
    except OSError as error:
        raise InputError(f"cannot read {path}: {(error.strerror or str(error)).lower()}") from error
    try:
        return log_of_text(_decoded(data), settings)
    except InputError as error:
        raise InputError(f"{path.name}: {error}") from error


def log_of_text(text: str, settings: LogSettings | None = None) -> Log:
    """Read a logger's text; see `read_log`."""
    asked = settings or LogSettings()
    lines = text.splitlines()
    for number, line in enumerate(lines, 1):
        if len(line) > tol.LOG_LINE_MAX or "\0" in line:
            raise InputError(f"line {number} is no line of a table; export the log as CSV")
    columns = find_columns(lines)
    warnings = list(columns.warnings)
    fahrenheit = _unit(columns, asked, lines, warnings)
    rows = list(_rows(lines, columns, warnings))
    if len(rows) < 2:
        found = "one reading" if rows else "no reading"
        raise InputError(f"the log holds {found}; two at least are needed")
    order = order_of([row.when for row in rows], asked.dates or columns.order)
    return _in_time(rows, [moment_of(row.when, order) for row in rows], fahrenheit, warnings)


def corrected(log: Log, correction: Correction) -> Log:
    """The same log as it would read with a sensor put right by salts."""
    import numpy as np

    percent = correction.slope * log.humidity_percent + correction.offset_percent
    told = [f"humidity put right: {correction.words}"]
    low, high = correction.between_percent
    low, high = low - tol.SALT_STRETCH_PERCENT, high + tol.SALT_STRETCH_PERCENT
    far = float(np.mean((percent < low) | (percent > high)))
    if correction.slope != 1.0 and far > 0.0:
        told.append(
            f"{100.0 * far:.0f} % of the readings lie below {low:.0f} % or above {high:.0f} %, far "
            "from the salts: the correction is not sure there"
        )
    return Log(
        log.start,
        log.hours,
        log.temperature_c,
        np.clip(percent, 0.0, 100.0),
        (*log.warnings, *told),
    )


def _decoded(data: bytes) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace")
    # Two-byte text without its mark: every other byte of plain letters is 0.
    if data[1:200:2].count(0) > 50 or (len(data) < 200 and data[1::2].count(0) > len(data) // 4):
        return data.decode("utf-16-le", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _unit(columns: Columns, asked: LogSettings, lines: Sequence[str], warnings: list[str]) -> bool:
    """Whether temperatures are °F."""
    stated = columns.fahrenheit
    if stated is None:
        stated = _unit_in_cells(lines[columns.heading_line :], columns)
    if asked.fahrenheit is not None:
        if stated is not None and stated != asked.fahrenheit:
            warnings.append(
                f"the file says {'°F' if stated else '°C'}; read as "
                f"{'°F' if asked.fahrenheit else '°C'}, as asked"
            )
        return asked.fahrenheit
    if stated is None:
        raise InputError(
            f"line {columns.heading_line}: the heading does not say °C or °F; give --celsius or "
            "--fahrenheit"
        )
    return stated


def _unit_in_cells(lines: Sequence[str], columns: Columns) -> bool | None:
    for line in lines[: tol.LOG_HEADING_LINES]:
        cells = split(line, columns.delimiter)
        if len(cells) > columns.temperature:
            match = _NUMBER.fullmatch(cells[columns.temperature])
            if match and match[2]:
                return match[2].lower() == "f"
    return None


def _rows(lines: Sequence[str], columns: Columns, warnings: list[str]) -> Iterator[_Row]:
    missing: list[int] = []
    first = columns.heading_line + 1
    needed = max(*columns.time, columns.temperature, columns.humidity) + 1
    for number, line in enumerate(lines[columns.heading_line :], first):
        cells = split(line, columns.delimiter)
        while len(cells) > columns.width and not cells[-1]:
            cells.pop()
        if not any(cells):
            continue
        if len(cells) > columns.width:
            raise InputError(
                f"line {number} has {len(cells)} cells where the heading has {columns.width}; "
                "if commas stand for decimal points, export it with semicolons"
            )
        if len(cells) < needed or not all(cells[index] for index in columns.time):
            missing.append(number)
            continue
        temperature = _number(cells[columns.temperature], number, "temperature")
        humidity = _number(cells[columns.humidity], number, "humidity")
        if temperature is None or humidity is None:
            missing.append(number)
            continue
        when = take_apart(" ".join(cells[index] for index in columns.time), number)
        yield _Row(when, temperature, humidity)
    if missing:
        warnings.append(
            f"{_counted(len(missing), 'line')} without a reading left out, first line {missing[0]}"
        )


def _number(cell: str, line: int, what: str) -> float | None:
    if cell.lower() in _MISSING:
        return None
    match = _NUMBER.fullmatch(cell.replace("−", "-"))
    if match is None:
        raise InputError(f"line {line}: {cell[:30]!r} is no {what}; write a number such as 21.5")
    return float(match[1].replace(",", "."))


def _in_time(
    rows: list[_Row], moments: list[dt.datetime], fahrenheit: bool, warnings: list[str]
) -> Log:
    import numpy as np

    if len({moment.tzinfo is None for moment in moments}) > 1:
        raise InputError("some lines give an offset from UTC and some do not; export it anew")
    if moments[0] > moments[-1]:
        rows, moments = rows[::-1], moments[::-1]  # many exports put the newest first
    hours, kept = _rising_hours(rows, moments, warnings)
    if len(kept) < 2:
        raise InputError("all readings bear the same time; two times at least are needed")
    warm = np.array([rows[index].temperature for index in kept], dtype=np.float64)
    if fahrenheit:
        warm = (warm - 32.0) / 1.8
    damp = np.array([rows[index].humidity for index in kept], dtype=np.float64)
    _check_values(warm, damp, [rows[index].when.line for index in kept])
    if float(damp.max()) > 100.0:
        warnings.append(f"readings up to {damp.max():.1f} % are taken as 100 %: the sensor is wet")
    start = moments[kept[0]].replace(tzinfo=None)
    return Log(start, np.array(hours), warm, np.minimum(damp, 100.0), tuple(warnings))


def _rising_hours(
    rows: list[_Row], moments: list[dt.datetime], warnings: list[str]
) -> tuple[list[float], list[int]]:
    """Hours since the first reading, and which readings are kept."""
    hours, kept = [0.0], [0]
    set_back = 0.0
    twice = 0
    least, most = tol.LOG_CLOCK_BACK_H
    for index, moment in enumerate(moments[1:], 1):
        at = (moment - moments[0]).total_seconds() / 3600.0 + set_back
        step = at - hours[-1]
        if step == 0.0:
            twice += 1
            continue
        if step < 0.0:
            if set_back or not least <= -step <= most:
                raise InputError(
                    f"line {rows[index].when.line}: time goes back, from "
                    f"{rows[kept[-1]].when.text} to {rows[index].when.text}; if the file holds "
                    "two logs, split it"
                )
            # Clocks set back an hour: the readings went on.
            set_back = 1.0
            at += 1.0
            warnings.append(
                f"line {rows[index].when.line}: the clock was set back an hour; later readings "
                "are counted an hour on"
            )
        hours.append(at)
        kept.append(index)
    if twice:
        warnings.append(f"{_counted(twice, 'reading')} with the time of the one before left out")
    return hours, kept


def _counted(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _check_values(
    warm: npt.NDArray[np.float64], damp: npt.NDArray[np.float64], lines: list[int]
) -> None:
    import numpy as np

    low, high = tol.AIR_TEMPERATURE_RANGE_C
    most = 100.0 + tol.LOG_OVER_100_PERCENT
    bad = np.flatnonzero(~((warm >= low) & (warm <= high) & (damp >= 0.0) & (damp <= most)))
    if len(bad):
        first = int(bad[0])
        raise InputError(
            f"line {lines[first]}: {warm[first]:.4g} °C and {damp[first]:.4g} % are no air of a "
            f"room or box ({low:g} to {high:g} °C, 0 to 100 %); check the unit and the columns"
        )
