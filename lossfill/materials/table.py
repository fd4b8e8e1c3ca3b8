"""Reads the table of materials, and a user's own rows over it."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable, Sequence
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from lossfill.errors import InputError
from lossfill.materials.lines import TableLines, table_lines
from lossfill.materials.material import CuresBy, Kind, Material
from lossfill.materials.rows import MaterialRow, PartRow, material_of

TABLE_NAME = "materials.toml"
_ARRAY = "material"

Fields = dict[str, Any]


def read_table(user: Path | None = None) -> tuple[Material, ...]:
    """The table of materials.

    Parameters
    ----------
    user : a TOML file with `[[material]]` tables: one with a name of the table changes only the
        fields that it gives, any other is added and must give all that its kind needs

    Returns
    -------
    In the order of the files, rows that were added last.

    Raises
    ------
    InputError
        Where the user's file cannot be read or a row of it cannot be used; with its line.
    """
    if user is None:
        return _shipped()
    rows = {fields["name"]: fields for fields in _shipped_rows()}
    result = {material.name: material for material in _shipped()}
    for own, lines in _rows_of(_text_of(user), user.name):
        merged = overridden(rows.get(own["name"]), own)
        result[own["name"]] = _material(merged, own, lines, user.name)
    return tuple(result.values())


def material_named(table: Sequence[Material], name: str) -> Material:
    """The material of a name, whatever its capitals.

    Raises
    ------
    InputError
        Where there is none.
    """
    wanted = _plain(name)
    for material in table:
        if material.name == wanted:
            return material
    near = difflib.get_close_matches(wanted, [one.name for one in table], n=1)
    meant = f"; did you mean '{near[0]}'?" if near else "."
    known = ", ".join(material.name for material in table)
    raise InputError(f"there is no material '{name}'{meant} Known are: {known}")


def shipped_text() -> str:
    """The table that comes with the program, with the sources of its figures."""
    return resources.files("lossfill.materials").joinpath(TABLE_NAME).read_text("utf-8")


@cache
def _shipped_rows() -> tuple[Fields, ...]:
    return tuple(fields for fields, _ in _rows_of(shipped_text(), TABLE_NAME))


@cache
def _shipped() -> tuple[Material, ...]:
    return tuple(
        _material(fields, fields, lines, TABLE_NAME)
        for fields, lines in _rows_of(shipped_text(), TABLE_NAME)
    )


def _text_of(path: Path) -> str:
    try:
        return path.read_text("utf-8-sig")
    except OSError as error:
        raise InputError(f"{path} cannot be read: {error.strerror or error}") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path} is not text in UTF-8: save it anew as plain text") from error


def _rows_of(text: str, file: str) -> list[tuple[Fields, TableLines]]:
    """The rows of a file with the lines on which they stand, their names made plain."""
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"\(at line (\d+), column \d+\)", str(error))
        line = found[1] if found else str(text.count("\n") + 1)
        what = str(error).partition(" (at ")[0]
        raise InputError(f"{file}, line {line}: this is not TOML: {what}") from error
    tables, others = table_lines(text, _ARRAY)
    for name in content:
        if name != _ARRAY:
            raise InputError(
                f"{file}, line {others.get(name, 1)}: '{_plain(name)}' is not known here: "
                f"every row begins with [[{_ARRAY}]]"
            )
    rows = content.get(_ARRAY, [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise InputError(
            f"{file}, line {others.get(_ARRAY, tables[0].header if tables else 1)}: a row begins "
            f"with [[{_ARRAY}]], in two brackets"
        )
    if len(tables) != len(rows):  # written as one inline array
        tables = [TableLines(others.get(_ARRAY, 1)) for _ in rows]
    return _named(list(zip(rows, tables, strict=True)), file)


def _named(rows: list[tuple[Fields, TableLines]], file: str) -> list[tuple[Fields, TableLines]]:
    """Give each row its plain name, and refuse rows without or with the same."""
    seen: dict[str, int] = {}
    result = []
    for fields, lines in rows:
        name = fields.get("name")
        line = lines.line_of(("name",))
        if not isinstance(name, str) or not name.strip():
            raise InputError(f'{file}, line {line}: a row needs a name, such as name = "my paste"')
        plain = _plain(name)
        if plain in seen:
            raise InputError(
                f"{file}, line {line}, '{plain}': the same name stands on line {seen[plain]}: "
                "give each row its own"
            )
        seen[plain] = line
        result.append(({**fields, "name": plain}, lines))
    return result


def _plain(name: str) -> str:
    return " ".join(name.split()).lower()


def overridden(row: Fields | None, own: Fields) -> Fields:
    """A row with a user's fields over it."""
    if row is None:
        return own
    merged = {**row, **own}
    # A density that the table gives belongs to its own parts.
    if "parts" in own and "density_g_ml" not in own:
        merged.pop("density_g_ml", None)
    return merged


