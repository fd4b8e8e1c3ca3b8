"""On which line of a TOML file a table or a field stands: its parser does not tell.

It serves messages alone. Where a file is written in an unusual manner (a table of materials as one
inline array, say) the line of the nearest thing that was found is given.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

_HEADER = re.compile(r"^\s*\[\[?\s*\"?([\w-]+)\"?\s*(?:\.\s*\"?([\w-]+)\"?\s*)?\]\]?")
_FIELD = re.compile(r"^\s*[\"']?([\w-]+)[\"']?\s*[.=]")
_STRING = re.compile(r'"(?:[^"\\]|\\.)*"|\'[^\']*\'')
_FENCE = re.compile(r'"""|\'\'\'')


@dataclass(slots=True)
class TableLines:
    """Lines of one `[[material]]` table, counted from 1.

    Parameters
    ----------
    header : of the table itself
    fields : of each of its fields
    parts : of each component
    """

    header: int
    fields: dict[str, int] = field(default_factory=dict)
    parts: list[int] = field(default_factory=list)

    def line_of(self, place: tuple[int | str, ...]) -> int:
        """Line of a field, such as ("parts", 1, "density_g_ml"); else the nearest that is known."""
        match place:
            case ("parts", int(which), *_) if which < len(self.parts):
                return self.parts[which]
        return self.fields.get(str(place[0]), self.header) if place else self.header


def table_lines(text: str, name: str) -> tuple[list[TableLines], dict[str, int]]:
    """Lines of each table of an array, and of every other field or table at the top of a file.

    Parameters
    ----------
    text : of a file that was parsed without error
    name : of the array of tables
    """
    tables: list[TableLines] = []
    others: dict[str, int] = {}
    at: TableLines | None = None
    within_part = False
    depth = 0
    for number, line in _bare_lines(text):
        header = _HEADER.match(line) if depth == 0 else None
        if header:
            within_part = header[1] == name and header[2] is not None
            if header[1] != name:
                at = None
                others.setdefault(header[1], number)
            elif not within_part or at is None:
                at = TableLines(number)
                tables.append(at)
            else:
                at.fields.setdefault(header[2] or "", number)
                at.parts.append(number)
            continue
        found = _FIELD.match(line) if depth == 0 else None
        if found and not within_part:
            (others if at is None else at.fields).setdefault(found[1], number)
        if at is not None and (depth > 0 or (found and found[1] == "parts")):
            at.parts.extend([number] * line.count("{"))
        depth += sum(map(line.count, "[{")) - sum(map(line.count, "]}"))
    return tables, others


def _bare_lines(text: str) -> list[tuple[int, str]]:
    """Lines without what stands in strings and comments, which may look like anything."""
    result = []
    fence: str | None = None
    for number, line in enumerate(text.splitlines(), start=1):
        bare, rest = "", line
        while rest:
            if fence is not None:
                _, closed, rest = rest.partition(fence)
                fence = None if closed else fence
                continue
            opened = _FENCE.search(rest)
            if opened is None:
                bare, rest = bare + rest, ""
            else:
                bare, fence, rest = bare + rest[: opened.start()], opened[0], rest[opened.end() :]
        # A quoted name before "=" is a field, and stays.
        key = _FIELD.match(bare)
        kept = key.end() if key else 0
        bare = bare[:kept] + _STRING.sub('""', bare[kept:]).partition("#")[0]
        result.append((number, bare))
    return result
