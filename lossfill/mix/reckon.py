"""From what a loss needs to a portion of one material, with the chain that led to it."""

from __future__ import annotations

import math

from lossfill import tolerances as tol
from lossfill.make.shrink import Shrink
from lossfill.materials.gypsum import dry_density_g_ml
from lossfill.materials.material import INSERTS, Kind, Material
from lossfill.mix.batches import amounts_of, batch_for, rounded_up, sittings_of
from lossfill.mix.chain import Chain, figure, two_digits
from lossfill.mix.inserts import insert_portion
from lossfill.mix.quantities import Need, Portion, Use
from lossfill.mix.settings import MixSettings


def fill_portion(need: Need, material: Material, choice: MixSettings) -> Portion:
    """A paste, putty, resin or plaster that is laid or poured into the gap, or an insert for it."""
    if material.kind in INSERTS:
        return insert_portion(need, material, choice)
    chain = Chain().start("missing material", 1000.0 * need.volume_ml, "mm³")
    chain.over("the same in millilitres", 1000.0, "ml", of="mm³/ml")
    factor = _make_up(chain, material, choice)
    layers, notes = _layers(need, material)
    notes += _cure_notes(material, need)
    return _portion(
        need,
        "fill",
        material,
        choice,
        chain,
        error_ml=need.volume_error_ml * factor,
        layers=layers,
        notes=notes,
    )


def join_portion(need: Need, material: Material, choice: MixSettings) -> Portion:
    """Adhesive in the gap along the break."""
    chain = Chain().start("area of the break", need.break_mm2, "mm²")
    chain.times("as thick as the gap", need.clearance_mm, "mm³", of="mm")
    chain.over("the same in millilitres", 1000.0, "ml", of="mm³/ml")
    _make_up(chain, material, choice)
    # The break and the gap are the scan's and the piece's own: the form's bound is not in them.
    return _portion(need, "join", material, choice, chain, error_ml=0.0, layers=1)


def coat_portion(need: Need, material: Material, choice: MixSettings, coats: int) -> Portion:
    """Coats over the new skin; they are counted as laid, so that curing takes nothing more."""
    chain = _skin(need, choice)
    chain.times("one coat as laid", (material.laid_um or 0.0) / 1000.0, "mm³", of="mm")
    chain.times("all coats", coats, "mm³", of="coats")
    chain.over("the same in millilitres", 1000.0, "ml", of="mm³/ml")
    _waste(chain, choice)
    return _portion(need, "coat", material, choice, chain, error_ml=0.0, layers=coats)


def metal_portion(need: Need, material: Material, choice: MixSettings) -> Portion:
    """Powder that stays on the new skin, and what is lost of it."""
    chain = _skin(need, choice)
    chain.over("the same in square metres", 1e6, "m²", of="mm²/m²")
    chain.times("powder that stays on it", material.coverage_g_m2 or 0.0, "g", of="g/m²")
    _waste(chain, choice)
    return _portion(need, "metal", material, choice, chain, error_ml=0.0, layers=1)


def skin_mm2(need: Need, choice: MixSettings) -> float:
    """Area of new skin on the sides that are coated."""
    outer = need.outer_mm2 if choice.coat_sides in ("outer", "both") else 0.0
    inner = need.inner_mm2 if choice.coat_sides in ("inner", "both") else 0.0
    return outer + inner


def is_depth_missing(need: Need, material: Material) -> bool:
    """Whether the number of layers hangs on a depth that nobody gave."""
    return material.thickest_layer_mm is not None and need.depth_mm <= 0


def _skin(need: Need, choice: MixSettings) -> Chain:
    sides = {"both": "new skin, both sides"}.get(
        choice.coat_sides, f"new skin, {choice.coat_sides} side"
    )
    return Chain().start(sides if need.number else "skin", skin_mm2(need, choice), "mm²")


def _make_up(chain: Chain, material: Material, choice: MixSettings) -> float:
    """Add what is lost in curing and on the tools; what came out over what went in."""
    first = chain.value
    if material.solids_left < 1:
        chain.over("fresh, for this share is left once cured", material.solids_left, "ml")
    if material.shrinkage:
        factor = Shrink(material.shrinkage, material.shrinkage).volume_factor
        what = f"fresh, for it shrinks by {100 * material.shrinkage:g} % in length"
        chain.times(what, factor, "ml")
    _waste(chain, choice)
    return chain.value / first if first > 0 else 1.0


