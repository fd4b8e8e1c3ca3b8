"""What only people know of an object and of the work on it: read from a TOML file or an option.

Nothing is required: what is left out is printed as a line to write on.
"""

from __future__ import annotations

import datetime as dt
import json
import re
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import Field, dataclass, field, fields, replace
from pathlib import Path
from typing import Any, Final

from lossfill.errors import InputError

LONGEST = 20_000
"""Letters in one field: some ten pages; more than that is the wrong file."""


def _words(label: str, example: str, lines: int = 1) -> Any:
    return field(default="", metadata={"label": label, "example": example, "lines": lines})


def _day(label: str) -> dict[str, Any]:
    return {"label": label, "example": "2026-01-31", "lines": 1}


@dataclass(frozen=True, slots=True)
class ObjectPart:
    """What the object is, and whose."""

    title: str = _words("Title or name", "tea bowl with ash glaze")
    owner: str = _words("Owner or keeper", "a private household")
    identifier: str = _words("Inventory or other number", "none")
    material: str = _words("Material and technique", "stoneware, thrown on the wheel, ash glaze")
    period: str = _words("Period or date", "late 20th century, by its glaze")
    origin: str = _words("Origin and maker", "not known")
    marks: str = _words("Marks and inscriptions", "a stamp beside the foot, not read")
    dimensions: str = _words("Dimensions as measured by hand", "119 mm across the rim, by calliper")
    wishes: str = _words("Owner's wishes and agreement", "for display; mends may be seen", 2)


@dataclass(frozen=True, slots=True)
class PeoplePart:
    """Who did what: all who took part."""

    examined_by: str = _words("Examined by", "the repairer")
    treated_by: str = _words("Treated by", "the repairer and an apprentice")
    scanned_by: str = _words("Scanned by", "the repairer")


@dataclass(frozen=True, slots=True)
class DatesPart:
    """When it was done."""

    examined: dt.date | None = field(default=None, metadata=_day("Examined on"))
    scanned: dt.date | None = field(default=None, metadata=_day("Scanned on"))
    treatment_began: dt.date | None = field(default=None, metadata=_day("Treatment began"))
    treatment_ended: dt.date | None = field(default=None, metadata=_day("Treatment ended"))


@dataclass(frozen=True, slots=True)
class ConditionPart:
    """How it was before."""

    state: str = _words("Condition before treatment", "in five sherds, clean, no salts seen", 4)
    previous_repairs: str = _words("Earlier repairs", "two joins in an unknown brown glue", 2)
    examination: str = _words("Examined by which means", "by eye, magnifier and raking light", 2)


@dataclass(frozen=True, slots=True)
class TreatmentPart:
    """What was done, beyond what was planned."""

    done: str = _words("Treatment carried out", "joined, losses filled, levelled, coated", 5)
    products: str = _words("Products used, makers and lots", "see the labels kept with this", 4)
    photographs: str = _words(
        "Photographs before, during and after, kept at", "with this record, numbers 1 to 12"
    )
    deviations: str = _words("Departures from the plan below, and why", "none", 2)


@dataclass(frozen=True, slots=True)
class TracesPart:
    """How the work can be told from the object, and taken off again."""

    detectable_by: str = _words("Fills can be detected by", "by eye: they are gilded", 2)
    reversible_by: str = _words("Fills can be removed by", "gentle warmth and a scalpel", 2)


@dataclass(frozen=True, slots=True)
class AftercarePart:
    """What its keeper should know beyond the usual."""

    advice: str = _words("Further advice to the keeper", "show it at room humidity", 2)


@dataclass(frozen=True, slots=True)
class ObjectFields:
    """All that people know, by part."""

    object: ObjectPart = field(default_factory=ObjectPart)
    people: PeoplePart = field(default_factory=PeoplePart)
    dates: DatesPart = field(default_factory=DatesPart)
    condition: ConditionPart = field(default_factory=ConditionPart)
    treatment: TreatmentPart = field(default_factory=TreatmentPart)
    traces: TracesPart = field(default_factory=TracesPart)
    aftercare: AftercarePart = field(default_factory=AftercarePart)


NO_FIELDS: Final = ObjectFields()


def parts() -> Iterator[tuple[str, str, tuple[Field[Any], ...]]]:
    """Name of each part, what it is about, and its fields."""
    for part in fields(ObjectFields):
        kind: Any = type(getattr(NO_FIELDS, part.name))
        yield part.name, str(kind.__doc__).splitlines()[0], fields(kind)


def keys() -> dict[str, str]:
    """The part of each field; a field's name is unique."""
    return {one.name: name for name, _, inside in parts() for one in inside}


def read_fields(path: Path) -> ObjectFields:
    """Read a TOML file strictly.

    Raises
    ------
    InputError
        With the file, the line and the reason.
    """
    try:
        text = path.read_bytes().decode("utf-8")
    except OSError as error:
        raise InputError(f"{path} cannot be read ({error.strerror}): name a TOML file") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path} is not text in UTF-8: save it as UTF-8") from error
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        reason = " ".join(str(error).split())
        raise InputError(
            f'{path} is not TOML: {reason}; text stands in quotes, such as title = "bowl"'
        ) from error
    return _checked(content, path, text)


