"""What to mix, in the words of the bench; and the table of materials."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from lossfill.cli.words import wrapped
from lossfill.figures import millilitres, rounded, square_cm
from lossfill.materials.material import Kind, Material, Part
from lossfill.materials.rows import MaterialRow, PartRow
from lossfill.mix.chain import figure, two_digits
from lossfill.mix.quantities import Amount, ChainLink, Need, Portion, Quantities

if TYPE_CHECKING:
    from lossfill.pack.record import LossPart

_HANGING = " " * 10
_STEPS = " " * 12


def loss_blocks(
    needs: Sequence[Need],
    quantities: Quantities,
    places: Mapping[int, LossPart],
    *,
    explain: bool,
) -> Iterator[list[str]]:
    """One block for each loss: what is mixed for it in the order of the work."""
    for need in needs:
        own = [one for one in quantities.portions if one.loss == need.number]
        lines = [_heading(need, places.get(need.number))]
        lines += wrapped(_need_words(need), "  ", "  ")
        if not own:
            lines.append("  nothing to mix")
        for portion in own:
            lines += portion_lines(portion, explain=explain)
        yield lines


def portion_lines(portion: Portion, *, explain: bool) -> Iterator[str]:
    """What is weighed out for one use, in how many batches and layers."""
    material = portion.material
    yield from wrapped(f"{material.name}: {_size(portion)}", f"  {portion.use:<8}", _HANGING)
    yield from wrapped(_weighing(portion), _HANGING, _HANGING)
    for note in portion.notes:
        yield from wrapped(note, f"{_HANGING}- ", _STEPS)
    if explain:
        yield f"{_HANGING}from mm³ to gram:"
        for link in portion.chain:
            yield from wrapped(_link(link), _STEPS, _STEPS + "  ")


TOTALS = "For the whole vessel, where losses share a sitting"


def total_lines(quantities: Quantities, heading: str = TOTALS) -> Iterator[str]:
    """What is mixed for the whole vessel."""
    if not quantities.totals:
        return
    yield heading
    for total in quantities.totals:
        parts = " + ".join(_amount(amount) for amount in total.amounts)
        error = f", about ± {two_digits(total.error_ml * total.material.density_g_ml)} g"
        words = (
            f"{total.material.name}: {parts}"
            f"{error if total.error_ml > 0 else ''}"
            f"{_in(total.batches, 'batch', 'batches') if total.material.is_mixed else ''}"
        )
        yield from wrapped(words, "  ", _HANGING)


def material_blocks(table: Sequence[Material]) -> Iterator[list[str]]:
    """The table of materials, one block for each kind."""
    for kind in Kind:
        same = [material for material in table if material.kind is kind]
        if same:
            yield [f"{kind.value.capitalize()}", *(row for one in same for row in _row(one))]


def own_lines() -> Iterator[str]:
    """How to write materials of one's own."""
    yield "Materials of your own"
    yield from wrapped(
        "Write them to a file and give it with --materials FILE. A table of a known name changes "
        "only the fields that it gives, a new name must give all that its kind needs:",
        "  ",
    )
    yield from ("", "    [[material]]", '    name = "epoxy putty"', "    shrinkage = 0.004", "")
    yield from wrapped(f"Its fields: {', '.join(MaterialRow.model_fields)}.", "  ", "    ")
    yield from wrapped(
        f"Fields of each of its parts: {', '.join(PartRow.model_fields)}.", "  ", "    "
    )


def _row(material: Material) -> Iterator[str]:
    yield f"  {material.name}"
    for words in (_figures(material), f"source: {material.source}", material.note):
        yield from wrapped(words, "      ", "        ") if words else ()


