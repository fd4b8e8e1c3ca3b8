"""Families of invented vessels, each with a shape that one source knows best.

Every vessel is filled with the source that the product chooses, by revolving alone, and by each
source that is proper to it; the same scan goes into all of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache

from bench_accuracy import run_case
from bench_figures import Case, Outcome
from vessels import MOULDED, fluted_cup, lobed_dish, oval_jug, pressed_cup, tea_bowl

from lossfill.mesh import Mesh

__all__ = [
    "FAMILIES",
    "NOISE_MM",
    "Family",
    "Told",
    "family_cases",
    "limit_mm",
    "quick_families",
    "run_families",
    "tell",
    "time_ratio",
]

NOISE_MM = 0.05
"""Scan noise, standard deviation."""

CLOSE = 1.1
"""A source other than the proper one serves as well where it errs by at most this many times as
much."""


@dataclass(frozen=True, slots=True)
class Family:
    """A shape, and what knows it.

    Parameters
    ----------
    make : the whole vessel
    sources : those that are proper to it
    angle_deg : where its first loss lies
    twin : makes another vessel of the set
    """

    make: Callable[[], Mesh]
    sources: tuple[str, ...]
    angle_deg: float
    twin: Callable[[], Mesh] | None = None


FAMILIES: dict[str, Family] = {
    "lobed dish": Family(lambda: lobed_dish(edge_mm=1.8), ("mirror", "turn"), 100.0),
    "fluted cup": Family(lambda: fluted_cup(edge_mm=1.6, faults=MOULDED), ("turn",), 100.0),
    "pressed cup": Family(lambda: pressed_cup(edge_mm=1.6, faults=MOULDED), ("mirror",), 142.0),
    "oval jug": Family(lambda: oval_jug(edge_mm=1.6), ("mirror",), 230.0),
    "bowl of a set": Family(
        lambda: tea_bowl(edge_mm=1.8, seed=1, faults=MOULDED),
        ("twin",),
        100.0,
        twin=lambda: tea_bowl(edge_mm=1.8, seed=2, faults=MOULDED),
    ),
}
"""By name. A dish is symmetric as well as repeating; the two bowls have faults of their own."""

_BREAKS = ("rim_45", "hole")


def family_cases(
    families: Iterable[str] = tuple(FAMILIES), breaks: Iterable[str] = _BREAKS
) -> tuple[Case, ...]:
    """Every family and break, by choice, by revolving, and by each proper source."""
    cases = []
    for name in families:
        family = FAMILIES[name]
        for kind in breaks:
            case = Case(name, kind, NOISE_MM, angle_deg=family.angle_deg)
            cases += [replace(case, form=form) for form in (None, "revolve", *family.sources)]
    return tuple(cases)


def quick_families() -> tuple[Case, ...]:
    """One family and break."""
    return family_cases(("fluted cup",), _BREAKS[:1])


def run_families(cases: Iterable[Case]) -> Iterator[Outcome]:
    """Run cases one after another; each result comes as soon as it is there."""
    for case in cases:
        yield run_case(case, _whole(case.vessel), twin=_twin(case.vessel))


def limit_mm(noise_mm: float) -> float:
    """Skin RMS that a proper source may have, mm."""
    return 2.0 * noise_mm + 0.05


# --- what they come to ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Told:
    """One family and break.

    Parameters
    ----------
    name, kind : which
    chosen : the product's choice
    revolved : by revolving alone
    proper : by each source that is proper to it
    """

    name: str
    kind: str
    chosen: Outcome
    revolved: Outcome
    proper: tuple[Outcome, ...]

    @property
    def best_mm(self) -> float:
        """Least skin RMS by a proper source; infinite where each was refused or missed."""
        return min(skin_rms_mm(one) for one in self.proper)

    @property
    def well_chosen(self) -> bool:
        """Whether the choice is a proper source, or about as good as the best of them."""
        proper = {one.case.form for one in self.proper}
        used = {row.source for row in self.chosen.rows}
        return used <= proper or skin_rms_mm(self.chosen) <= CLOSE * self.best_mm


def tell(outcomes: Sequence[Outcome]) -> tuple[Told, ...]:
    """Put together what belongs to one family and break."""
    found: dict[tuple[str, str], dict[str | None, Outcome]] = {}
    for one in outcomes:
        found.setdefault((one.case.vessel, one.case.kind), {})[one.case.form] = one
    return tuple(
        Told(
            name,
            kind,
            by[None],
            by["revolve"],
            tuple(one for form, one in by.items() if form not in (None, "revolve")),
        )
        for (name, kind), by in found.items()
    )


def skin_rms_mm(outcome: Outcome) -> float:
    """Largest over the losses; infinite where one was missed, or another source was followed."""
    asked = outcome.case.form
    return max(
        float("inf") if asked not in (None, row.source) else row.score.skin_rms_mm
        for row in outcome.rows
    )


def time_ratio(outcomes: Sequence[Outcome]) -> float:
    """Time with the choice over time without it, all families together."""
    told = tell(outcomes)
    return sum(one.chosen.seconds for one in told) / sum(one.revolved.seconds for one in told)


@cache
def _whole(name: str) -> Mesh:
    return FAMILIES[name].make()


@cache
def _twin(name: str) -> Mesh | None:
    make = FAMILIES[name].twin
    return None if make is None else make()
