"""Which source for each gap, and how far to trust it: hide patches like the gap and predict them.

A patch can only be as wide as what is left allows, and the error of a form grows with the width
of what it spans. By how much follows from the elastic model: the variance that is left to the field
once the skin is known, over the gap and over the patches. So the measured error of the patches
is stated times the ratio of these two. A copy of another place is laid on by the skin that is
left, and the more is gone the less holds it: it is granted nothing better.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lossfill import tolerances as tol
from lossfill.form.cells import Cells, Skin, areas_of, grow, label_around
from lossfill.form.choice import Choice, Trial
from lossfill.form.choose import Elastic, bent_to, field_of, without
from lossfill.form.conform import conform
from lossfill.form.elastic import NormalEquations, mean_variance
from lossfill.form.hide import choose_patches, rms_on, wider_than_patches, width_deg
from lossfill.form.rings import with_rings
from lossfill.form.sources import REVOLVE, Source, follow
from lossfill.mesh import BoolArray, FloatArray


def choose_sources(
    cells: Cells,
    skin: Skin,
    gap: BoolArray,
    elastic: Elastic,
    sources: tuple[Source, ...],
    *,
    noise_mm: float,
    asked: str | None = None,
    lobed: bool = False,
) -> tuple[Choice, ...]:
    """Choose a source for each of the largest gaps; the first, the largest's, serves all others.

    Parameters
    ----------
    sources : those that may be chosen, revolve among them
    asked : the one that a person wants wherever it knows enough; None takes what errs least
    lobed : whether the cells lie on a vessel whose lobes were taken out
    """

    def choose(patches: list[BoolArray], own: BoolArray) -> Choice:
        # Lobes are fitted to all that is left, hidden patches included, and not to what is gone.
        widened = tol.LOBES_GROWTH if lobed and wider_than_patches(own) else 1.0
        return _choose(
            cells,
            skin,
            gap,
            elastic,
            sources,
            patches,
            own,
            noise_mm=noise_mm,
            asked=asked,
            widened=widened,
        )

    choices: list[Choice] = []
    for own in _grouped(cells, gap)[: tol.GAPS_TESTED]:
        # The elastic form was chosen by patches like the largest gap: they are there already.
        patches = choose_patches(cells, skin, gap, own) if choices else list(elastic.hidden)
        choices.append(choose(patches, own))
    return tuple(choices) or (choose(list(elastic.hidden), gap),)


def _grouped(cells: Cells, gap: BoolArray) -> list[BoolArray]:
    """Gaps, the largest first; those over the same stretch of the turn count as one.

    Where a wall is broken through, its two skins are two gaps, but one loss.
    """
    labels, n = label_around(gap)
    groups: list[BoolArray] = []
    for k in 1 + np.argsort(-areas_of(cells, labels, n)[1:], kind="stable"):
        own = labels == k
        columns = own.any(axis=0)
        for index, group in enumerate(groups):
            taken = group.any(axis=0)
            if (taken & columns).sum() > tol.GAPS_ALIKE * (taken | columns).sum():
                groups[index] = group | own
                break
        else:
            groups.append(own)
    return groups


def chosen_field(
    cells: Cells,
    skin: Skin,
    gap: BoolArray,
    elastic: Elastic,
    sources: tuple[Source, ...],
    choices: tuple[Choice, ...],
) -> tuple[FloatArray, NDArray[np.intp]]:
    """Field of the source chosen about each gap, and which choice that is, both (R, C)."""
    base = with_rings(cells, skin, elastic.field, gap)
    field, which = base, np.zeros(cells.shape, dtype=np.intp)
    nothing = np.zeros(cells.shape, dtype=bool)
    by_name = {source.name: source for source in sources}
    shown: dict[str, FloatArray] = {}
    # The smaller ones last, for they lie beside the larger; and the first serves all others.
    for k, choice in enumerate(choices):
        source = by_name[choice.source]
        if source.show is not None and choice.source not in shown:
            seen = _shown(cells, source, elastic, skin, nothing)
            shown[choice.source] = follow(cells, seen, base)
        mine = shown.get(choice.source, base)
        about = ~nothing if k == 0 else grow(cells, choice.gap, tol.CONFORM_MARGIN_MM)
        field = np.where(about, mine, field)
        which = np.where(about, k, which)
    return field, which


def _shown(cells: Cells, source: Source, elastic: Elastic, skin: Skin, hidden: BoolArray) -> Skin:
    """What a source puts into each cell, with some out of sight."""
    assert source.show is not None
    shown = source.show(hidden)
    if not source.copies:
        return shown
    unknown = hidden | (shown.weight == 0)
    bent = bent_to(elastic, Skin(skin.offset_mm, np.where(unknown, 0.0, skin.weight)), shown)
    # Throwing rings are a spiral: elsewhere they have another phase, and mirrored another hand.
    return Skin(with_rings(cells, skin, bent.offset_mm, unknown), shown.weight)


def _seen(
    cells: Cells, source: Source, elastic: Elastic, skin: Skin, base: FloatArray, hidden: BoolArray
) -> _Seen:
    """What a source makes of hidden cells, and of which of them it knows anything."""
    if source.show is None:
        return _Seen(base, hidden, 1.0)
    shown = _shown(cells, source, elastic, skin, hidden)
    known = hidden & (shown.weight > 0)
    return _Seen(follow(cells, shown, base), known, float(known.sum() / hidden.sum()))


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """A field, and the hidden cells that its source knows.

    Where it knows nothing it is led over to the revolved form: an error there is not its own.
    """

    field: FloatArray
    known: BoolArray
    share: float

    @property
    def tells(self) -> bool:
        """Whether enough of the patch is known to judge the source by."""
        return self.share >= tol.SOURCE_KNOWN_MIN


def _choose(
    cells: Cells,
    skin: Skin,
    gap: BoolArray,
    elastic: Elastic,
    sources: tuple[Source, ...],
    patches: list[BoolArray],
    own: BoolArray,
    *,
    noise_mm: float,
    asked: str | None,
    widened: float,
) -> Choice:
    # A few patches, spread round the turn, tell the error of the whole chain well enough.
    few = patches[:: max(1, round(len(patches) / tol.PATCHES_CONFORMED))]
    reasons = {source.name: _why_not(source, own) for source in sources}
    usable = [source for source in sources if not reasons[source.name]]
    shown: dict[str, list[_Seen]] = {source.name: [] for source in usable}
    hopeless: set[str] = set()
    rests = [without(elastic.model, elastic.data, skin, patch) for patch in few]
    for patch, data in zip(few, rests, strict=True):
        base = with_rings(cells, skin, field_of(elastic.model, data, elastic.stiffness), patch)
        worst = tol.SOURCE_HOPELESS * rms_on(patch, skin, base, cells)
        for source in [one for one in usable if one.name not in hopeless]:
            seen = _seen(cells, source, elastic, skin, base, patch)
            shown[source.name].append(seen)
            # One patch is enough to see that a source is out of the running.
            if asked is None and seen.tells and rms_on(seen.known, skin, seen.field, cells) > worst:
                hopeless.add(source.name)
    trials: list[Trial] = []
    rough = {name: _rough_errors(cells, skin, seen) for name, seen in shown.items()}
    # What is far off before it is led onto the skin is not worth leading: that takes the time.
    tested = [list(errors.values()) for errors in rough.values() if errors]
    close = tol.SOURCE_CLOSE * min((_rms(errors, noise_mm) for errors in tested), default=noise_mm)
    wide = tol.GROWTH_WIDE if _is_wide(cells, own) else 1.0
    growth = max(widened, wide) * _growth(elastic, few, rests, own)
    for source in sources:
        why_not = reasons[source.name]
        if not why_not and few and not rough[source.name]:
            why_not = "no part of the wall is left that it could be tried on"
        if why_not:
            trials.append(Trial(source.name, None, None, why_not))
            continue
        errors = list(rough[source.name].values())
        if _rms(errors, noise_mm) <= close:
            errors = [
                _led_error(cells, skin, gap, few[k], shown[source.name][k], noise_mm=noise_mm)
                for k in rough[source.name]
            ]
        error, worst = _rms(errors, noise_mm) * growth, max(errors, default=noise_mm) * growth
        bound = max(tol.BOUND_SHARE * error, tol.BOUND_WORST * worst)
        trials.append(Trial(source.name, error, bound, source.says))
    found = [trial for trial in trials if trial.error_mm is not None]
    best = min([trial for trial in found if trial.source == asked] or found, key=_cost)
    assert best.error_mm is not None
    assert best.bound_mm is not None
    return Choice(own, best.source, best.error_mm, best.bound_mm, tuple(trials))


def _rough_errors(cells: Cells, skin: Skin, seen: list[_Seen]) -> dict[int, float]:
    """Error over each patch of which a source knows enough, before it is led onto the skin."""
    return {k: rms_on(one.known, skin, one.field, cells) for k, one in enumerate(seen) if one.tells}


def _why_not(source: Source, own: BoolArray) -> str:
    """Why a source cannot serve a gap, or nothing."""
    if not source.applies:
        return source.says
    if source.name == "bridge" and width_deg(own) > tol.BRIDGE_WIDEST_DEG:
        return f"a gap of {width_deg(own):.0f}° is too wide to span"
    if source.show is None or not source.copies or not own.any():
        return ""
    share = float((source.show(own).weight > 0)[own].mean())
    if share >= tol.SOURCE_KNOWN_MIN:
        return ""
    return f"only {share:.0%} of what it would be taken from is left"


def _led_error(
    cells: Cells,
    skin: Skin,
    gap: BoolArray,
    patch: BoolArray,
    seen: _Seen,
    *,
    noise_mm: float,
) -> float:
    """Error over a hidden patch of a field that has been led onto the skin about it, mm."""
    led = conform(
        cells, skin, seen.field, gap=gap | patch, noise_mm=noise_mm, about=patch, texture=False
    )
    return rms_on(seen.known, skin, led, cells)


def _cost(trial: Trial) -> float:
    """Expected error; another source must be better than revolving by more than chance."""
    assert trial.error_mm is not None
    return trial.error_mm * (1.0 if trial.source == REVOLVE else tol.SOURCE_PREFERENCE)


def _rms(errors: list[float], noise_mm: float) -> float:
    return float(np.sqrt(np.mean(np.square(errors)))) if errors else noise_mm


def _is_wide(cells: Cells, own: BoolArray) -> bool:
    """Whether so much is gone that the axis itself is none too sure."""
    area = np.broadcast_to(cells.area_mm2[:, None], cells.shape)
    share = float(area[own].sum() / area.sum())
    return width_deg(own) > tol.WIDE_GAP_DEG or share > tol.WIDE_GAP_SHARE


def _growth(
    elastic: Elastic, patches: list[BoolArray], rests: list[NormalEquations], own: BoolArray
) -> float:
    """How much more the elastic field may err over the gap than over patches, at least 1.

    Parameters
    ----------
    rests : what is known once each patch is hidden
    """
    if not patches or not own.any():
        return 1.0
    hidden = [
        mean_variance(elastic.model, rest, patch)
        for patch, rest in zip(patches, rests, strict=True)
    ]
    ratio = mean_variance(elastic.model, elastic.data, own) / float(np.mean(hidden))
    return float(np.sqrt(max(1.0, ratio)))
