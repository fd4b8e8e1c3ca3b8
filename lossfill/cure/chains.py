"""What has to be done to each loss, one thing after another, before anything is shared or dated.

A chain runs through join, fill, level, coat, metal in this order. A task is what one sitting does
to one loss; it may hold several acts that follow at once, such as sanding a coat and laying the
next. Metal goes on the last coat before it while that is tacky, and what is laid over it seals it
once it has cured (common practice): the last row of coats before the metal is its ground, of which
the first holds the powder and the others seal it. Nothing is sanded once the metal is on.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from lossfill.cautions import Work
from lossfill.cure.settings import PlanSettings
from lossfill.cure.waits import Span, cure_wait, in_damp_air, layer_wait, longest, sanding_wait
from lossfill.materials.material import Kind, Material
from lossfill.mix.quantities import Portion, Quantities

NO_WAIT: Span = (0.0, 0.0)

MAKING = {Kind.PRINT: Work.PRINT, Kind.WOOD: Work.CARVE, Kind.CLAY: Work.FIRE}
"""How a made piece comes about."""


@dataclass(frozen=True, slots=True)
class Act:
    """One kind of work on one loss.

    Parameters
    ----------
    work : what it is
    stage : tells acts of one work apart, such as "fill" or "coat"
    materials : what is handled; the first is what is laid, if anything is, and any other what it
        is laid on while that is wet
    layer, layers : which of how many; 0 where it is not counted
    batches : share of a batch, by pot life; 0 where it does not set by itself
    """

    work: Work
    stage: str
    materials: tuple[Material, ...] = ()
    layer: int = 0
    layers: int = 0
    batches: float = 0.0


@dataclass(frozen=True, slots=True)
class Task:
    """What is done to one loss at one time.

    Parameters
    ----------
    loss : its number, or 0
    rank : grows along every chain, and is the same for what may be shared: so sharing never goes
        in a circle
    acts : in order, one right after another; none where it only hardens
    wait : hours after it
    is_wait : whether nobody is needed
    """

    loss: int
    rank: tuple[int, int]
    acts: tuple[Act, ...]
    wait: Span
    is_wait: bool = False

    @property
    def key(self) -> tuple[object, ...]:
        """The same for tasks that can share a step: same work, material and layer."""
        acts = []
        for act in self.acts:
            # Sanding is the same work whatever is sanded, and one adhesive on the brush serves a
            # piece and a bare break.
            laid = "" if act.work is Work.LEVEL else act.materials[0].name
            stage = "" if act.work is Work.JOIN else act.stage
            acts.append((act.work, stage, laid, 0 if act.work is Work.LEVEL else act.layer))
        return (self.rank, self.is_wait, *acts)


@dataclass(frozen=True, slots=True)
class Chain:
    """All tasks of a loss, in order, and what is left to cure when the last is done."""

    loss: int
    tasks: tuple[Task, ...]
    laid: tuple[tuple[int, Material], ...]
    """Which task lays which material last."""


def chains_of(quantities: Quantities, settings: PlanSettings) -> tuple[Chain, ...]:
    """The chain of each loss, by its number."""
    losses = sorted({portion.loss for portion in quantities.portions})
    return tuple(
        _chain([one for one in quantities.portions if one.loss == loss], settings)
        for loss in losses
    )


def _chain(portions: Sequence[Portion], settings: PlanSettings) -> Chain:
    tasks = [
        *_insert_tasks(portions, settings),
        *_join_tasks(portions, settings),
        *_fill_tasks(portions, settings),
        *_level_tasks(portions, settings),
        *_coat_tasks(portions, settings),
    ]
    laid: dict[str, tuple[int, Material]] = {}
    for number, task in enumerate(tasks):
        for act in task.acts:
            # A piece has hardened before it goes in; sanding lays nothing.
            if act.work not in (Work.LEVEL, *MAKING.values()):
                laid.update({one.name: (number, one) for one in act.materials[:1]})
    return Chain(portions[0].loss, tuple(tasks), tuple(laid.values()))


def _insert_tasks(portions: Sequence[Portion], settings: PlanSettings) -> Iterable[Task]:
    for number, portion in enumerate(_of(portions, "insert")):
        material = portion.material
        work = MAKING.get(material.kind, Work.CAST)
        act = Act(work, "piece", (material,), batches=_batches(portion, 1))
        # To join a piece is to handle it, so it has to be hard by then.
        wait = longest(layer_wait(material, settings), cure_wait(material))
        yield Task(portion.loss, (0, number), (act,), wait)


def _join_tasks(portions: Sequence[Portion], settings: PlanSettings) -> Iterable[Task]:
    stage = "piece" if _of(portions, "insert") else "break"
    for number, portion in enumerate(_of(portions, "join")):
        material = portion.material
        act = Act(Work.JOIN, stage, (material,), batches=_batches(portion, 1))
        yield Task(portion.loss, (1, number), (act,), layer_wait(material, settings))


def _fill_tasks(portions: Sequence[Portion], settings: PlanSettings) -> Iterable[Task]:
    number = 0
    for portion in _of(portions, "fill"):
        material, layers = portion.material, max(portion.layers, 1)
        for layer in range(1, layers + 1):
            number += 1
            act = Act(Work.FILL, "fill", (material,), layer, layers, _batches(portion, layers))
            yield Task(portion.loss, (2, number), (act,), layer_wait(material, settings))


def _level_tasks(portions: Sequence[Portion], settings: PlanSettings) -> Iterable[Task]:
    worked = [one for one in portions if one.use in ("insert", "fill")]
    if not worked:
        return
    loss = worked[0].loss
    last = (_of(portions, "fill") or _of(portions, "join") or worked)[-1].material
    set_h, hard_h = layer_wait(last, settings), sanding_wait(last)
    left = max(hard_h[0] - set_h[0], 0.0), max(hard_h[1] - set_h[1], 0.0)
    if left[1] > 0.0:
        yield Task(loss, (3, 0), (Act(Work.CURE, "before sanding", (last,)),), left, is_wait=True)
    materials = tuple(dict.fromkeys(one.material for one in worked))
    yield Task(loss, (4, 0), (Act(Work.LEVEL, "fill", materials),), NO_WAIT)


def _coat_tasks(portions: Sequence[Portion], settings: PlanSettings) -> Iterable[Task]:
    rows, metals = _of(portions, "coat"), _of(portions, "metal")
    ground = rows.pop() if rows and metals else None
    coats = [(row, layer) for row in rows for layer in range(1, max(row.layers, 1) + 1)]
    under: tuple[Act, ...] = ()
    for number, (row, layer) in enumerate(coats, start=1):
        acts = (*under, _coat(row, layer, "coat"))
        is_last = ground is None and number == len(coats)
        wait = NO_WAIT if is_last else layer_wait(row.material, settings)
        yield Task(row.loss, (5, number), acts, wait)
        under = (Act(Work.LEVEL, "coat", (row.material,), number),)
    if metals:
        yield from _metal_tasks(ground, metals, under, settings)


def _metal_tasks(
    ground: Portion | None,
    metals: Sequence[Portion],
    under: tuple[Act, ...],
    settings: PlanSettings,
) -> Iterable[Task]:
    """Metal on its ground, and what seals it."""
    loss = metals[0].loss
    wet_ground = () if ground is None else (ground.material,)
    powder = tuple(Act(Work.METAL, "metal", (one.material, *wet_ground)) for one in metals)
    if ground is None:
        yield Task(loss, (6, 0), powder, NO_WAIT)
        return
    layers = max(ground.layers, 1)
    wet = layer_wait(ground.material, settings)
    # The seal goes on once ground and powder have cured together.
    held = longest(wet, *(layer_wait(one.material, settings) for one in metals))
    acts = (*under, _coat(ground, 1, "ground"), *powder)
    yield Task(loss, (6, 0), acts, held if layers > 1 else NO_WAIT)
    for layer in range(2, layers + 1):
        seal = (_coat(ground, layer, "seal"),)
        yield Task(loss, (7, layer), seal, wet if layer < layers else NO_WAIT)


def _coat(row: Portion, layer: int, stage: str) -> Act:
    batches = _batches(row, row.layers)
    return Act(Work.COAT, stage, (row.material,), layer, max(row.layers, 1), batches)


def _of(portions: Sequence[Portion], use: str) -> list[Portion]:
    return [portion for portion in portions if portion.use == use]


def _batches(portion: Portion, layers: int) -> float:
    if portion.material.pot_life_min is None:
        return 0.0
    return portion.batches / max(layers, 1)


def damp(materials: Iterable[Material]) -> bool:
    """Whether any of them cures in the damp box."""
    return any(in_damp_air(material) for material in materials)
