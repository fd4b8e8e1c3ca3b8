"""Which losses share a sitting: the plan that is done soonest, and of those the fewest sittings.

One person works, so no two sittings overlap. What is shared begins when the last of its losses is
ready and waits for the slowest. A loss with fewer layers can thus wait for the others, to be
levelled and coated along with them, or go on alone. The search:

1. If all that can be shared is shared and the vessel is done no later than its slowest loss would
   be alone, nothing is better: no plan is sooner, and none has fewer sittings.
2. Else all ways of sharing are tried where they are few, and the best is taken, by the end, then by
   the number of sittings.
3. Where they are many, it begins with nothing shared and goes through the kinds of sitting, once
   from the first to the last and once back. Each loss joins the first group of its kind by which
   the vessel is done no later than before; where there is none it goes on alone. The best of these
   and of 1. is taken. This is a rule, not a proof: a better plan may exist.
"""

from __future__ import annotations

import datetime as dt
import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from lossfill.cure.chains import Chain, Task
from lossfill.cure.holds import DaysOff, Hours, in_utc, later, next_allowed
from lossfill.cure.settings import PlanSettings
from lossfill.cure.waits import Span, chosen, cure_wait, longest

MOST_WAYS = 512
"""Ways of sharing that are all tried, in about a second: two losses with nine kinds in common."""

Place = tuple[int, int]
"""Which chain, and which of its tasks."""
Group = tuple[Place, ...]
Grouping = tuple[Group, ...]


@dataclass(frozen=True, slots=True)
class Sitting:
    """Tasks done together, with their time.

    Parameters
    ----------
    places : which tasks, by chain and place in it
    tasks : the same, in the same order
    starts : when; times here are in UTC, or naive, so that they compare and add up by time
    wait : least and most usual hours after it, those of its slowest task
    ready : when the losses may go on
    """

    places: Group
    tasks: tuple[Task, ...]
    starts: dt.datetime
    wait: Span
    ready: dt.datetime


def sittings_of(chains: Sequence[Chain], settings: PlanSettings) -> tuple[Sitting, ...]:
    """All sittings with their times, in the order in which they begin."""
    kinds = _kinds(chains)
    every = laid_out(chains, tuple(kinds), settings)
    if not chains:
        return every
    # Sharing and hands never bring a loss forward: to begin later is never to be allowed sooner.
    alone = (end_of(laid_out([chain], None, settings), [chain], settings) for chain in chains)
    if end_of(every, chains, settings) <= max(alone):
        return every
    plans = [laid_out(chains, way, settings) for way in _ways(chains, kinds, settings)]
    return min([every, *plans], key=lambda plan: (end_of(plan, chains, settings), len(plan)))


def _ways(
    chains: Sequence[Chain], kinds: list[Group], settings: PlanSettings
) -> Iterator[Grouping]:
    """Groupings worth a look: all of them where they are few."""
    if math.prod(_n_partitions(len(kind)) for kind in kinds) <= MOST_WAYS:
        for ways in itertools.product(*(list(_partitions(kind)) for kind in kinds)):
            yield tuple(itertools.chain(*ways))
        return
    yield _parted(chains, kinds, settings)
    yield _parted(chains, kinds[::-1], settings)


def _partitions(kind: Group) -> Iterator[Grouping]:
    """All ways to put the members of a kind into groups."""
    if not kind:
        yield ()
        return
    first, rest = kind[0], kind[1:]
    for size in range(len(rest) + 1):
        for others in itertools.combinations(rest, size):
            left = tuple(place for place in rest if place not in others)
            for groups in _partitions(left):
                yield ((first, *others), *groups)


def _n_partitions(size: int) -> int:
    """How many those are: Bell's number."""
    numbers = [1]
    for n in range(size):
        numbers.append(sum(math.comb(n, k) * numbers[k] for k in range(n + 1)))
    return numbers[size]


def laid_out(
    chains: Sequence[Chain], grouping: Grouping | None, settings: PlanSettings
) -> tuple[Sitting, ...]:
    """Give each group its time: whichever can begin soonest comes next.

    Parameters
    ----------
    chains : of the losses
    grouping : every task in one group; None for each alone
    settings : start, hours, days off

    Notes
    -----
    Of those that can begin at the same time, that with the longest way still to go comes first.
    """
    open_groups = list(_alone(chains) if grouping is None else grouping)
    to_go = _to_go(chains, settings)
    ready: dict[Place, dt.datetime] = {}
    bench = _bench(chains, settings)
    free = bench.begins
    done: list[Sitting] = []
    while open_groups:
        able = [
            (
                _soonest(chains, group, ready, free, bench),
                -max(to_go[place] for place in group),
                _rank(chains, group),
                group,
            )
            for group in open_groups
            if all(number == 0 or (chain, number - 1) in ready for chain, number in group)
        ]
        starts, *_, group = min(able)
        sitting = _sitting(chains, group, starts, settings)
        open_groups.remove(group)
        ready.update(dict.fromkeys(group, sitting.ready))
        if not sitting.tasks[0].is_wait:
            free = bench_end(sitting, settings)
        done.append(sitting)
    return tuple(done)


