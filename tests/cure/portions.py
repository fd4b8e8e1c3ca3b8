"""Materials and portions by hand, so that a plan can be worked out beside it."""

from __future__ import annotations

from lossfill.materials.material import CuresBy, Kind, Material, Part
from lossfill.mix.quantities import Portion, Quantities, Use


def material(
    name: str,
    kind: Kind = Kind.FILLING_PASTE,
    *,
    layer_hours: tuple[float, float] = (24.0, 24.0),
    cure_days: tuple[float, float] = (10.0, 10.0),
    cures_by: CuresBy = CuresBy.TIME,
    pot_life_min: float | None = None,
    cautions: tuple[str, ...] = (),
) -> Material:
    return Material(
        name=name,
        kind=kind,
        parts=(Part(name, 1.0, 1.0),),
        density_g_ml=1.0,
        solids_left=1.0,
        pot_life_min=pot_life_min,
        least_batch_g=0.1,
        thickest_layer_mm=None,
        layer_hours=layer_hours,
        cure_days=cure_days,
        shrinkage=None,
        laid_um=None,
        coverage_g_m2=None,
        coats=0,
        cures_by=cures_by,
        cautions=cautions,
        source="made up for a test",
    )


GLUE = material("glue", Kind.EPOXY, layer_hours=(12.0, 12.0), cure_days=(3.0, 3.0))
PASTE = material("paste", layer_hours=(24.0, 24.0), cure_days=(5.0, 5.0))
VARNISH = material("varnish", Kind.COAT, layer_hours=(20.0, 20.0), cure_days=(4.0, 4.0))
GROUND = material("ground", Kind.COAT, layer_hours=(10.0, 10.0), cure_days=(4.0, 4.0))
BRASS = material(
    "brass",
    Kind.METAL,
    layer_hours=(0.0, 0.0),
    cure_days=(0.0, 0.0),
    cures_by=CuresBy.NOTHING,
    cautions=("metal powder",),
)
PRINTED = material("print", Kind.PRINT, layer_hours=(0.0, 0.0), cure_days=(1.0, 1.0))
LACQUER_PASTE = material(
    "lacquer paste",
    layer_hours=(24.0, 48.0),
    cure_days=(14.0, 60.0),
    cures_by=CuresBy.HUMIDITY,
    cautions=("lacquer",),
)
LACQUER = material(
    "lacquer",
    Kind.COAT,
    layer_hours=(6.0, 24.0),
    cure_days=(14.0, 60.0),
    cures_by=CuresBy.HUMIDITY,
    cautions=("lacquer", "solvent"),
)


def portion(loss: int, use: Use, made_of: Material, layers: int = 1, batches: int = 1) -> Portion:
    return Portion(
        loss=loss,
        name=f"loss {loss}" if loss else "as given",
        use=use,
        material=made_of,
        volume_ml=1.0,
        error_ml=0.1,
        mass_g=1.0,
        amounts=(),
        batches=batches,
        layers=layers,
        chain=(),
    )


def quantities(*portions: Portion) -> Quantities:
    return Quantities(portions, ())


def filled(loss: int, layers: int, coats: int = 1) -> tuple[Portion, ...]:
    """Joined, filled with paste, varnished, and brass on a last coat of its own."""
    return (
        portion(loss, "join", GLUE),
        portion(loss, "fill", PASTE, layers),
        portion(loss, "coat", VARNISH, coats),
        portion(loss, "coat", GROUND),
        portion(loss, "metal", BRASS),
    )