def _material(merged: Fields, own: Fields, lines: TableLines, file: str) -> Material:
    try:
        return material_of(MaterialRow.model_validate(merged))
    except ValidationError as error:
        # What was written wrong is told before what was left out.
        errors = sorted(error.errors(), key=lambda one: one["type"] == "missing")
        first = errors[0]
        place = tuple(first["loc"])
        at = place or tuple(filter(None, [first.get("ctx", {}).get("field")]))
        line = lines.line_of(at) if at and at[0] in own else lines.header
        reason = _reason(first["type"], place, first.get("ctx", {}), first["input"], first["msg"])
        # What is quoted may hold line breaks; a refusal is one line.
        plain = " ".join(reason.split())
        raise InputError(f"{file}, line {line}, '{own['name']}': {plain}") from None


def _reason(kind: str, place: tuple[int | str, ...], limits: Fields, value: Any, said: str) -> str:
    """What is wrong with a field, in words."""
    name = str(place[-1]) if place else ""
    if place and isinstance(place[-1], int):
        name = str(place[0])
    within = ""
    match place:
        case ("parts", int(which), *_):
            within = f"part {which + 1}: "
    if kind == "refused":
        return within + (f"{name} {said}" if place and name != "parts" and not within else said)
    if kind == "missing":
        return f"{within}{name} is missing: give it"
    if kind == "extra_forbidden":
        return within + _unknown(name, PartRow if within else MaterialRow)
    bounds = {
        "greater_than": ("above", "gt"),
        "greater_than_equal": ("at least", "ge"),
        "less_than_equal": ("at most", "le"),
        "less_than": ("below", "lt"),
    }
    if kind in bounds:
        word, key = bounds[kind]
        return f"{within}{name} is {value:g}, but it must be {word} {limits[key]:g}"
    if kind == "finite_number":
        return f"{within}{name} is {value}, which is no number to reckon with"
    if kind in ("enum", "literal_error"):
        return f"{within}{name} is '{value}', but it must be {_choices(place, limits)}"
    return f"{within}{name} is {value!r}, but it must be {_wanted(kind, limits)}"


def _unknown(name: str, model: type[MaterialRow] | type[PartRow]) -> str:
    known = list(model.model_fields)
    near = difflib.get_close_matches(name, known, n=1)
    meant = f"did you mean {near[0]}?" if near else f"known are {', '.join(known)}"
    return f"'{name}' is not known here; {meant}"


def _choices(place: tuple[int | str, ...], limits: Fields) -> str:
    choices: dict[str, Iterable[str]] = {"kind": Kind, "cures_by": CuresBy}
    if place[-1] in choices:
        return "one of: " + "; ".join(choices[str(place[-1])])
    return str(limits.get("expected", "one of those known"))


def _wanted(kind: str, limits: Fields) -> str:
    if kind in ("too_short", "too_long"):
        return "shorter or longer: " + str(limits.get("min_length", limits.get("max_length")))
    words = {
        "string_type": 'words in quotation marks, such as "common practice"',
        "string_too_long": "shorter",
        "int_type": "a whole number",
        "float_type": "a number without quotation marks",
        "tuple_type": "a list in brackets",
        "model_type": "a table in braces, such as { name = ..., density_g_ml = ... }",
    }
    return words.get(kind, "something else")