def _figures(material: Material) -> str:
    told = [f"{material.density_g_ml:.2f} g/ml"]
    if len(material.parts) > 1:
        told.append(
            f"by mass {_shares(material.parts, [one.mass_share for one in material.parts])}"
        )
        if all(one.pours for one in material.parts):
            volumes = [one.mass_share / one.density_g_ml for one in material.parts]
            told.append(f"by volume {_shares(material.parts, volumes)}")
    if material.solids_left < 1:
        told.append(f"{100 * material.solids_left:.0f} % left once cured")
    if material.pot_life_min is not None:
        told.append(f"to be used within {material.pot_life_min:g} min")
    if material.least_batch_g > 0:
        told.append(f"at least {material.least_batch_g:g} g at a time")
    if material.thickest_layer_mm is not None:
        told.append(f"layers up to {material.thickest_layer_mm:g} mm")
    if material.layer_hours[1] > 0:
        told.append("{:g} to {:g} h between layers".format(*material.layer_hours))
    if material.cure_days[1] > 0:
        told.append("cured in {:g} to {:g} days".format(*material.cure_days))
    if material.shrinkage is None and material.kind is not Kind.METAL:
        told.append("shrinkage to be measured")
    elif material.shrinkage is not None and material.shrinkage > 0:
        told.append(f"shrinks by {100 * material.shrinkage:g} % in length")
    if material.laid_um is not None:
        told.append(f"{material.coats} coats of {material.laid_um:g} µm")
    if material.coverage_g_m2 is not None:
        told.append(f"{material.coverage_g_m2:g} g/m²")
    return ", ".join(told)


def _shares(parts: Sequence[Part], of: Sequence[float]) -> str:
    """Hundredths of the whole."""
    return " + ".join(
        f"{100 * share / sum(of):.1f} {part.name}" for part, share in zip(parts, of, strict=True)
    )


def _heading(need: Need, part: LossPart | None) -> str:
    if part is None:
        return "Loss as given" if need.number == 0 else need.name.capitalize()
    return f"Loss {part.number}: {part.noun} at {part.clock}, {part.height_mm:.0f} mm up"


def _need_words(need: Need) -> str:
    error = f", about ± {two_digits(need.volume_error_ml)} ml" if need.volume_error_ml > 0 else ""
    told = [f"missing {millilitres(need.volume_ml)}{error}"]
    if need.outer_mm2 + need.inner_mm2 > 0:
        told.append(f"new skin {square_cm(need.outer_mm2 + need.inner_mm2)}")
    if need.break_mm2 > 0:
        told.append(f"break {square_cm(need.break_mm2)}")
    if need.depth_mm > 0:
        told.append(f"{rounded(need.depth_mm, 2)} mm deep")
    return "; ".join(told) + (f"; recommended: {need.way}" if need.way else "")


def _size(portion: Portion) -> str:
    words = f"{two_digits(portion.mass_g)} g"
    if portion.use != "metal":
        words += f" ({two_digits(portion.volume_ml)} ml)"
    if portion.error_ml > 0:
        words += f", about ± {two_digits(portion.error_ml * portion.material.density_g_ml)} g"
    if portion.use == "coat":
        return words + _in(portion.layers, "coat", "coats")
    return words + (_in(portion.layers, "layer", "layers") if portion.use == "fill" else "")


def _weighing(portion: Portion) -> str:
    """What goes on the scale; each batch is as large as the others."""
    times = portion.batches
    each = [
        Amount(
            one.part, one.mass_g / times, None if one.volume_ml is None else one.volume_ml / times
        )
        for one in portion.amounts
    ]
    parts = " + ".join(_amount(amount) for amount in each)
    verb = "mix" if portion.material.is_mixed else "take"
    return f"{verb} {parts}" if times == 1 else f"{times} times: {verb} {parts}"


def _amount(amount: Amount) -> str:
    volume = "" if amount.volume_ml is None else f" ({amount.volume_ml:.2f} ml)"
    return f"{amount.mass_g:.2f} g {amount.part}{volume}"


def _in(count: int, one: str, many: str) -> str:
    return f", in {count} {one if count == 1 else many}"


def _link(link: ChainLink) -> str:
    if not link.sum:
        return f"{link.what}: {figure(link.value)} {link.unit}"
    return f"{link.what}: {link.sum} → {figure(link.value)} {link.unit}"