def _waste(chain: Chain, choice: MixSettings) -> None:
    if choice.waste_share > 0:
        what = f"with {100 * choice.waste_share:g} % left on board and tools"
        chain.times(what, 1.0 + choice.waste_share, chain.links[-1].unit)


def _layers(need: Need, material: Material) -> tuple[int, list[str]]:
    """How many layers fill the depth; each is thinner once cured than as laid."""
    thickest = material.thickest_layer_mm
    if thickest is None:
        return 1, []
    if is_depth_missing(need, material):
        return 1, []
    cured_mm = thickest * material.solids_left
    layers = max(1, math.ceil(need.depth_mm / cured_mm - tol.STEP_SLACK))
    if layers == 1:
        return 1, [f"{need.depth_mm:.1f} mm deep: one layer does"]
    says = (
        f"{need.depth_mm:.1f} mm deep, and a layer of {thickest:g} mm is {cured_mm:.2g} mm once "
        f"cured: {layers} layers"
    )
    return layers, [says]


def _cure_notes(material: Material, need: Need) -> list[str]:
    notes = [material.note] if material.note else []
    if material.shrinkage is None:
        notes.append(
            "how much it shrinks as it cures is not known, for products differ a hundredfold: "
            "nothing was added for it; measure a test bar and set shrinkage in your own table"
        )
    if material.kind is Kind.PLASTER:
        dry = dry_density_g_ml(material)
        notes.append(
            f"dry, the fill weighs about {figure(round(dry * need.volume_ml, 2))} g "
            f"({dry:.2f} g/ml)"
        )
    return notes


def _portion(
    need: Need,
    use: Use,
    material: Material,
    choice: MixSettings,
    chain: Chain,
    *,
    error_ml: float,
    layers: int,
    notes: list[str] | None = None,
) -> Portion:
    """Weigh out what a chain ended at, in batches."""
    if chain.links[-1].unit == "g":
        mass_g = chain.value
    else:
        mass_g = chain.times("as mass", material.density_g_ml, "g", of="g/ml").value
    volume_ml = mass_g / material.density_g_ml
    sittings = sittings_of(material, layers)
    batch = batch_for(mass_g / sittings, material, use, choice)
    count = sittings * batch.count
    told = list(notes or ())
    if count > 1:
        chain.over(f"each of {count} batches", count, "g")
    if batch.raised:
        told += _raise(chain, material, mass_g / count, batch.mass_g, choice)
    weigh(chain, material, batch.mass_g, choice)
    return Portion(
        loss=need.number,
        name=need.name,
        use=use,
        material=material,
        volume_ml=volume_ml,
        error_ml=error_ml,
        mass_g=mass_g,
        amounts=tuple(amounts_of(batch.mass_g, count, material, choice)),
        batches=count,
        layers=layers,
        chain=tuple(chain.links),
        notes=tuple(told),
    )


def _raise(
    chain: Chain, material: Material, from_g: float, to_g: float, choice: MixSettings
) -> list[str]:
    """Make a batch as large as it must be; says so where a scale can tell the difference."""
    least = "mixes true" if len(material.parts) > 1 else "can be handled"
    what = f"raised to the smallest batch that {least}"
    chain.result(what, f"the larger of {figure(from_g)} g and {figure(to_g)} g", to_g, "g")
    if to_g - from_g < choice.scale_step_g:
        return []
    return [
        f"a batch was raised from {two_digits(from_g)} to {two_digits(to_g)} g, the least that "
        f"{least}: some is left over"
    ]


def weigh(chain: Chain, material: Material, batch_g: float, choice: MixSettings) -> None:
    """The last links: what of each part goes into a batch, as the scale tells it."""
    for part in material.parts:
        exact = batch_g * part.mass_share
        chain.result(
            f"{part.name} in a batch, rounded up to the scale",
            f"{figure(batch_g)} g × {figure(part.mass_share)} = {figure(exact)} g",
            rounded_up(exact, choice.scale_step_g),
            "g",
        )
