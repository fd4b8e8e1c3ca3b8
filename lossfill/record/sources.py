"""All that a record is told from, gathered in one place before a word is written."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from lossfill.check.record import CheckRecord
from lossfill.cure.plan import Plan
from lossfill.make.record import MadeRecord
from lossfill.mix.quantities import Quantities
from lossfill.pack.record import FillRecord
from lossfill.record.document import Picture
from lossfill.record.fields import ObjectFields


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """The pictures of a record.

    Parameters
    ----------
    whole : the vessel before, from all sides
    losses : those of each loss by its number
    thickness : maps of the wall's thickness
    key : what the greys of those maps stand for
    misfit : map of the misfit from the form, or None where the folder has none
    """

    whole: tuple[Picture, ...]
    losses: dict[int, tuple[Picture, ...]]
    thickness: tuple[Picture, ...]
    key: Picture
    misfit: Picture | None


@dataclass(frozen=True, slots=True, eq=False)
class Sources:
    """All that is known.

    Parameters
    ----------
    record : of the design
    fields : what people told
    quantities : what to mix, or None where it was not reckoned
    plan : the steps, or None where there is none
    made : what was made, or None
    checks : of made pieces that were scanned again
    drawn : pictures
    day : of the record, or None
    versions : name and version of each program and library
    """

    record: FillRecord
    fields: ObjectFields
    quantities: Quantities | None
    plan: Plan | None
    made: MadeRecord | None
    checks: tuple[CheckRecord, ...]
    drawn: Drawn
    day: dt.date | None
    versions: tuple[tuple[str, str], ...]