def with_field(held: ObjectFields, words: str) -> ObjectFields:
    """Fill one field by `key=value`, as given at the command line.

    Raises
    ------
    InputError
        Where there is no such field, or the value does not suit it.
    """
    key, equals, value = words.partition("=")
    key = key.strip().rpartition(".")[2]
    if not equals:
        raise InputError(f"{words!r} is no field: write it as key=value, such as title=bowl")
    part = keys().get(key)
    if part is None:
        raise InputError(f"there is no field {key!r}: choose from {', '.join(keys())}")
    told: str | dt.date | None = value.strip()
    if part == "dates":
        told = _date(value.strip(), key)
    elif len(value) > LONGEST:
        raise InputError(f"{key} holds {len(value)} letters: at most {LONGEST} are printed")
    return replace(held, **{part: replace(getattr(held, part), **{key: told})})


def blank_file() -> str:
    """A TOML file with all fields, empty, each with an example beside it."""
    lines = [
        "# What only you know of the object and of the work. Fill in what you want printed;",
        "# what stays empty becomes a line to write on. Longer text goes between three quotes.",
    ]
    for name, about, inside in parts():
        lines += ["", f"[{name}]  # {about.rstrip('.').lower()}"]
        for one in inside:
            example = one.metadata["example"]
            if name == "dates":
                lines.append(f"# {one.name} = {example}  # {one.metadata['label']}")
            else:
                lines.append(f"# {one.metadata['label']}, such as: {example}")
                lines.append(f'{one.name} = ""')
    return "\n".join(lines) + "\n"


def _date(words: str, key: str) -> dt.date | None:
    if not words:
        return None
    try:
        return dt.date.fromisoformat(words)
    except ValueError:
        raise InputError(f"{key} is {words!r}: write a date such as 2026-01-31") from None


def _checked(content: dict[str, Any], path: Path, text: str) -> ObjectFields:
    from pydantic import ConfigDict, TypeAdapter, ValidationError, create_model

    closed = ConfigDict(extra="forbid", strict=True)
    shapes: dict[str, Any] = {}
    for name, _, inside in parts():
        kind: Any = dt.date | None if name == "dates" else str
        wanted: dict[str, Any] = {one.name: (kind, one.default) for one in inside}
        shape = create_model(name, __config__=closed, **wanted)
        shapes[name] = (shape, shape())
    whole: Any = create_model("whole", __config__=closed, **shapes)
    try:
        # By way of JSON, in which strictness lets a date be written as text.
        read = TypeAdapter(whole).validate_json(json.dumps(content, default=_plain))
    except ValidationError as error:
        first = error.errors()[0]
        raise InputError(_told(first["type"], tuple(map(str, first["loc"])), path, text)) from error
    result = NO_FIELDS
    for name, values in read.model_dump().items():
        for key, value in values.items():
            if isinstance(value, str) and len(value) > LONGEST:
                raise InputError(_told("too long", (name, key), path, text))
        result = replace(result, **{name: replace(getattr(result, name), **values)})
    return result


def _plain(value: object) -> str:
    return value.isoformat() if isinstance(value, dt.date | dt.time) else str(value)


def _told(kind: str, place: tuple[str, ...], path: Path, text: str) -> str:
    """One line: the file, the line in it, what is wrong and what would be right."""
    name = ".".join(place[:2])
    where = f"{path}, line {_line_of(place, text)}"
    if kind == "extra_forbidden" and len(place) == 1:
        wanted = ", ".join(part for part, _, _ in parts())
        return f"{where}: there is no part {name!r}: choose from {wanted}"
    if kind == "extra_forbidden":
        inside = next(inside for part, _, inside in parts() if part == place[0])
        wanted = ", ".join(one.name for one in inside)
        return f"{where}: there is no field {name!r}: choose from {wanted}"
    if len(place) == 1:
        return f"{where}: {name} must be a part with its fields below it, as [{name}]"
    if kind == "too long":
        return f"{where}: {name} is longer than the {LONGEST} letters that are printed"
    if place[0] == "dates":
        return f"{where}: {name} must be a date such as 2026-01-31"
    return f"{where}: {name} must be text in quotes"


def _line_of(place: Iterable[str], text: str) -> int:
    """The line on which a field stands, or its part, from 1."""
    part, *rest = (re.escape(name) for name in place)
    # At the top of the file a part or one of its fields; under its heading the field alone.
    outside = rf"\s*{part}\s*[.]\s*{rest[0]}\s*=" if rest else rf"\s*['\"]?{part}['\"]?\s*[.=]"
    within = rf"\s*['\"]?{rest[0]}['\"]?\s*[.=]" if rest else outside
    inside, at = False, 1
    for number, line in enumerate(text.splitlines(), start=1):
        header = re.match(r"\s*\[\s*['\"]?([^\]'\"]+?)['\"]?\s*\]", line)
        if header:
            inside = re.escape(header.group(1)) == part
            at = number if inside else at
        elif any(re.match(one, line) for one in (outside, within if inside else outside)):
            return number
    return at
