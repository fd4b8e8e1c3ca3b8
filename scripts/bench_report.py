"""What the measurements come to: the aims, and tables of figures."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from bench_accuracy import BREAKS, NOISES_MM, VESSELS
from bench_families import limit_mm, skin_rms_mm, tell, time_ratio
from bench_figures import TRUSTED, Figures, Outcome, figures
from bench_making import Making, Things
from bench_paper import Table
from bench_speed import Speed

__all__ = [
    "Aim",
    "accuracy_aims",
    "accuracy_tables",
    "aims_table",
    "case_lines",
    "families_table",
    "family_aims",
    "making_aims",
    "making_lines",
    "making_table",
    "speed_aims",
    "speed_table",
]

SKIN_RMS_MM = 0.13
STEP_P95_MM = 0.12
VOLUME_ERROR = 0.02
SPALL_VOLUME_ERROR = 0.15
CHOICE_TIME_RATIO = 2.0
HELD = 0.9
BOUNDED = 0.85
BOUND_RATIO = 2.5
TIME_RATIO = 3.0
SMALL_SECONDS = 3.0
MEMORY_RATIO = 3.0
CLEARANCE_MM = 0.02
THINGS_SECONDS = 20.0
DRAWING_MM = 0.05
_LARGE, _SMALL = 500_000, 100_000
"""Triangles from which the ratios have an aim, and up to which the seconds have."""


@dataclass(frozen=True, slots=True)
class Aim:
    """One figure to reach, in words, and whether it was."""

    what: str
    wanted: str
    measured: str
    met: bool


# --- accuracy ------------------------------------------------------------------------------------


def case_lines(outcome: Outcome) -> list[str]:
    """One line for each loss of a case, and one for what went wrong with it."""
    lines = []
    for row in outcome.rows:
        score = row.score
        found = (
            f"skin {score.skin_rms_mm:.3f} p95 {score.skin_p95_mm:.3f}  "
            f"step {score.step_p95_mm:.3f}  gap {score.gap_p50_mm:.3f} mm  "
            f"volume {100.0 * score.volume_error:+.2f} %  "
            f"clash {score.clash_mm3:.1g}{' !' if row.clashes else ''}  parts {score.parts}  "
            f"{'valid' if row.valid else 'INVALID'}  "
            f"stated {row.stated_mm:.3f} {'held' if row.held else 'NOT HELD'} "
            f"bound {row.bound_mm:.3f} {'held' if row.bounded else 'NOT HELD'}"
        )
        plain = f"plain {row.plain.skin_rms_mm:.3f} step {row.plain.step_p95_mm:.3f}"
        lines.append(
            f"{outcome.case.name:<27} {row.cut:<5} {found if row.found else 'MISSED'}  | {plain}"
        )
    if outcome.false:
        lines.append(f"{outcome.case.name:<27} {outcome.false} FALSE")
    if outcome.failure:
        lines.append(f"{outcome.case.name:<27} FAILED {outcome.failure}")
    return lines


def accuracy_tables(outcomes: Sequence[Outcome]) -> tuple[Table, Table]:
    """Sum up by vessel, and by vessel and break."""
    columns = (
        "vessel", "losses", "skin RMS (worst)", "step p95 (worst)", "worst volume, through",
        "worst volume, chip and spall", "missed (spalls)", "false", "overlapping",
        "invalid", "stated error held", "plain skin RMS", "plain step p95",
    )  # fmt: skip
    groups = {name: [o for o in outcomes if o.case.vessel == name] for name in VESSELS}
    shown = {name: group for name, group in groups.items() if group} | {"all": outcomes}
    by_vessel = Table(
        "Accuracy by vessel (means, mm)",
        columns,
        tuple(_vessel_row(name, figures(group)) for name, group in shown.items()),
    )
    quiet, noisy = (f"{noise:g}" for noise in NOISES_MM)
    by_break = (
        "vessel", "break", f"skin RMS at noise {quiet} / {noisy}",
        f"step p95 at noise {quiet} / {noisy}", "worst volume", "missed", "plain skin RMS",
    )  # fmt: skip
    rows: list[tuple[str, ...]] = []
    for name, group in groups.items():
        for kind in BREAKS:
            mine = [o for o in group if o.case.kind == kind]
            if mine:
                rows.append((name, kind.replace("_", " "), *_break_cells(mine)))
    return by_vessel, Table("Accuracy by break (means, mm)", by_break, tuple(rows), words=(0, 1))


def accuracy_aims(outcomes: Sequence[Outcome]) -> list[Aim]:
    """Hold the cases against what is wanted of them."""
    sums = figures(outcomes)
    spall = abs(sums.spall_volume_error)
    counts = {
        "losses missed, spalls apart": sums.missed,
        "false losses": sums.false,
        "pieces that overlap the body beyond 32-bit rounding": sums.clashing,
        "pieces not closed, outward and in one part": sums.invalid,
        "cases that ended in an error": sum(o.failure is not None for o in outcomes),
    }
    return [
        _at_most("mean skin RMS", sums.skin_rms_mm, SKIN_RMS_MM, _with_mm),
        _at_most("mean step p95", sums.step_p95_mm, STEP_P95_MM, _with_mm),
        _at_most(
            "worst volume error of a through loss",
            abs(sums.through_volume_error),
            VOLUME_ERROR,
            _percent,
        ),
        # A bench without spalls says nothing of them.
        *(
            [_at_most("worst volume error of a spall", spall, SPALL_VOLUME_ERROR, _percent)]
            if math.isfinite(spall)
            else []
        ),
        *(Aim(what, "0", str(n), n == 0) for what, n in counts.items()),
        *_trust_aims(sums, ""),
    ]


def family_aims(outcomes: Sequence[Outcome], vessels: Sequence[Outcome]) -> list[Aim]:
    """Hold the families against what is wanted of them.

    Parameters
    ----------
    outcomes : of `bench_families.run_families`
    vessels : other cases; the errors stated are judged over these and the families together
    """
    told = tell(outcomes)
    well = sum(one.well_chosen for one in told)
    near = sum(one.best_mm <= limit_mm(one.chosen.case.noise_mm) for one in told)
    sums = figures(outcomes)
    faults = sum(o.failure is not None for o in outcomes)
    return [
        Aim(
            "families: skin RMS by the proper source ≤ 2 × noise + 0.05 mm",
            f"{len(told)} of {len(told)}",
            f"{near} of {len(told)}",
            near == len(told),
        ),
        Aim(
            "families: the choice is that source, or within 10 % of it",
            f"{len(told)} of {len(told)}",
            f"{well} of {len(told)}",
            well == len(told),
        ),
        *(
            Aim(f"families: {what}", "0", str(n), n == 0)
            for what, n in (
                ("losses missed", sums.missed),
                ("false losses", sums.false),
                ("cases that ended in an error", faults),
            )
        ),
        _at_most(
            "families: time with the choice over time by revolving",
            time_ratio(outcomes),
            CHOICE_TIME_RATIO,
            _ratio,
        ),
        *_trust_aims(figures([*vessels, *outcomes]), "all cases: "),
    ]


def families_table(outcomes: Sequence[Outcome]) -> Table:
    """List what the choice, revolving and each proper source come to."""
    columns = (
        "family", "break", "chosen", "skin RMS by choice", "by revolving", "by proper source",
        "limit", "step p95 by choice", "bound by choice", "time over revolving",
    )  # fmt: skip
    rows = []
    for one in tell(outcomes):
        chosen = figures([one.chosen])
        used = dict.fromkeys(row.source or "none" for row in one.chosen.rows)
        proper = (f"{o.case.form} {_mm(skin_rms_mm(o))}" for o in one.proper)
        rows.append(
            (
                one.name,
                one.kind.replace("_", " "),
                ", ".join(used),
                _mm(skin_rms_mm(one.chosen)),
                _mm(skin_rms_mm(one.revolved)),
                ", ".join(proper),
                _mm(limit_mm(one.chosen.case.noise_mm)),
                _mm(chosen.step_p95_mm),
                _mm(max(row.bound_mm for row in one.chosen.rows)),
                _ratio(one.chosen.seconds / one.revolved.seconds),
            )
        )
    return Table("Families by source (mm)", columns, tuple(rows), words=(0, 1, 2, 5))


def _trust_aims(sums: Figures, over: str) -> list[Aim]:
    """Hold the errors that the tool states against the true ones."""
    return [
        Aim(
            f"{over}true skin RMS within {TRUSTED:g} × the error stated",
            f"≥ {HELD:.0%}",
            _share(sums.held),
            sums.held >= HELD,
        ),
        Aim(
            f"{over}true skin RMS below the bound stated",
            f"≥ {BOUNDED:.0%}",
            _share(sums.bounded),
            sums.bounded >= BOUNDED,
        ),
        _at_most(
            f"{over}median bound over median true skin RMS", sums.bound_ratio, BOUND_RATIO, _times
        ),
    ]


def _vessel_row(name: str, sums: Figures) -> tuple[str, ...]:
    return (
        name,
        str(sums.losses),
        f"{_mm(sums.skin_rms_mm)} ({_mm(sums.worst_skin_rms_mm)})",
        f"{_mm(sums.step_p95_mm)} ({_mm(sums.worst_step_p95_mm)})",
        _signed(sums.through_volume_error),
        _signed(sums.other_volume_error),
        f"{sums.missed} ({sums.missed_spalls})",
        str(sums.false),
        str(sums.clashing),
        str(sums.invalid),
        _share(sums.held),
        _mm(sums.plain_skin_rms_mm),
        _mm(sums.plain_step_p95_mm),
    )


def _break_cells(outcomes: Sequence[Outcome]) -> tuple[str, ...]:
    """Cells of one vessel and break; a noise that was not run leaves a dash."""
    sums = figures(outcomes)
    by_noise = [figures(o for o in outcomes if o.case.noise_mm == noise) for noise in NOISES_MM]
    worst = [x for x in (sums.through_volume_error, sums.other_volume_error) if math.isfinite(x)]
    return (
        " / ".join(_mm(one.skin_rms_mm) for one in by_noise),
        " / ".join(_mm(one.step_p95_mm) for one in by_noise),
        _signed(max(worst, key=abs, default=math.nan)),
        str(sums.missed + sums.missed_spalls),
        _mm(sums.plain_skin_rms_mm),
    )


# --- making --------------------------------------------------------------------------------------


def making_lines(row: Making) -> list[str]:
    """One line for one loss."""
    split = f" in {row.pieces}" if row.pieces > 1 else ""
    told = (
        f"{row.proved} of {row.pieces} proved  seat lost {_percent(row.lost)}"
        f" (in one piece {_percent(row.whole_lost)})  gap p95 off by {_mm(row.gap_p95_mm)}  "
        f"moulds {row.moulds}, {'proved' if row.moulds_proved else 'NOT PROVED'}  {row.failure}"
    )
    return [f"{row.case.name:<27} loss {row.number}{split}: {told}"]


def making_table(rows: Sequence[Making]) -> Table:
    """What came of fitting and moulding, by vessel."""
    columns = (
        "vessel", "losses", "pieces", "proved to slide in", "seat lost, mean (worst)",
        "in one piece, mean (worst)", "split", "clearance off by, p95, worst (mm)",
        "moulds proved",
    )  # fmt: skip
    names = dict.fromkeys(row.case.vessel for row in rows)
    groups = {name: [row for row in rows if row.case.vessel == name] for name in names}
    shown = [(name, _making_cells(mine)) for name, mine in [*groups.items(), ("all", list(rows))]]
    return Table(
        "Making, at noise 0.05 mm", columns, tuple((name, *cells) for name, cells in shown)
    )


def making_aims(rows: Sequence[Making], things: Things | None) -> list[Aim]:
    """Hold what was made against what is wanted of it."""
    pieces, proved = sum(row.pieces for row in rows), sum(row.proved for row in rows)
    moulded = sum(row.moulds_proved for row in rows)
    aims = [
        Aim("pieces proved to slide in", f"{pieces} of {pieces}", f"{proved} of {pieces}",
            pieces == proved),
        _at_most("clearance off by, p95, worst", max(row.gap_p95_mm for row in rows),
                 CLEARANCE_MM, _with_mm),
        Aim("press moulds valid and parting", f"{len(rows)} of {len(rows)}",
            f"{moulded} of {len(rows)}", moulded == len(rows)),
    ]  # fmt: skip
    if things is not None:
        aims += [
            _at_most("all things for one loss", things.seconds, THINGS_SECONDS, _seconds),
            _at_most("drawings: worst length, mm per 100 mm", things.worst_mm, DRAWING_MM, _times3),
            Aim("limits kept by those things", f"{things.measured} of {things.measured}",
                f"{things.kept} of {things.measured}", things.kept == things.measured),
        ]  # fmt: skip
    return aims


def _making_cells(rows: Sequence[Making]) -> tuple[str, ...]:
    def mean_and_worst(values: list[float]) -> str:
        known = [value for value in values if math.isfinite(value)]
        if not known:
            return "–"
        return f"{_percent(sum(known) / len(known))} ({_percent(max(known))})"

    return (
        str(len(rows)),
        str(sum(row.pieces for row in rows)),
        str(sum(row.proved for row in rows)),
        mean_and_worst([row.lost for row in rows]),
        mean_and_worst([row.whole_lost for row in rows]),
        str(sum(row.pieces > 1 for row in rows)),
        _mm(max(row.gap_p95_mm for row in rows)),
        str(sum(row.moulds_proved for row in rows)),
    )


# --- speed ---------------------------------------------------------------------------------------


def speed_table(speeds: Sequence[Speed]) -> Table:
    """Floor, ours and their ratio at each size."""
    columns = (
        "triangles", "floor s", "lossfill s", "ratio", "floor command s", "lossfill command s",
        "ratio", "floor MB", "lossfill MB", "ratio", "ratio without modules", "pieces of 1",
    )  # fmt: skip
    rows = [
        (
            _thousands(one.triangles),
            f"{one.floor.seconds:.2f}",
            f"{one.road.seconds:.2f}",
            f"{one.time_ratio:.1f}",
            f"{one.floor.command_seconds:.2f}",
            f"{one.road.command_seconds:.2f}",
            f"{one.command_ratio:.1f}",
            f"{one.floor.peak_mb:.0f}",
            f"{one.road.peak_mb:.0f}",
            f"{one.memory_ratio:.1f}",
            f"{one.own_memory_ratio:.1f}",
            str(one.pieces),
        )
        for one in speeds
    ]
    return Table("Speed and peak memory (no pictures)", columns, tuple(rows))


def speed_aims(speeds: Sequence[Speed]) -> list[Aim]:
    """Hold the sizes against what is wanted of them."""
    aims = []
    for one in speeds:
        at = f"at {_thousands(one.triangles)} triangles"
        if one.triangles <= _SMALL:
            seconds = one.road.command_seconds
            aims.append(_at_most(f"whole command {at}", seconds, SMALL_SECONDS, _seconds))
        if one.triangles >= _LARGE:
            aims.append(_at_most(f"time over floor {at}", one.time_ratio, TIME_RATIO, _ratio))
            ratio = one.command_ratio
            aims.append(_at_most(f"whole command over floor {at}", ratio, TIME_RATIO, _ratio))
            ratio = one.memory_ratio
            aims.append(_at_most(f"peak memory over floor {at}", ratio, MEMORY_RATIO, _ratio))
    return aims


# --- words -------------------------------------------------------------------------------------


def aims_table(aims: Sequence[Aim]) -> Table:
    """List what was wanted, what was measured, and whether it is met."""
    rows = tuple((a.what, a.wanted, a.measured, "met" if a.met else "not met") for a in aims)
    return Table("Aims", ("figure", "wanted", "measured", "aim"), rows, words=(0, 3))


def _at_most(what: str, value: float, limit: float, words: Callable[[float], str]) -> Aim:
    # A figure that was not measured is no number, and meets nothing.
    return Aim(what, f"≤ {words(limit)}", words(value), value <= limit)


def _mm(value: float) -> str:
    return f"{value:.3f}" if math.isfinite(value) else "–"


def _with_mm(value: float) -> str:
    return f"{value:.3f} mm" if math.isfinite(value) else "–"


def _percent(value: float) -> str:
    return f"{100.0 * value:.2f} %" if math.isfinite(value) else "–"


def _signed(value: float) -> str:
    return f"{100.0 * value:+.2f} %" if math.isfinite(value) else "–"


def _times(value: float) -> str:
    return f"{value:.1f}" if math.isfinite(value) else "–"


def _times3(value: float) -> str:
    return f"{value:.3f}" if math.isfinite(value) else "–"


def _share(value: float) -> str:
    return f"{value:.0%}" if math.isfinite(value) else "–"


def _seconds(value: float) -> str:
    return f"{value:.1f} s"


def _ratio(value: float) -> str:
    return f"{value:.1f} ×"


def _thousands(n: int) -> str:
    return f"{n / 1000:.0f} k"
