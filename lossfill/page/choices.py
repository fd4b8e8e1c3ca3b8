"""What a person chose on the page, and which stage each choice belongs to."""

from __future__ import annotations

import hashlib
from enum import StrEnum
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field


class Stage(StrEnum):
    """What the worker does, in order."""

    VESSEL = "vessel"
    LOSSES = "losses"
    PIECES = "pieces"
    THINGS = "things"
    MIX = "mix"
    RECORD = "record"


class _Choices(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class VesselChoices(_Choices):
    """What the scan is read by."""

    units: Literal["millimetre", "centimetre", "metre", "inch", "micron", "foot"] | None = None
    wall_mm: float | None = None
    rim_diameter_mm: float | None = None


class LossChoices(_Choices):
    """How the losses are found."""

    form: Literal["revolve", "mirror", "turn", "twin", "bridge"] | None = None
    repeats: int | None = None
    twin_file: str | None = None
    twin_scaled: bool = False
    pointed_mm: tuple[tuple[float, float, float], ...] = Field(
        default=(), description="places of losses that were missed, vessel coordinates, mm"
    )
    pointed_at: tuple[tuple[float, float], ...] = Field(
        default=(), description="the same by angle, degrees, and height above the foot, mm"
    )


class PieceChoices(_Choices):
    """How the pieces are shaped."""

    dismissed: tuple[int, ...] = Field(default=(), description="numbers of losses left alone")
    clearance_mm: float = 0.15
    setback_outside_mm: float = 0.0
    setback_inside_mm: float = 0.0
    setback_edge: Literal["fade", "step"] = "fade"
    process: Literal["nozzle", "resin", "wood", "clay"] | None = None
    fillet_mm: float = 0.0
    split: bool = False


class ThingChoices(_Choices):
    """What is made."""

    names: tuple[str, ...] = Field(default=("piece",), description="names of `make.things.MAKERS`")
    losses: tuple[int, ...] = Field(default=(), description="for these losses alone; all if none")
    paper: Literal["a4", "letter"] = "a4"
    shrink_percent: float = 0.0


class MixChoices(_Choices):
    """What is mixed, and when."""

    fill_with: tuple[tuple[int, str], ...] = Field(
        default=(), description="number of a loss and the material of its fill, where chosen"
    )
    join_with: str | None = None
    coat: str | None = None
    coat_sides: Literal["outer", "inner", "both"] = "both"
    metal: str | None = None
    start: str | None = None
    days_off: str = ""
    hours: str = "9-17"


class RecordChoices(_Choices):
    """What only people know."""

    fields: dict[str, str] = Field(default={}, description="of `record.fields`, by name")
    day: str | None = None
    paper: Literal["a4", "letter"] = "a4"


NEEDED: dict[Stage, tuple[Stage, ...]] = {
    Stage.VESSEL: (),
    Stage.LOSSES: (Stage.VESSEL,),
    Stage.PIECES: (Stage.VESSEL, Stage.LOSSES),
    Stage.THINGS: (Stage.VESSEL, Stage.LOSSES, Stage.PIECES),
    Stage.MIX: (Stage.VESSEL, Stage.LOSSES, Stage.PIECES),
    Stage.RECORD: (Stage.VESSEL, Stage.LOSSES, Stage.PIECES, Stage.MIX),
}
"""The stages that each builds on, in order. What was made is written down where it was made."""

SHOWN_ON: dict[Stage, Stage] = {Stage.LOSSES: Stage.VESSEL, Stage.PIECES: Stage.LOSSES}
"""Stages whose results lie in those of another in the view, and count them by its numbers."""

OVERTAKEN: dict[Stage, tuple[Stage, ...]] = {
    Stage.PIECES: (Stage.THINGS, Stage.RECORD),
    Stage.THINGS: (Stage.RECORD,),
}
"""Stages whose files in the pack go, or tell of what is there no more, whenever another is done."""


class Choices(_Choices):
    """All that a person chose for one job."""

    vessel: VesselChoices = VesselChoices()
    losses: LossChoices = LossChoices()
    pieces: PieceChoices = PieceChoices()
    things: ThingChoices = ThingChoices()
    mix: MixChoices = MixChoices()
    record: RecordChoices = RecordChoices()

    def fingerprint(self, stage: Stage) -> str:
        """What a stage's result depends on: its own choices and those of the stages under it.

        A part for each, in order, so that it begins with that of the stage that it builds on.
        """
        parts: dict[Stage, BaseModel] = {
            Stage.VESSEL: self.vessel,
            Stage.LOSSES: self.losses,
            Stage.PIECES: self.pieces,
            Stage.THINGS: self.things,
            Stage.MIX: self.mix,
            Stage.RECORD: self.record,
        }
        texts = (parts[one].model_dump_json() for one in (*NEEDED[stage], stage))
        return ".".join(hashlib.sha256(text.encode()).hexdigest() for text in texts)


def changed(choices: Choices, stage: Stage, **values: Any) -> Choices:
    """The choices with some values of one stage changed.

    Raises
    ------
    pydantic.ValidationError
        Where a value is none that can be chosen.
    """
    content = choices.model_dump()
    content[stage.value] |= values
    return Choices.model_validate(content)
