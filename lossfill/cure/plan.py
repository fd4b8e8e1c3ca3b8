"""The plan of the work: steps in order, which losses share one, and when each may begin."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from lossfill.cautions import Work


@dataclass(frozen=True, slots=True)
class Step:
    """Something done at the bench and the wait after it, or a wait alone.

    Parameters
    ----------
    number : 1 for the first
    work : what kind of work it is
    says : the step in words, such as "second layer of filling paste"
    losses : numbers of the losses that share it; 0 for a loss that was given without a scan
    material : name of the material, or "" where none is used
    hours_from_start : when it can begin at the soonest, days off and working hours allowed for
    wait_hours : least and most usual wait after it before the next
    starts : date and time, or None where the plan has no start
    ready : when the next step may follow, by the waits that the plan was asked for; None without a
        start
    needs_box : whether it cures in the damp box
    cautions : for this step, the last giving way to data sheets and local rules
    ready_hours_from_start : the same as ready, also where there is no start
    """

    number: int
    work: Work
    says: str
    losses: tuple[int, ...]
    material: str
    hours_from_start: float
    wait_hours: tuple[float, float]
    starts: dt.datetime | None
    ready: dt.datetime | None
    needs_box: bool
    cautions: tuple[str, ...]
    ready_hours_from_start: float = 0.0


@dataclass(frozen=True, slots=True)
class Plan:
    """All steps of a vessel.

    Parameters
    ----------
    steps : in order
    days : from the first step to the end of the last wait
    warnings : what a person must know
    opens : time of day from which hours count where there are no dates
    """

    steps: tuple[Step, ...]
    days: float
    warnings: tuple[str, ...] = ()
    opens: dt.time = dt.time(9)
