"""A generic material, and what of it decides how much is mixed and when it may be touched."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    """What a material is; the value is the word shown to people."""

    ADHESIVE_PASTE = "adhesive paste"
    FILLING_PASTE = "filling paste"
    EPOXY = "two-part epoxy"
    PUTTY = "epoxy putty"
    PLASTER = "plaster"
    CLAY = "fired-clay insert"
    WOOD = "wood insert"
    PRINT = "printed insert"
    COAT = "coat"
    METAL = "metal powder"


INSERTS = frozenset({Kind.CLAY, Kind.WOOD, Kind.PRINT})
"""What is made before it is laid in."""


class CuresBy(StrEnum):
    """What makes a material hard."""

    HUMIDITY = "damp and warm air"
    TIME = "its hardener"
    WATER = "its water"
    AIR = "drying in air"
    FIRE = "the kiln"
    NOTHING = "nothing: it is solid"


@dataclass(frozen=True, slots=True)
class Part:
    """One component of a mix.

    Parameters
    ----------
    name : what is weighed or drawn up, such as "raw lacquer"
    density_g_ml : of the component itself, g/ml; for a powder of its grains without the air
    mass_share : of the mixed mass, all parts of a material together 1
    pours : a syringe draws it up; not so powders, putties and solids
    """

    name: str
    density_g_ml: float
    mass_share: float
    pours: bool = True


@dataclass(frozen=True, slots=True)
class Material:
    """A row of the table; a bad one never becomes a `Material`.

    Parameters
    ----------
    name : unique, lower case, no brand
    kind : what it is
    parts : what is mixed; one part for what is used as it comes
    density_g_ml : of the fresh mix as it is laid, or of the solid for an insert, g/ml
    solids_left : share of the fresh volume that is left once cured, above 0 to 1
    pot_life_min : how long a batch can be worked, minutes; None where it does not set by itself
    least_batch_g : smallest mass that mixes true; below it the ratio is anybody's guess
    thickest_layer_mm : that cures through, mm; None where any does
    layer_hours : least and most usual time before the next layer, hours
    cure_days : least and most usual time until it may be handled and used, days
    shrinkage : share of its length lost after it is shaped, 0 to below 1; None where it differs so
        much between products that it must be measured
    laid_um : thickness of one coat as laid, µm; for what is counted by area
    coverage_g_m2 : mass on a square metre; for powders that are sprinkled on
    coats : how many are usual; 0 for what is no coat
    cures_by : what makes it hard
    cautions : keys of `lossfill.cautions.REGISTER`
    source : where its figures come from: a source, "common practice" or "from memory"
    note : what to know at the bench, one sentence or two; "" where there is nothing
    """

    name: str
    kind: Kind
    parts: tuple[Part, ...]
    density_g_ml: float
    solids_left: float
    pot_life_min: float | None
    least_batch_g: float
    thickest_layer_mm: float | None
    layer_hours: tuple[float, float]
    cure_days: tuple[float, float]
    shrinkage: float | None
    laid_um: float | None
    coverage_g_m2: float | None
    coats: int
    cures_by: CuresBy
    cautions: tuple[str, ...]
    source: str
    note: str = ""

    @property
    def is_mixed(self) -> bool:
        """Whether its parts are mixed, rather than taken as they come."""
        return len(self.parts) > 1 and self.kind not in INSERTS
