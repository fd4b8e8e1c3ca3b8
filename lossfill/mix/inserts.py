"""Inserts: what is printed, cut from a blank of wood, or formed in wet clay and fired."""

from __future__ import annotations

import math

from lossfill import tolerances as tol
from lossfill.errors import InputError
from lossfill.make.shrink import Shrink
from lossfill.make.wood import WOODS, Grain, wood_clearance_mm, wood_named
from lossfill.materials.material import Kind, Material
from lossfill.mix.batches import amounts_of
from lossfill.mix.chain import Chain, figure
from lossfill.mix.quantities import Need, Portion
from lossfill.mix.settings import MixSettings


def insert_portion(need: Need, material: Material, choice: MixSettings) -> Portion:
    """The mass of an insert and, for clay and wood, the size of its blank."""
    reckon = {Kind.CLAY: _clay, Kind.WOOD: _wood, Kind.PRINT: _print}[material.kind]
    chain, notes = reckon(need, material, choice)
    # A piece and a blank are made as they were designed: how far the form may be off is already in
    # them, and does not change what they weigh.
    is_designed = need.piece_ml is not None or (material.kind is Kind.WOOD and need.box_mm)
    volume_ml = chain.value
    mass_g = volume_ml * material.density_g_ml
    chain.times("as mass", material.density_g_ml, "g", of="g/ml")
    return Portion(
        loss=need.number,
        name=need.name,
        use="insert",
        material=material,
        volume_ml=volume_ml,
        error_ml=0.0 if is_designed else need.volume_error_ml * volume_ml / need.volume_ml,
        mass_g=mass_g,
        amounts=tuple(amounts_of(mass_g, 1, material, choice)),
        batches=1,
        layers=1,
        chain=tuple(chain.links),
        notes=(*notes, *([material.note] if material.note else [])),
    )


def _piece(need: Need) -> Chain:
    """The volume of the finished insert."""
    if need.piece_ml is not None:
        chain = Chain().start("the piece as designed", 1000.0 * need.piece_ml, "mm³")
    else:
        chain = Chain().start(
            "missing material, for there is no piece", 1000 * need.volume_ml, "mm³"
        )
    return chain.over("the same in millilitres", 1000.0, "ml", of="mm³/ml")


def _print(need: Need, material: Material, _: MixSettings) -> tuple[Chain, list[str]]:
    chain = _piece(need)
    if material.shrinkage:
        factor = Shrink(material.shrinkage, material.shrinkage).volume_factor
        chain.times(
            f"printed larger, for it shrinks by {100 * material.shrinkage:g} %", factor, "ml"
        )
    return chain, []


def _clay(need: Need, material: Material, choice: MixSettings) -> tuple[Chain, list[str]]:
    if material.shrinkage is None:
        raise InputError(
            f"'{material.name}' has no shrinkage: fire a test bar and set shrinkage in your own "
            "table of materials, as a share of the length when wet"
        )
    shrink = Shrink(material.shrinkage, material.shrinkage)
    chain = _piece(need)
    chain.times(
        f"wet, for it shrinks by {100 * material.shrinkage:g} % in length from wet to fired",
        shrink.volume_factor,
        "ml",
    )
    if choice.waste_share > 0:
        what = f"with {100 * choice.waste_share:g} % trimmed off"
        chain.times(what, 1.0 + choice.waste_share, "ml")
    notes = [f"formed {shrink.oversize_across:.4f} times as large as it is wanted fired"]
    if need.box_mm is not None:
        wet = [side * shrink.oversize_across for side in need.box_mm]
        notes.append(f"its blank of wet clay is at least {sides_words(wet)}")
    return chain, notes


def _wood(need: Need, material: Material, choice: MixSettings) -> tuple[Chain, list[str]]:
    if need.box_mm is None:
        notes = ["its blank cannot be told without the design's solids: only the piece is weighed"]
        return _piece(need), notes + _movement(need, material, choice)
    more = 2.0 * choice.wood_allowance_mm
    sides = [side + more for side in need.box_mm]
    chain = Chain()
    for word, side, blank in zip(
        ("length", "breadth", "thickness"), need.box_mm, sides, strict=True
    ):
        chain.result(
            f"{word} of the blank, with {choice.wood_allowance_mm:g} mm to carve on every side",
            f"{figure(side)} mm + {figure(more)} mm",
            blank,
            "mm",
        )
    chain.result(
        "the blank", " × ".join(f"{figure(side)} mm" for side in sides), math.prod(sides), "mm³"
    )
    chain.over("the same in millilitres", 1000.0, "ml", of="mm³/ml")
    notes = [f"a blank of {sides_words(sides)}, grain along the longest side"]
    return chain, notes + _movement(need, material, choice)


def _movement(need: Need, material: Material, choice: MixSettings) -> list[str]:
    """How far it moves across the grain, and the gap that it needs."""
    if material.name not in [wood.name for wood in WOODS]:
        return ["how far this wood moves with the damp of the air is not known: fit it loosely"]
    if need.box_mm is None:
        return []
    width = need.box_mm[1]
    dry, damp = choice.humidity_percent
    # Tangential is the larger figure: how the rings lie in the blank is not known here.
    gap = wood_clearance_mm(
        width,
        wood_named(material.name),
        Grain.TANGENTIAL,
        dry_percent=dry,
        damp_percent=damp,
        temperature_c=choice.temperature_c,
    )
    return [
        f"{width:.0f} mm across the grain swells by up to {gap:.2f} mm from {dry:g} to {damp:g} % "
        f"humidity: leave {0.5 * gap:.2f} mm on either side and fit it in the dry"
    ]


def sides_words(sides_mm: list[float]) -> str:
    """Sides rounded up to the whole millimetre."""
    return " × ".join(str(math.ceil(side - tol.STEP_SLACK)) for side in sides_mm) + " mm"
