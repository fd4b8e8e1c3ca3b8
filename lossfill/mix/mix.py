"""How much of what to mix: which material goes where, and the whole vessel's totals."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from lossfill import tolerances as tol
from lossfill.errors import InputError
from lossfill.materials.material import INSERTS, Kind, Material
from lossfill.materials.table import material_named
from lossfill.mix.batches import amounts_of, batch_for, sittings_of, summed
from lossfill.mix.quantities import Amount, Need, Portion, Quantities, Total, Use
from lossfill.mix.reckon import (
    coat_portion,
    fill_portion,
    is_depth_missing,
    join_portion,
    metal_portion,
    skin_mm2,
)
from lossfill.mix.settings import NO_MATERIAL, MixSettings

JOINS = frozenset({Kind.ADHESIVE_PASTE, Kind.EPOXY})
"""Kinds of material that join an insert."""

FILLS = frozenset(Kind) - {Kind.COAT, Kind.METAL}
"""Kinds of material that fill a loss."""

_BY_WAY = {"putty on a backing": "putty_with", "a made insert": "insert_with"}


def quantities_for(
    needs: Sequence[Need], choice: MixSettings, table: Sequence[Material]
) -> Quantities:
    """What to mix for each loss and for the whole vessel.

    An insert is joined with adhesive; a paste or putty that is laid into the loss holds by itself,
    so that no adhesive is counted under it.

    Parameters
    ----------
    needs : what each loss needs, from `needs_of` or `need_given`
    choice : which materials and how many coats
    table : from `lossfill.materials.read_table`

    Raises
    ------
    InputError
        For a material that is not in the table or is of the wrong kind, or an unknown loss.
    """
    _check_losses(needs, choice)
    portions = tuple(portion for need in needs for portion in _portions(need, choice, table))
    warnings = tuple(dict.fromkeys(_warnings(needs, portions, choice)))
    return Quantities(portions, tuple(_totals(portions, choice)), warnings)


def recommended_fill(way: str, choice: MixSettings) -> str:
    """Name of the material that a way to fill takes; paste where no way is known."""
    return str(getattr(choice, _BY_WAY.get(way, "paste_with")))


def _portions(need: Need, choice: MixSettings, table: Sequence[Material]) -> Iterator[Portion]:
    """The portions of one loss in the order of the work."""
    name = choice.fill_for.get(need.number, choice.fill_with)
    if name is None:
        name = recommended_fill(need.way, choice)
    fill = None if _is_none(name) else _of_kind(table, name, FILLS, "a fill")
    has_gap = need.break_mm2 > 0 and need.clearance_mm > 0
    if fill is not None and fill.kind in INSERTS and has_gap and not _is_none(choice.join_with):
        join = _of_kind(table, choice.join_with or "", JOINS, "an adhesive")
        yield join_portion(need, join, choice)
    if fill is not None:
        yield fill_portion(need, fill, choice)
    # A name is looked up before it is known whether there is skin: a slip of it is told anyhow.
    has_skin = skin_mm2(need, choice) > 0
    if not _is_none(choice.coat_with):
        coat = _of_kind(table, choice.coat_with or "", {Kind.COAT}, "a coat")
        if has_skin:
            yield coat_portion(need, coat, choice, choice.coats or coat.coats)
    if not _is_none(choice.metal_with):
        ground = _of_kind(table, choice.ground_with, {Kind.COAT}, "a coat")
        metal = _of_kind(table, choice.metal_with or "", {Kind.METAL}, "a metal powder")
        if has_skin:
            yield coat_portion(need, ground, choice, ground.coats)
            yield metal_portion(need, metal, choice)


def _is_none(name: str | None) -> bool:
    return name is None or name.strip().lower() == NO_MATERIAL


def _of_kind(
    table: Sequence[Material], name: str, kinds: frozenset[Kind] | set[Kind], purpose: str
) -> Material:
    material = material_named(table, name)
    if material.kind not in kinds:
        fitting = ", ".join(one.name for one in table if one.kind in kinds)
        raise InputError(
            f"'{material.name}' is of the kind '{material.kind.value}' and cannot be used as "
            f"{purpose}: take one of {fitting}"
        )
    return material


def _check_losses(needs: Sequence[Need], choice: MixSettings) -> None:
    known = [need.number for need in needs]
    for number in choice.fill_for:
        if number not in known:
            told = ", ".join(str(one) for one in known if one)
            has = f"there are {told}" if told else "it has no number: leave out the number and '='"
            raise InputError(f"there is no loss {number} to fill: {has if known else 'none'}")


def _totals(portions: Sequence[Portion], choice: MixSettings) -> Iterator[Total]:
    """Each material for all losses, in the order in which they are first needed."""
    by_material: dict[str, list[Portion]] = {}
    for portion in portions:
        by_material.setdefault(portion.material.name, []).append(portion)
    for same in by_material.values():
        amounts, batches = _together(same, choice)
        yield Total(
            material=same[0].material,
            volume_ml=math.fsum(one.volume_ml for one in same),
            # All come from one form and may be off the same way, so that errors add up plainly.
            error_ml=math.fsum(one.error_ml for one in same),
            mass_g=math.fsum(one.mass_g for one in same),
            amounts=amounts,
            batches=batches,
        )


def _together(same: Sequence[Portion], choice: MixSettings) -> tuple[tuple[Amount, ...], int]:
    """Mix one material once for all losses at each sitting.

    First layers of all losses share a sitting, then second layers, and so on. Inserts are made one
    by one.
    """
    material = same[0].material
    if material.kind in INSERTS:
        return summed([list(one.amounts) for one in same]), len(same)
    amounts: list[list[Amount]] = []
    count = 0
    for use, mass_g in _sitting_masses(same):
        batch = batch_for(mass_g, material, use, choice)
        amounts.append(amounts_of(batch.mass_g, batch.count, material, choice))
        count += batch.count
    return summed(amounts), count


def _sitting_masses(same: Sequence[Portion]) -> list[tuple[Use, float]]:
    """What is mixed at each sitting, and for what, g."""
    masses: dict[tuple[Use, int], float] = {}
    for portion in same:
        sittings = sittings_of(portion.material, portion.layers)
        for at in range(sittings):
            # Joins are all laid before any fill, so that they cannot share a sitting with one.
            key = (portion.use, at)
            masses[key] = masses.get(key, 0.0) + portion.mass_g / sittings
    return [(use, mass_g) for (use, _), mass_g in masses.items()]


def _warnings(
    needs: Sequence[Need], portions: Sequence[Portion], choice: MixSettings
) -> Iterator[str]:
    is_coated = not (_is_none(choice.coat_with) and _is_none(choice.metal_with))
    for need in needs:
        if is_coated and skin_mm2(need, choice) <= 0:
            if need.number:
                why = f"it has no new skin on the {choice.coat_sides} side"
            else:
                why = "the area of its skin is not known (give --area)"
            yield f"{need.name}: no coat and no metal is counted, for {why}"
        if need.volume_error_ml > tol.DOUBTFUL_VOLUME_SHARE * need.volume_ml:
            yield (
                f"{need.name}: its volume may be off by {need.volume_error_ml:.2f} of "
                f"{need.volume_ml:.2f} ml: have more at hand than is told here"
            )
    by_number = {need.number: need for need in needs}
    joined = {portion.loss for portion in portions if portion.use == "join"}
    for portion in portions:
        if portion.use == "fill" and is_depth_missing(by_number[portion.loss], portion.material):
            yield (
                f"{portion.name}: how deep it is is not known (give --depth), so that one layer "
                f"is counted; a layer of {portion.material.name} is "
                f"{portion.material.thickest_layer_mm:g} mm at most"
            )
        if portion.use == "insert" and portion.loss not in joined:
            yield f"{portion.name}: no adhesive is counted for its insert"
