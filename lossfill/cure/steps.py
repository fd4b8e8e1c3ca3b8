"""Steps of a plan: sittings turned into numbered steps with words, times and cautions."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from lossfill.cautions import Work, cautions_for
from lossfill.cure.chains import Act, Chain, chains_of, damp
from lossfill.cure.holds import elapsed_hours, in_utc, later
from lossfill.cure.plan import Plan, Step
from lossfill.cure.settings import PlanSettings
from lossfill.cure.sharing import Sitting, bench_end, sittings_of
from lossfill.cure.waits import Span, box_warnings, chosen, cure_wait
from lossfill.cure.words import losses_words
from lossfill.materials.material import Material
from lossfill.mix.quantities import Quantities

ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth")
_ENDINGS = {1: "st", 2: "nd", 3: "rd"}


@dataclass(frozen=True, slots=True)
class _Draft:
    """A step before it has its number."""

    work: Work
    says: str
    losses: tuple[int, ...]
    material: str
    materials: tuple[Material, ...]
    starts: dt.datetime
    wait: Span
    ready: dt.datetime


def plan_for(quantities: Quantities, settings: PlanSettings) -> Plan:
    """Lay out all work on a vessel in time.

    Each loss goes through join, first fill, further layers, level, coats with sanding between,
    metal on the wet last coat and what seals it; a made piece is made first. Losses share a sitting
    where the work, the material and the layer are the same; of the plans looked at, that which is
    done soonest is taken, and of those the one with the fewest sittings (see
    `lossfill.cure.sharing`). A sitting begins within working hours and on no day off; what hardens
    does so day and night. The last thing for each loss is its final cure, which needs nobody and
    may begin at any hour.

    Parameters
    ----------
    quantities : what is laid, in which loss and in how many layers
    settings : start, days off, hours, waits, the air in the box

    Returns
    -------
    Steps in the order in which they begin. Waits are elapsed hours, also where the clocks change.
    """
    chains = chains_of(quantities, settings)
    sittings = sittings_of(chains, settings)
    mixing = _mixing(quantities)
    drafts = [draft for sitting in sittings for draft in _drafts(sitting, settings, mixing)]
    drafts.extend(_cures(chains, sittings, settings))
    order = list(Work)
    drafts.sort(key=lambda one: (one.starts, one.work is Work.CURE, order.index(one.work)))
    steps = tuple(_step(n, draft, settings) for n, draft in enumerate(_merged(drafts), start=1))
    ends = [draft.ready for draft in drafts]
    days = elapsed_hours(drafts[0].starts, max(ends)) / 24.0 if drafts else 0.0
    return Plan(steps, days, _warnings(quantities, settings), settings.hours.opens)


def _drafts(
    sitting: Sitting, settings: PlanSettings, mixing: Mapping[str, float]
) -> Iterator[_Draft]:
    """One for each act; only the last has a wait after it."""
    losses = tuple(sorted({task.loss for task in sitting.tasks}))
    starts = sitting.starts
    acts = tuple(zip(*(task.acts for task in sitting.tasks), strict=True))
    for number, shared in enumerate(acts, start=1):
        is_wait = sitting.tasks[0].is_wait
        ends = starts if is_wait else later(starts, settings.step_min / 60.0)
        is_last = number == len(acts)
        materials = tuple(dict.fromkeys(one for act in shared for one in act.materials))
        laid = "" if shared[0].work is Work.LEVEL else shared[0].materials[0].name
        wait, ready = (sitting.wait, sitting.ready) if is_last else ((0.0, 0.0), ends)
        says = _says(shared, [task.loss for task in sitting.tasks])
        says += _batch_words(shared, mixing, settings.step_min)
        yield _Draft(shared[0].work, says, losses, laid, materials, starts, wait, ready)
        starts = ends


def _cures(
    chains: Sequence[Chain], sittings: Sequence[Sitting], settings: PlanSettings
) -> Iterator[_Draft]:
    """The final cure of each loss, from the end of its last sitting."""
    by_place = {place: sitting for sitting in sittings for place in sitting.places}
    for number, chain in enumerate(chains):
        if not chain.laid:
            continue
        starts = by_place[number, len(chain.tasks) - 1].ready
        bounds = []
        for task, material in chain.laid:
            # It has cured since it was laid; only the rest is still to come.
            since = elapsed_hours(bench_end(by_place[number, task], settings), starts)
            bounds.append([max(one - since, 0.0) for one in cure_wait(material)])
        least, most = (max(column) for column in zip(*bounds, strict=True))
        left = (
            chosen(cure_wait(material), settings.waits)
            - elapsed_hours(bench_end(by_place[number, task], settings), starts)
            for task, material in chain.laid
        )
        materials = tuple(material for _, material in chain.laid)
        ready = later(starts, max(0.0, *left))
        says = "final cure: leave it alone until it is ready to be handled"
        yield _Draft(Work.CURE, says, (chain.loss,), "", materials, starts, (least, most), ready)


def _merged(drafts: Sequence[_Draft]) -> list[_Draft]:
    """Put cures that are the same into one step."""
    merged: list[_Draft] = []
    for draft in drafts:
        for place, other in enumerate(merged):
            if draft.work is not Work.CURE or not _is_same_cure(draft, other):
                continue
            losses = tuple(sorted({*other.losses, *draft.losses}))
            materials = tuple(dict.fromkeys((*other.materials, *draft.materials)))
            merged[place] = _Draft(
                Work.CURE, other.says, losses, other.material, materials, *_times(other)
            )
            break
        else:
            merged.append(draft)
    return merged


def _is_same_cure(one: _Draft, other: _Draft) -> bool:
    return (one.work, one.says, one.material, *_times(one)) == (
        other.work,
        other.says,
        other.material,
        *_times(other),
    )


def _times(draft: _Draft) -> tuple[dt.datetime, Span, dt.datetime]:
    return draft.starts, draft.wait, draft.ready


def _step(number: int, draft: _Draft, settings: PlanSettings) -> Step:
    dated = settings.start is not None
    works = [draft.work]
    if draft.says.startswith("final"):
        works.append(Work.USE)  # from then on somebody lives with the vessel
    keys = [key for material in draft.materials for key in material.cautions]
    return Step(
        number=number,
        work=draft.work,
        says=draft.says,
        losses=draft.losses,
        material=draft.material,
        hours_from_start=elapsed_hours(in_utc(settings.begins), draft.starts),
        wait_hours=draft.wait,
        starts=settings.on_the_wall(draft.starts) if dated else None,
        ready=settings.on_the_wall(draft.ready) if dated else None,
        needs_box=draft.work is not Work.LEVEL and draft.wait[1] > 0.0 and damp(draft.materials),
        cautions=cautions_for(works, keys),
        ready_hours_from_start=elapsed_hours(in_utc(settings.begins), draft.ready),
    )


def _says(acts: Sequence[Act], losses: Sequence[int]) -> str:
    """What is done, in words; `acts` are the same act on each of `losses`."""
    first = acts[0]
    name = first.materials[0].name
    if first.work is Work.JOIN:
        made = _where(acts, losses, "piece", f"the made piece set in with {name}")
        bare = _where(acts, losses, "break", f"{name} on the break")
        return f"join: {'; '.join(filter(None, (made, bare)))}"
    if first.work is Work.FILL:
        return f"{_counted('layer', acts, losses)} of {name}"
    if first.work is Work.COAT and first.stage == "coat":
        return f"{_counted('coat', acts, losses)} of {name}"
    if first.stage in ("ground", "seal"):
        aim = "to hold the metal" if first.stage == "ground" else "to seal the metal"
        return f"thin coat of {name} {aim}"
    fixed = {
        Work.LEVEL: (
            "level and sand the fill" if first.stage == "fill" else "sand the coat lightly"
        ),
        Work.METAL: f"lay {name} on the coat while it is tacky",
        Work.CURE: f"leave {name} to harden before it is sanded",
        Work.PRINT: f"print the piece: {name}",
        Work.CARVE: f"saw and carve the piece: {name}",
        Work.FIRE: f"shape, dry and fire the piece: {name}",
        Work.CAST: f"cast the piece: {name}",
    }
    return fixed[first.work]


def _where(acts: Sequence[Act], losses: Sequence[int], stage: str, words: str) -> str:
    """The words, with the losses they are for where the others have something else."""
    here = [loss for act, loss in zip(acts, losses, strict=True) if act.stage == stage]
    if not here:
        return ""
    return words if len(here) == len(acts) else f"{words} ({losses_words(tuple(here))})"


def _counted(what: str, acts: Sequence[Act], losses: Sequence[int]) -> str:
    """Which layer or coat it is, and of how many."""
    layer, counts = acts[0].layer, {act.layers for act in acts}
    which = _ordinal(layer)
    if counts == {1}:
        return f"single {what}"
    if len(counts) == 1:
        return f"{which} {what} (of {counts.pop()})"
    told = (f"of {act.layers} in loss {loss}" for act, loss in zip(acts, losses, strict=True))
    return f"{which} {what} ({', '.join(told)})"


def _ordinal(number: int) -> str:
    if number <= len(ORDINALS):
        return ORDINALS[number - 1]
    is_teen = 11 <= number % 100 <= 13
    return f"{number}{'th' if is_teen else _ENDINGS.get(number % 10, 'th')}"


def _mixing(quantities: Quantities) -> dict[str, float]:
    """By how much fewer batches do where losses share them, for each material."""
    alone: dict[str, int] = {}
    for one in quantities.portions:
        alone[one.material.name] = alone.get(one.material.name, 0) + one.batches
    return {
        total.material.name: min(total.batches / alone[total.material.name], 1.0)
        for total in quantities.totals
        if alone.get(total.material.name)
    }


def _batch_words(acts: Sequence[Act], mixing: Mapping[str, float], step_min: float) -> str:
    """How often is mixed, and how quickly it must be used; nothing where neither is any care."""
    share = sum(act.batches * mixing.get(act.materials[0].name, 1.0) for act in acts)
    if share == 0.0:
        return ""
    # A hair is taken off, or three thirds of a batch would be two batches.
    batches = max(1, math.ceil(share - 1e-9))
    minutes = min(one.pot_life_min or math.inf for act in acts for one in act.materials[:1])
    # A pot life that outlasts the step is told once, in a note.
    is_quick = minutes < step_min
    if batches == 1:
        return f"; one batch, worked within {minutes:g} min" if is_quick else ""
    each = f", each worked within {minutes:g} min" if is_quick else ""
    return f"; {batches} batches, one after another{each}"


def _pot_life_notes(quantities: Quantities, step_min: float) -> Iterator[str]:
    """How long a batch can be worked where its steps do not tell, the shortest first."""
    lasting: dict[float, list[str]] = {}
    for one in dict.fromkeys(portion.material for portion in quantities.portions):
        if one.pot_life_min is not None and one.pot_life_min >= step_min:
            lasting.setdefault(one.pot_life_min, []).append(one.name)
    for minutes in sorted(lasting):
        yield f"use up a batch within {minutes:g} min: {', '.join(lasting[minutes])}"


def _warnings(quantities: Quantities, settings: PlanSettings) -> tuple[str, ...]:
    told = list(quantities.warnings)
    if damp(portion.material for portion in quantities.portions):
        told.extend(box_warnings(settings))
    told.extend(_pot_life_notes(quantities, settings.step_min))
    if any(one.use == "insert" for one in quantities.portions):
        told.append(
            "how long a piece is printed, carved or fired is counted only as far as the table of "
            "materials tells; have each at hand by the day on which it is joined"
        )
    for loss in sorted({one.loss for one in quantities.portions}):
        uses = {one.use for one in quantities.portions if one.loss == loss}
        if "metal" in uses and "coat" not in uses:
            told.append(f"loss {loss} has metal but no coat that could hold it")
    return tuple(told)
