"""What is measured of a case, and what many cases come to."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from breaking import CutKind
from scoring import Score

__all__ = ["THROUGH", "TRUSTED", "Case", "Figures", "Outcome", "Row", "figures"]

THROUGH: tuple[CutKind, ...] = ("rim", "hole")
"""Losses through the wall: their volume is held to an aim; chips and spalls are told apart."""

TRUSTED = 2.0
"""The error that the tool states holds where the true one is at most this many times as large."""


@dataclass(frozen=True, slots=True)
class Case:
    """One vessel, broken and scanned.

    Parameters
    ----------
    vessel : name of the whole vessel
    kind : a key of `breaking.BREAKS`
    noise_mm : scan noise, standard deviation
    form : the source that is asked for; None for the choice that the product makes
    angle_deg : where the first loss lies
    """

    vessel: str
    kind: str
    noise_mm: float
    form: str | None = None
    angle_deg: float = 180.0

    @property
    def name(self) -> str:
        """In words, for a table."""
        asked = f" by {self.form}" if self.form else ""
        return f"{self.vessel} {self.kind} {self.noise_mm:g} mm{asked}"


@dataclass(frozen=True, slots=True)
class Row:
    """One true loss of a case.

    Parameters
    ----------
    case, cut : which
    score : of the piece; infinite lengths where the loss was missed
    found : whether a piece belongs to it
    clash_limit_mm3 : overlap that rounding to the file's 32-bit numbers alone can cause, mm³
    stated_mm : the RMS error that the tool told to expect; NaN where there is no piece
    bound_mm : what that error was said to stay below in nine of ten cases; NaN likewise
    plain : score of the plain revolve's piece; infinite lengths where it has none
    source : how the form behind the piece was found; None where there is no piece
    """

    case: Case
    cut: CutKind
    score: Score
    found: bool
    clash_limit_mm3: float
    stated_mm: float
    bound_mm: float
    plain: Score
    source: str | None = None

    @property
    def valid(self) -> bool:
        """Watertight, outward and in one part."""
        return self.score.watertight and self.score.outward and self.score.parts == 1

    @property
    def clashes(self) -> bool:
        """Overlap with the body beyond rounding."""
        return self.score.clash_mm3 > self.clash_limit_mm3

    @property
    def held(self) -> bool:
        """Whether the error that the tool stated can be trusted."""
        return self.score.skin_rms_mm <= TRUSTED * self.stated_mm

    @property
    def bounded(self) -> bool:
        """Whether the error stays below the bound that the tool stated."""
        return self.score.skin_rms_mm <= self.bound_mm


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of one case.

    Parameters
    ----------
    case : which
    rows : one for each true loss
    false : pieces that belong to no loss
    failure : the error that ended the case, or None
    seconds : from the scan file to the folder of pieces
    """

    case: Case
    rows: tuple[Row, ...]
    false: int
    failure: str | None
    seconds: float


@dataclass(frozen=True, slots=True)
class Figures:
    """What some cases come to; means and shares are over the losses that were found.

    Parameters
    ----------
    losses : true losses, spalls included
    missed, missed_spalls : losses without a piece; spalls are counted apart
    false : pieces without a loss
    skin_rms_mm, step_p95_mm : means; NaN where nothing was found
    worst_skin_rms_mm, worst_step_p95_mm : largest
    plain_skin_rms_mm, plain_step_p95_mm : means for the plain revolve, where it has a piece
    through_volume_error : the relative error of greatest size on a loss through the wall,
        with its sign
    other_volume_error : the same on chips and spalls
    spall_volume_error : the same on spalls alone
    clashing : pieces that overlap the body by more than rounding does
    invalid : pieces that are not one closed outward solid
    held : share of pieces whose true error is at most `TRUSTED` times the stated one
    bounded : share of pieces whose true error is below the bound stated
    bound_ratio : median of those bounds over the median of the true errors
    """

    losses: int
    missed: int
    missed_spalls: int
    false: int
    skin_rms_mm: float
    step_p95_mm: float
    worst_skin_rms_mm: float
    worst_step_p95_mm: float
    plain_skin_rms_mm: float
    plain_step_p95_mm: float
    through_volume_error: float
    other_volume_error: float
    spall_volume_error: float
    clashing: int
    invalid: int
    held: float
    bounded: float
    bound_ratio: float


def figures(outcomes: Iterable[Outcome]) -> Figures:
    """Sum up cases."""
    outcomes = tuple(outcomes)
    rows = [row for outcome in outcomes for row in outcome.rows]
    found = [row for row in rows if row.found]
    plain = [row.plain for row in rows if math.isfinite(row.plain.skin_rms_mm)]
    missed = [row for row in rows if not row.found]
    return Figures(
        losses=len(rows),
        missed=sum(row.cut != "spall" for row in missed),
        missed_spalls=sum(row.cut == "spall" for row in missed),
        false=sum(outcome.false for outcome in outcomes),
        skin_rms_mm=_mean([row.score.skin_rms_mm for row in found]),
        step_p95_mm=_mean([row.score.step_p95_mm for row in found]),
        worst_skin_rms_mm=_largest([row.score.skin_rms_mm for row in found]),
        worst_step_p95_mm=_largest([row.score.step_p95_mm for row in found]),
        plain_skin_rms_mm=_mean([one.skin_rms_mm for one in plain]),
        plain_step_p95_mm=_mean([one.step_p95_mm for one in plain]),
        through_volume_error=_farthest(
            [row.score.volume_error for row in found if row.cut in THROUGH]
        ),
        other_volume_error=_farthest(
            [row.score.volume_error for row in found if row.cut not in THROUGH]
        ),
        spall_volume_error=_farthest(
            [row.score.volume_error for row in found if row.cut == "spall"]
        ),
        clashing=sum(row.clashes for row in found),
        invalid=sum(not row.valid for row in found),
        held=_mean([float(row.held) for row in found]),
        bounded=_mean([float(row.bounded) for row in found]),
        bound_ratio=_median([row.bound_mm for row in found])
        / _median([row.score.skin_rms_mm for row in found]),
    )


def _mean(values: list[float]) -> float:
    return float(np.mean(values)) if values else math.nan


def _median(values: list[float]) -> float:
    return float(np.median(values)) if values else math.nan


def _largest(values: list[float]) -> float:
    return max(values, default=math.nan)


def _farthest(values: list[float]) -> float:
    return max(values, key=abs, default=math.nan)
