"""Made-up results whose sums can be worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace

from bench_figures import Case, Outcome, Row
from bench_making import Making, Things
from bench_speed import Job, Speed
from scoring import Score

GOOD = Score(
    skin_rms_mm=0.10,
    skin_p95_mm=0.20,
    skin_bias_mm=0.0,
    step_rms_mm=0.05,
    step_p95_mm=0.08,
    gap_p05_mm=0.14,
    gap_p50_mm=0.15,
    gap_p95_mm=0.16,
    clash_mm3=0.0,
    volume_mm3=1010.0,
    expected_volume_mm3=1000.0,
    parts=1,
    watertight=True,
    outward=True,
)
NOTHING = replace(
    GOOD,
    skin_rms_mm=math.inf,
    step_p95_mm=math.inf,
    clash_mm3=math.inf,
    volume_mm3=0.0,
    parts=0,
    watertight=False,
    outward=False,
)
RIM = Case("bowl", "rim_45", 0.0)
ROW = Row(
    case=RIM,
    cut="rim",
    score=GOOD,
    found=True,
    clash_limit_mm3=0.01,
    stated_mm=0.06,
    bound_mm=0.12,
    plain=replace(GOOD, skin_rms_mm=0.4, step_p95_mm=0.5),
)
OUTCOME = Outcome(RIM, (ROW,), false=0, failure=None, seconds=1.0)
MISSED = replace(
    ROW, score=NOTHING, found=False, clash_limit_mm3=math.inf, stated_mm=math.nan, bound_mm=math.nan
)

FORMS = (None, "revolve", "turn")
"""By choice, by revolving and by the proper source."""


def family(
    form: str | None,
    *,
    source: str | None = None,
    skin_rms_mm: float = 0.10,
    seconds: float = 1.0,
) -> Outcome:
    """A fluted cup filled by one source, which was followed unless another is given."""
    case = Case("fluted cup", "rim_45", 0.05, form=form)
    score = replace(GOOD, skin_rms_mm=skin_rms_mm)
    row = replace(ROW, case=case, score=score, source=source or form or "turn")
    return replace(OUTCOME, case=case, rows=(row,), seconds=seconds)


def speed(triangles: int, *, seconds: float = 2.0) -> Speed:
    return Speed(
        triangles=triangles,
        floor=Job(seconds=1.0, peak_mb=100.0, idle_mb=50.0, command_seconds=1.5),
        road=Job(seconds=seconds, peak_mb=250.0, idle_mb=150.0, command_seconds=1.5 * seconds),
        pieces=2,
    )


def making(case: Case) -> Making:
    """One loss whose piece was split in two and made in every way."""
    return Making(
        case=case,
        number=1,
        pieces=2,
        proved=2,
        whole_lost=0.3,
        lost=0.05,
        gap_p95_mm=0.012,
        moulds=2,
        moulds_proved=1,
    )


THINGS = Things(seconds=12.0, made=7, files=30, worst_mm=0.001, drawings=9, kept=20, measured=20)
"""What was measured of all things made for one loss."""