def end_of(plan: Sequence[Sitting], chains: Sequence[Chain], settings: PlanSettings) -> dt.datetime:
    """When the last loss has cured."""
    laid = {place: bench_end(sitting, settings) for sitting in plan for place in sitting.places}
    cured = [
        later(laid[number, task], chosen(cure_wait(material), settings.waits))
        for number, chain in enumerate(chains)
        for task, material in chain.laid
    ]
    return max([*cured, *(sitting.ready for sitting in plan)])


def bench_end(sitting: Sitting, settings: PlanSettings) -> dt.datetime:
    """When the work itself is done and the wait begins."""
    return later(sitting.starts, _bench_hours(sitting.tasks[0], settings))


def _bench_hours(task: Task, settings: PlanSettings) -> float:
    return 0.0 if task.is_wait else len(task.acts) * settings.step_min / 60.0


def _sitting(
    chains: Sequence[Chain], group: Group, starts: dt.datetime, settings: PlanSettings
) -> Sitting:
    tasks = tuple(chains[chain].tasks[number] for chain, number in group)
    wait = longest(*(task.wait for task in tasks))
    hours = _bench_hours(tasks[0], settings) + chosen(wait, settings.waits)
    return Sitting(group, tasks, starts, wait, later(starts, hours))


@dataclass(frozen=True, slots=True)
class _Bench:
    """What holds for every sitting, worked out once; `hours` by the number of acts in one."""

    begins: dt.datetime
    zone: dt.tzinfo | None
    hours: dict[int, Hours]
    off: DaysOff


def _bench(chains: Sequence[Chain], settings: PlanSettings) -> _Bench:
    counts = {len(task.acts) for chain in chains for task in chain.tasks if not task.is_wait}
    hours = {count: settings.hours.less((count - 1) * settings.step_min) for count in counts}
    begins = settings.begins
    return _Bench(in_utc(begins), begins.tzinfo, hours, settings.days_off)


def _soonest(
    chains: Sequence[Chain],
    group: Group,
    ready: dict[Place, dt.datetime],
    free: dt.datetime,
    bench: _Bench,
) -> dt.datetime:
    before = [ready[chain, number - 1] for chain, number in group if number]
    soonest = max(before, default=bench.begins)
    task = chains[group[0][0]].tasks[group[0][1]]
    if task.is_wait:
        return soonest  # hardening needs neither hands nor hours
    moment = max(soonest, free)
    wall = moment if bench.zone is None else moment.astimezone(bench.zone)
    return in_utc(next_allowed(wall, bench.hours[len(task.acts)], bench.off))


def _to_go(chains: Sequence[Chain], settings: PlanSettings) -> dict[Place, float]:
    """Hours from the beginning of each task to the end of its chain, holds left out."""
    found: dict[Place, float] = {}
    for chain_number, chain in enumerate(chains):
        cures = (chosen(cure_wait(material), settings.waits) for _, material in chain.laid)
        left = max(cures, default=0.0)
        for number in range(len(chain.tasks) - 1, -1, -1):
            task = chain.tasks[number]
            left += _bench_hours(task, settings) + chosen(task.wait, settings.waits)
            found[chain_number, number] = left
    return found


def _alone(chains: Sequence[Chain]) -> Grouping:
    return tuple(((c, n),) for c, chain in enumerate(chains) for n in range(len(chain.tasks)))


def _kinds(chains: Sequence[Chain]) -> list[Group]:
    """All that can be shared, in the order of the work."""
    kinds: dict[tuple[object, ...], list[Place]] = {}
    for c, chain in enumerate(chains):
        for n, task in enumerate(chain.tasks):
            key = (*task.key, (c, n)) if task.is_wait else task.key
            kinds.setdefault(key, []).append((c, n))
    groups = [tuple(places) for places in kinds.values()]
    return sorted(groups, key=lambda group: (_rank(chains, group), group))


def _rank(chains: Sequence[Chain], group: Group) -> tuple[int, int]:
    chain, number = group[0]
    return chains[chain].tasks[number].rank


def _parted(chains: Sequence[Chain], kinds: list[Group], settings: PlanSettings) -> Grouping:
    """Share only what does not put off the end."""
    groups = list(_alone(chains))
    end = end_of(laid_out(chains, tuple(groups), settings), chains, settings)
    for kind in kinds:
        heads: list[Group] = []
        for place in kind:
            for head in heads:
                joined = (*head, place)
                trial = [one for one in groups if one not in (head, (place,))] + [joined]
                trial_end = end_of(laid_out(chains, tuple(trial), settings), chains, settings)
                if trial_end <= end:
                    groups, end = trial, trial_end
                    heads[heads.index(head)] = joined
                    break
            else:
                heads.append((place,))
    return tuple(groups)
