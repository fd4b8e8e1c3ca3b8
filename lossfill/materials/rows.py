"""What a row of the table may hold, and how it becomes a `Material`."""

from __future__ import annotations

import math
from dataclasses import fields
from typing import Annotated, Any, Literal, Self

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StrictFloat,
    StrictInt,
    StrictStr,
    field_validator,
    model_validator,
)
from pydantic_core import PydanticCustomError

from lossfill import tolerances as tol
from lossfill.cautions import known_keys
from lossfill.materials.gypsum import THEORY_WATER_PER_100_G
from lossfill.materials.material import INSERTS, CuresBy, Kind, Material, Part

_HARDENING = frozenset({Kind.ADHESIVE_PASTE, Kind.FILLING_PASTE, Kind.EPOXY, Kind.PUTTY})
_MIXED = _HARDENING | {Kind.PLASTER}

_NEEDED: dict[str, frozenset[Kind]] = {
    "solids_left": _MIXED | {Kind.COAT},
    "pot_life_min": frozenset({Kind.EPOXY, Kind.PUTTY, Kind.PLASTER}),
    "least_batch_g": _MIXED,
    "layer_hours": _MIXED | {Kind.COAT},
    "laid_um": frozenset({Kind.COAT}),
    "coats": frozenset({Kind.COAT}),
    "coverage_g_m2": frozenset({Kind.METAL}),
}
"""Fields that only some kinds must give."""


def _or_none(value: Any) -> Any:
    return None if value == "none" else value


def _said(value: str) -> str:
    words = " ".join(value.split())
    if not words:
        raise PydanticCustomError("refused", "is empty")
    return words


def _pair(value: tuple[float, float]) -> tuple[float, float]:
    if value[0] > value[1]:
        raise PydanticCustomError(
            "refused", f"runs from {value[0]:g} to {value[1]:g}: give the lower figure first"
        )
    return value


Words = Annotated[StrictStr, Field(max_length=500)]
Positive = Annotated[StrictFloat, Field(gt=0)]
Density = Annotated[StrictFloat, Field(gt=0, le=tol.DENSITY_MAX_G_ML)]
Share = Annotated[StrictFloat, Field(gt=0, le=1)]
NoneWord = BeforeValidator(_or_none)
_Time = Annotated[StrictFloat, Field(ge=0, le=tol.CURE_MAX_HOURS)]


class PartRow(BaseModel):
    """One component as it is written in the table."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    name: Words
    density_g_ml: Density
    form: Literal["liquid", "powder", "solid"] = "liquid"
    by_mass: Positive | None = None
    by_volume: Positive | None = None
    loose_g_ml: Density | None = None

    @field_validator("name")
    @classmethod
    def _named(cls, value: str) -> str:
        return _said(value)

    @model_validator(mode="after")
    def _has_one_ratio(self) -> Self:
        if (self.by_mass is None) == (self.by_volume is None):
            raise PydanticCustomError(
                "refused", f"'{self.name}' needs either by_mass or by_volume, and not both"
            )
        if self.by_volume is not None and self.form == "powder" and self.loose_g_ml is None:
            raise PydanticCustomError(
                "refused",
                f"'{self.name}' is a powder by volume: give loose_g_ml, what 1 ml of it weighs as "
                "it is spooned, or its ratio by_mass",
            )
        if self.loose_g_ml is not None and self.loose_g_ml > self.density_g_ml:
            raise PydanticCustomError(
                "refused",
                f"'{self.name}' has loose_g_ml {self.loose_g_ml:g}, but a heap cannot be heavier "
                f"than its grains, density_g_ml {self.density_g_ml:g}",
            )
        return self

    @property
    def grams(self) -> float:
        """Its share as mass; a powder's volume is that of its heap."""
        if self.by_mass is not None:
            return self.by_mass
        loose = self.density_g_ml if self.loose_g_ml is None else self.loose_g_ml
        return (self.by_volume or 0.0) * loose


