"""Sums over cases, and the aims, against results made up by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import bench_report
import pytest
from bench_figures import Outcome, figures
from bench_made_up import GOOD, MISSED, NOTHING, OUTCOME, RIM, ROW, speed
from bench_report import Aim, accuracy_aims, accuracy_tables, case_lines, speed_aims, speed_table


def with_rows(*rows: object) -> Outcome:
    return replace(OUTCOME, rows=rows)


def aim(aims: list[Aim], word: str) -> Aim:
    (found,) = (one for one in aims if word in one.what)
    return found


def test_means_are_over_what_was_found() -> None:
    worse = replace(ROW, score=replace(GOOD, skin_rms_mm=0.3, step_p95_mm=0.2))
    sums = figures([with_rows(ROW), with_rows(worse, MISSED)])
    assert sums.losses == 3
    assert sums.skin_rms_mm == pytest.approx(0.2)
    assert sums.step_p95_mm == pytest.approx(0.14)
    assert (sums.worst_skin_rms_mm, sums.worst_step_p95_mm) == (0.3, 0.2)
    assert (sums.missed, sums.missed_spalls) == (1, 0)


def test_a_missed_spall_is_counted_apart() -> None:
    sums = figures([with_rows(replace(MISSED, cut="spall"))])
    assert (sums.missed, sums.missed_spalls) == (0, 1)
    assert math.isnan(sums.skin_rms_mm)


def test_worst_volume_error_keeps_its_sign_and_its_kind_of_loss() -> None:
    rows = [
        replace(ROW, score=replace(GOOD, volume_mm3=v), cut=cut)
        for v, cut in ((1010.0, "rim"), (970.0, "hole"), (900.0, "chip"), (1020.0, "spall"))
    ]
    sums = figures([with_rows(*rows)])
    assert sums.through_volume_error == pytest.approx(-0.03)
    assert sums.other_volume_error == pytest.approx(-0.10)


def test_stated_error_holds_up_to_twice() -> None:
    # True error 0.10 mm in both: 2 x 0.06 covers it, 2 x 0.04 does not.
    rows = (ROW, replace(ROW, stated_mm=0.04))
    assert [row.held for row in rows] == [True, False]
    assert figures([with_rows(*rows)]).held == 0.5


def test_a_bound_holds_and_says_something() -> None:
    # True error 0.10 mm in both.
    rows = (ROW, replace(ROW, bound_mm=0.09))
    assert [row.bounded for row in rows] == [True, False]
    sums = figures([with_rows(*rows)])
    assert sums.bounded == 0.5
    assert sums.bound_ratio == pytest.approx(0.105 / 0.10)


def test_a_missing_plain_piece_does_not_spoil_the_mean() -> None:
    sums = figures([with_rows(ROW, replace(ROW, plain=NOTHING))])
    assert sums.plain_skin_rms_mm == pytest.approx(0.4)
    assert sums.plain_step_p95_mm == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("row", "word"),
    [
        (replace(ROW, score=replace(GOOD, clash_mm3=0.02)), "overlap"),
        (replace(ROW, score=replace(GOOD, parts=2)), "not closed"),
        (replace(ROW, score=replace(GOOD, watertight=False)), "not closed"),
        (replace(ROW, score=replace(GOOD, outward=False)), "not closed"),
        (
            replace(ROW, score=replace(GOOD, skin_rms_mm=0.151), stated_mm=0.1, bound_mm=0.2),
            "mean skin RMS",
        ),
        (replace(ROW, score=replace(GOOD, step_p95_mm=0.151)), "mean step"),
        (replace(ROW, score=replace(GOOD, volume_mm3=1021.0)), "volume error"),
        (replace(ROW, score=replace(GOOD, volume_mm3=979.0)), "volume error"),
        (replace(ROW, stated_mm=0.01), "error stated"),
        (replace(ROW, bound_mm=0.099), "bound stated"),
        (replace(ROW, bound_mm=0.251), "median bound"),
    ],
)
def test_each_fault_misses_its_own_aim_alone(row: object, word: str) -> None:
    missed = [one.what for one in accuracy_aims([with_rows(row)]) if not one.met]
    assert len(missed) == 1
    assert word in missed[0]


def test_good_pieces_meet_every_aim() -> None:
    assert all(one.met for one in accuracy_aims([OUTCOME]))


def test_missed_false_and_failed_miss_their_aims() -> None:
    assert not aim(accuracy_aims([with_rows(ROW, MISSED)]), "losses missed").met
    assert not aim(accuracy_aims([replace(OUTCOME, false=1)]), "false").met
    assert not aim(
        accuracy_aims([replace(OUTCOME, failure="InputError: x")]), "ended in an error"
    ).met


def test_what_was_not_measured_meets_nothing() -> None:
    aims = accuracy_aims([with_rows(MISSED)])
    assert not aim(aims, "mean skin RMS").met
    assert aim(aims, "mean skin RMS").measured == "–"


def test_a_case_is_told_in_a_line_for_each_loss() -> None:
    lines = case_lines(replace(OUTCOME, rows=(ROW, MISSED), false=2, failure="InputError: x"))
    assert len(lines) == 4
    for part in ("bowl rim_45 0 mm", "skin 0.100", "step 0.080", "volume +1.00 %", "plain 0.400"):
        assert part in lines[0]
    assert "MISSED" in lines[1]
    assert "2 FALSE" in lines[2]
    assert "FAILED InputError: x" in lines[3]


def test_tables_hold_a_row_for_each_vessel_and_break() -> None:
    mug = replace(RIM, vessel="mug", kind="hole", noise_mm=0.05)
    outcomes = [OUTCOME, replace(OUTCOME, case=mug, rows=(replace(ROW, case=mug, cut="hole"),))]
    by_vessel, by_break = accuracy_tables(outcomes)
    assert [row[0] for row in by_vessel.rows] == ["bowl", "mug", "all"]
    assert [row[:3] for row in by_break.rows] == [
        ("bowl", "rim 45", "0.100 / –"),
        ("mug", "hole", "– / 0.100"),
    ]
    for table in (by_vessel, by_break):
        assert {len(row) for row in table.rows} == {len(table.columns)}


def test_speed_aims_belong_to_sizes() -> None:
    aims = speed_aims([speed(42_000), speed(170_000), speed(680_000)])
    assert [one.what for one in aims] == [
        "whole command at 42 k triangles",
        "time over floor at 680 k triangles",
        "whole command over floor at 680 k triangles",
        "peak memory over floor at 680 k triangles",
    ]
    assert all(one.met for one in aims)
    slow = speed_aims([speed(42_000, seconds=2.1), speed(680_000, seconds=3.1)])
    assert [one.met for one in slow] == [False, False, False, True]


def test_speed_table_gives_both_sides_and_their_ratio() -> None:
    (row,) = speed_table([speed(680_400)]).rows
    assert row == (
        "680 k", "1.00", "2.00", "2.0", "1.50", "3.00", "2.0", "100", "250", "2.5", "2.0",
        "2",
    )  # fmt: skip
    assert len(row) == len(speed_table([]).columns)


def test_limits_are_those_agreed() -> None:
    limits = (
        bench_report.SKIN_RMS_MM, bench_report.STEP_P95_MM, bench_report.VOLUME_ERROR,
        bench_report.TIME_RATIO, bench_report.SMALL_SECONDS,
    )  # fmt: skip
    assert limits == (0.15, 0.15, 0.02, 3.0, 3.0)
