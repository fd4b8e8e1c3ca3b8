"""Logs judged: ramps worked by hand, a brute count as second opinion, and laws of order."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lossfill.cure.air import Air, AirLimits, Side
from lossfill.cure.box import condensation_at
from lossfill.cure.logger import Log, corrected, log_of_text
from lossfill.cure.logger_judge import judge_log
from lossfill.cure.salts import Correction
from lossfill.errors import InputError

START = dt.datetime(2025, 3, 14, 10)
EXACT = 1e-9  # h; sums of a few rounded numbers of about 10


def log_of(hours: list[float], warm: list[float], damp: list[float]) -> Log:
    return Log(START, np.array(hours, float), np.array(warm, float), np.array(damp, float))


def test_a_ramp_crosses_its_limits_where_it_must() -> None:
    # 55 to 95 % in 10 h: 65 % at 2.5 h, 85 % at 7.5 h.
    judged = judge_log(log_of([0, 10], [25, 25], [55, 95]))
    assert judged.hours_in_range == pytest.approx(5.0, abs=EXACT)
    assert judged.share == pytest.approx(0.5, abs=EXACT)
    dry, damp = judged.excursions
    assert (dry.side, dry.worst, dry.when, dry.times) == (Side.DRY, 55.0, START, 1)
    assert (damp.side, damp.worst) == (Side.DAMP, 95.0)
    assert damp.when == START + dt.timedelta(hours=10)
    assert [dry.hours, damp.hours, dry.worst_hours] == pytest.approx([2.5] * 3, abs=EXACT)


def test_both_must_be_in_range_at_once() -> None:
    # Humid from 2.5 to 7.5 h; 16 to 26 °C in 10 h is warm enough, 20 °C, from 4 h on.
    judged = judge_log(log_of([0, 10], [16, 26], [55, 95]))
    assert judged.hours_in_range == pytest.approx(3.5, abs=EXACT)


def test_the_limits_themselves_are_in_range() -> None:
    judged = judge_log(log_of([0, 1, 2], [20, 20, 30], [65, 85, 65]))
    assert judged.hours_in_range == pytest.approx(2.0, abs=EXACT)
    assert judged.excursions == ()


def test_stretches_are_counted_and_the_worst_is_found() -> None:
    damp = [70, 60, 70, 70, 50, 50, 70, 75]
    judged = judge_log(log_of(list(range(8)), [25] * 8, damp))
    (dry,) = judged.excursions
    # 70 to 60 to 70: beyond 65 % for half of each step. 70 to 50: for 3/4 of it, twice, and an
    # hour between.
    assert dry.times == 2
    assert dry.hours == pytest.approx(1.0 + 2.5, abs=EXACT)
    assert dry.worst_hours == pytest.approx(2.5, abs=EXACT)
    assert dry.when == START + dt.timedelta(hours=4)


def test_a_gap_counts_for_nothing() -> None:
    hours = [0.0, 1.0, 2.0, 3.0, 9.0, 10.0, 11.0]
    judged = judge_log(log_of(hours, [25] * 7, [75] * 7), needed_hours=(8.0, 12.0))
    assert (judged.hours, judged.hours_known, judged.gaps) == (11.0, 5.0, 1)
    assert judged.hours_in_range == pytest.approx(5.0, abs=EXACT)
    assert judged.remaining_hours == pytest.approx((3.0, 7.0), abs=EXACT)
    # One missed reading is bridged: two steps are not over three.
    bridged = judge_log(log_of([0, 1, 2, 4, 5], [25] * 5, [75] * 5))
    assert (bridged.hours_known, bridged.gaps) == (5.0, 0)


def test_a_gap_parts_a_stretch() -> None:
    hours = [0.0, 1.0, 2.0, 8.0, 9.0]
    (dry,) = judge_log(log_of(hours, [25] * 5, [50] * 5)).excursions
    assert (dry.times, dry.hours, dry.worst_hours) == (2, 3.0, 2.0)


def test_where_lacquer_does_not_cure_is_told() -> None:
    # -10 to 50 °C in 6 h: 0 °C at 1 h, 40 °C at 5 h.
    judged = judge_log(log_of([0, 6], [-10, 50], [75, 75]))
    cold, hot = judged.stops
    assert "0 °C and below" in cold.words
    assert cold.hours == pytest.approx(1.0, abs=EXACT)
    assert "40 and 80 °C" in hot.words
    assert hot.hours == pytest.approx(1.0, abs=EXACT)
    assert hot.first == START + dt.timedelta(hours=5)


def test_a_cold_surface_is_wet_while_the_dew_point_is_above_it() -> None:
    # Constant air of 25 °C and 75 %, dew point 20.3 °C; then dry.
    log = log_of([0, 1, 2, 3], [25] * 4, [75, 75, 40, 40])
    dew = condensation_at(Air(25, 75), 0.0).dew_point_c
    assert judge_log(log, surface_c=dew + 0.1).wet_hours == 0.0
    judged = judge_log(log, surface_c=dew - 0.1)
    assert judged.wet_hours is not None
    assert 1.0 < judged.wet_hours < 1.1
    assert "water could settle" in judged.stops[0].words
    assert judge_log(log).wet_hours is None


def test_what_remains_is_never_below_nothing() -> None:
    judged = judge_log(log_of([0, 30], [25, 25], [75, 75]), needed_hours=(24, 48))
    assert judged.remaining_hours == pytest.approx((0.0, 18.0), abs=EXACT)
    for needed in ((-1.0, 2.0), (3.0, 2.0), (float("nan"), 2.0), (1.0, float("inf"))):
        with pytest.raises(InputError, match="needed hours"):
            judge_log(log_of([0, 1], [25, 25], [75, 75]), needed_hours=needed)


def test_a_correction_moves_the_humidity() -> None:
    log = log_of([0, 10], [25, 25], [50, 99])
    right = corrected(log, Correction(1.0, 5.0, (75.0, 75.0), "+5.0 %"))
    assert right.humidity_percent.tolist() == [55.0, 100.0]
    assert log.humidity_percent.tolist() == [50.0, 99.0]
    assert "put right" in right.warnings[-1]
    sloped = corrected(log, Correction(1.1, 0.0, (75.0, 84.0), "1.1 x"))
    assert "not sure there" in sloped.warnings[-1]


readings = st.lists(
    st.tuples(st.floats(0.05, 0.1), st.floats(10.0, 40.0), st.floats(30.0, 100.0)),
    min_size=2,
    max_size=12,
)


def drawn(rows: list[tuple[float, float, float]]) -> Log:
    steps, warm, damp = (list(column) for column in zip(*rows, strict=True))
    return log_of((np.cumsum(steps) - steps[0]).tolist(), warm, damp)


@given(rows=readings)
def test_a_brute_count_says_the_same(rows: list[tuple[float, float, float]]) -> None:
    log = drawn(rows)
    total = float(log.hours[-1])
    times = (np.arange(40_000) + 0.5) / 40_000 * total
    warm = np.interp(times, log.hours, log.temperature_c)
    damp = np.interp(times, log.hours, log.humidity_percent)
    good = (warm >= 20) & (warm <= 30) & (damp >= 65) & (damp <= 85)
    judged = judge_log(log)
    # Each of at most 4 crossings to a step is off by one count at most: 44 of 40 000.
    assert judged.hours_in_range == pytest.approx(good.mean() * total, abs=2e-3 * total)
    beyond = {
        Side.DRY: damp < 65,
        Side.DAMP: damp > 85,
        Side.COLD: warm < 20,
        Side.WARM: warm > 30,
    }
    told = {one.side: one.hours for one in judged.excursions}
    for side, out in beyond.items():
        assert told.get(side, 0.0) == pytest.approx(out.mean() * total, abs=2e-3 * total)


@given(rows=readings, more=st.floats(0.05, 0.1))
def test_hours_in_range_only_grow(rows: list[tuple[float, float, float]], more: float) -> None:
    log = drawn(rows)
    before = judge_log(log)
    longer = drawn([*rows, (more, 25.0, 75.0)])
    after = judge_log(longer)
    assert after.hours_in_range >= before.hours_in_range - 1e-12
    assert after.remaining_hours[0] <= before.remaining_hours[0] + 1e-12
    wider = judge_log(log, AirLimits(temperature_c=(15, 35), humidity_percent=(60, 90)))
    assert wider.hours_in_range >= before.hours_in_range - 1e-12
    assert 0.0 <= before.hours_in_range <= before.hours_known + 1e-12


@given(rows=readings)
def test_readings_between_on_the_line_change_nothing(
    rows: list[tuple[float, float, float]],
) -> None:
    log = drawn(rows)
    times = np.sort(np.concatenate([log.hours, (log.hours[1:] + log.hours[:-1]) / 2.0]))
    denser = Log(
        log.start,
        times,
        np.interp(times, log.hours, log.temperature_c),
        np.interp(times, log.hours, log.humidity_percent),
    )
    assert judge_log(denser).hours_in_range == pytest.approx(
        judge_log(log).hours_in_range, abs=1e-9
    )


@given(rows=st.lists(st.tuples(st.integers(100, 400), st.integers(300, 999)), min_size=2))
def test_fahrenheit_and_celsius_say_the_same(rows: list[tuple[int, int]]) -> None:
    celsius = ["Time,Temp °C,RH"]
    fahrenheit = ["Time;Temp (°F);RH %"]
    for index, (tenths, humid) in enumerate(rows):
        when = START + dt.timedelta(minutes=10 * index)
        celsius.append(f"{when:%Y-%m-%d %H:%M},{tenths / 10:.1f},{humid / 10:.1f}")
        hot = f"{tenths / 10 * 1.8 + 32:.2f}".replace(".", ",")
        fahrenheit.append(f"{when:%d.%m.%Y %I:%M %p};{hot};{humid / 10:.1f}".replace(".5", ",5"))
    cold, hot_log = (log_of_text("\n".join(lines)) for lines in (celsius, fahrenheit))
    assert cold.temperature_c == pytest.approx(hot_log.temperature_c, abs=1e-9)
    first, second = judge_log(cold), judge_log(hot_log)
    assert second.hours_in_range == pytest.approx(first.hours_in_range, abs=1e-6)
    assert first.start == second.start
