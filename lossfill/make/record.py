"""The record `made.json`: what was made of a design, what was proved of it, and in which files."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Literal

from pydantic import Field, ValidationError

from lossfill.errors import ExportError
from lossfill.make.made import Made
from lossfill.make.things import NotMade
from lossfill.pack.folder import MADE_FORMAT, MADE_NAME
from lossfill.pack.record import Measure, RecordPart


class ProvedPart(RecordPart):
    """One thing that was measured of what was made."""

    what: str = Field(description="in words, with its unit")
    value: Measure | None = Field(description="as measured; null where it could not be")
    limit: Measure = Field(description="the most that it may be")
    passed: bool = Field(description="whether the limit is kept")


class ThingPart(RecordPart):
    """One thing made for one loss."""

    thing: str = Field(description="piece, mould, backing, rib, gauges, wrap or stack")
    loss: int = Field(ge=1, description="number of the loss")
    files: tuple[str, ...] = Field(description="its files, in the folder of this record")
    proved: tuple[ProvedPart, ...] = Field(description="what was measured of it")
    notes: tuple[str, ...] = Field(description="how to use it, and what to know of it")


class NotMadePart(RecordPart):
    """A thing that was asked for and not made."""

    thing: str
    loss: int
    why: str = Field(description="one line")


class MadeRecord(RecordPart):
    """All that was made of a design, by one run or by several."""

    format: Literal["lossfill made"]
    version: Literal[1]
    program: str = Field(description="program and version that wrote it last")
    things: tuple[ThingPart, ...]
    not_made: tuple[NotMadePart, ...] = Field(description="of the last run")
    notes: tuple[str, ...] = Field(
        default=(), description="how the last run fitted pieces anew, where that was asked"
    )
    files: tuple[str, ...] = Field(description="all files of all things, and this one")


def thing_part(made: Made, files: tuple[str, ...]) -> ThingPart:
    """Bring one thing into the record's shape."""
    return ThingPart(
        thing=made.thing,
        loss=made.number,
        files=files,
        proved=tuple(
            ProvedPart(
                what=one.what,
                value=one.value if math.isfinite(one.value) else None,
                limit=one.limit,
                passed=one.passed,
            )
            for one in made.proved
        ),
        notes=made.notes,
    )


def made_record(
    things: tuple[ThingPart, ...],
    not_made: tuple[NotMade, ...],
    *,
    program: str,
    notes: tuple[str, ...] = (),
) -> MadeRecord:
    """The record of things, in the order of their losses."""
    return MadeRecord(
        format=MADE_FORMAT,
        version=1,
        program=program,
        things=things,
        not_made=tuple(
            NotMadePart(thing=one.thing, loss=one.number, why=one.why) for one in not_made
        ),
        notes=notes,
        files=(*(name for thing in things for name in thing.files), MADE_NAME),
    )


def read_made_record(folder: Path) -> MadeRecord | None:
    """The record in a folder, or None where there is none.

    Raises
    ------
    ExportError
        Where it is none of ours.
    """
    path = folder / MADE_NAME
    if not path.exists():
        return None
    try:
        return MadeRecord.model_validate_json(path.read_bytes())
    except ValidationError as error:
        raise ExportError(
            f"{path} is not a record of things made: move it away and run again"
        ) from error