class MaterialRow(BaseModel):
    """One row as it is written in the table, with all that its kind needs."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    name: Words
    kind: Kind
    parts: Annotated[tuple[PartRow, ...], Field(min_length=1, max_length=9)]
    density_g_ml: Annotated[Density | None, NoneWord] = None
    solids_left: Share = 1.0
    pot_life_min: Annotated[Positive | None, NoneWord] = None
    least_batch_g: Annotated[StrictFloat, Field(ge=0, le=tol.BATCH_MAX_G)] = 0.0
    thickest_layer_mm: Annotated[Positive | None, NoneWord] = None
    layer_hours: tuple[_Time, _Time] = (0.0, 0.0)
    cure_days: tuple[_Time, _Time]
    shrinkage: Annotated[
        Annotated[StrictFloat, Field(ge=0, le=tol.SHRINKAGE_MAX)] | None, NoneWord
    ] = None
    laid_um: Annotated[Annotated[StrictFloat, Field(gt=0, le=tol.COAT_MAX_UM)] | None, NoneWord] = (
        None
    )
    coverage_g_m2: Annotated[
        Annotated[StrictFloat, Field(gt=0, le=tol.COVERAGE_MAX_G_M2)] | None, NoneWord
    ] = None
    coats: Annotated[StrictInt, Field(ge=0, le=tol.COATS_MAX)] = 0
    cures_by: CuresBy
    cautions: tuple[Words, ...] = ()
    source: Words
    note: Words = ""

    @field_validator("name", "source")
    @classmethod
    def _words(cls, value: str) -> str:
        return _said(value)

    @field_validator("layer_hours", "cure_days")
    @classmethod
    def _low_first(cls, value: tuple[float, float]) -> tuple[float, float]:
        return _pair(value)

    @field_validator("cautions")
    @classmethod
    def _known(cls, value: tuple[str, ...]) -> tuple[str, ...]:
        for key in value:
            if key not in known_keys():
                known = ", ".join(known_keys())
                raise PydanticCustomError("refused", f"names no caution '{key}'; known are {known}")
        return value

    @model_validator(mode="after")
    def _whole(self) -> Self:
        for name, kinds in _NEEDED.items():
            if self.kind in kinds and (name not in self.model_fields_set or self._lacks(name)):
                raise PydanticCustomError(
                    "refused", f"lacks {name}, which every {self.kind.value} needs"
                )
        _check_parts(self.kind, self.parts)
        return self

    def _lacks(self, name: str) -> bool:
        return getattr(self, name) is None or (name == "coats" and self.coats == 0)


def material_of(row: MaterialRow) -> Material:
    """The material of a row: shares by mass and the density of the mix follow from its ratio."""
    grams = math.fsum(part.grams for part in row.parts)
    parts = tuple(
        Part(part.name, part.density_g_ml, part.grams / grams, pours=part.form == "liquid")
        for part in row.parts
    )
    density = row.density_g_ml
    if density is None:
        density = mixed_density_g_ml(parts)
    reckoned = ("parts", "density_g_ml")
    names = [field.name for field in fields(Material) if field.name not in reckoned]
    values = {name: getattr(row, name) for name in names}
    return Material(parts=parts, density_g_ml=density, **values)


def mixed_density_g_ml(parts: tuple[Part, ...]) -> float:
    """Density of a mix whose parts keep their volumes, without any air in it, g/ml."""
    return 1.0 / math.fsum(part.mass_share / part.density_g_ml for part in parts)


def _check_parts(kind: Kind, parts: tuple[PartRow, ...]) -> None:
    """Refuse parts that do not make one mix."""
    if len({part.by_mass is None for part in parts}) > 1:
        raise _refused_parts("has parts by mass and parts by volume: give all of them the same way")
    if len({part.name for part in parts}) < len(parts):
        raise _refused_parts("has two parts of the same name")
    if kind in INSERTS | {Kind.METAL} and len(parts) > 1:
        raise _refused_parts(f"is a {kind.value}: it has one part")
    if kind in (Kind.EPOXY, Kind.PUTTY) and len(parts) < 2:
        raise _refused_parts(f"is a {kind.value}: it needs two parts or more")
    if kind is Kind.PLASTER:
        _check_plaster(parts)


def _check_plaster(parts: tuple[PartRow, ...]) -> None:
    powder = [part for part in parts if part.form == "powder"]
    water = [part for part in parts if part.form == "liquid"]
    if len(powder) != 1 or len(water) != 1 or len(parts) != 2:
        raise _refused_parts("is a plaster: its parts are one powder and one liquid, the water")
    per_100_g = 100.0 * water[0].grams / powder[0].grams
    if not THEORY_WATER_PER_100_G <= per_100_g <= tol.PLASTER_WATER_MAX_PER_100_G:
        raise _refused_parts(
            f"has {per_100_g:.4g} g of water on 100 g of plaster, but it must be from "
            f"{THEORY_WATER_PER_100_G:.4g}, below which it cannot all set, to "
            f"{tol.PLASTER_WATER_MAX_PER_100_G:g}",
        )


def _refused_parts(reason: str) -> PydanticCustomError:
    """It is told at the line of the parts, though it shows only with the rest of the row."""
    return PydanticCustomError("refused", reason, {"field": "parts"})
