"""What people fill in: read strictly, told by line where it is wrong, and blank where it is not."""

from __future__ import annotations

import datetime as dt
import tomllib
from pathlib import Path

import pytest
from record.conftest import DEMO
from record.record_cases import HOSTILE

from lossfill.errors import InputError
from lossfill.record.fields import (
    LONGEST,
    NO_FIELDS,
    blank_file,
    keys,
    parts,
    read_fields,
    with_field,
)


def test_the_blank_file_is_read_as_nothing_and_names_every_field(tmp_path: Path) -> None:
    path = tmp_path / "object.toml"
    path.write_text(blank_file(), encoding="utf-8")
    assert read_fields(path) == NO_FIELDS
    for name in keys():
        assert f"{name} = " in blank_file()


def test_every_field_of_the_blank_file_may_be_filled_with_its_example(tmp_path: Path) -> None:
    filled = {
        name: {one.name: one.metadata["example"] for one in inside} for name, _, inside in parts()
    }
    lines = []
    for name, inside in filled.items():
        lines.append(f"[{name}]")
        lines += [f'{key} = "{example}"' for key, example in inside.items()]
    path = tmp_path / "object.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    read = read_fields(path)
    assert read.dates.examined == dt.date(2026, 1, 31)
    assert read.object.title == filled["object"]["title"]
    for key in keys():
        again = with_field(NO_FIELDS, f"{key}={filled[keys()[key]][key]}")
        assert getattr(getattr(again, keys()[key]), key) == getattr(getattr(read, keys()[key]), key)


def test_the_demo_file_is_read_as_it_stands() -> None:
    held = tomllib.loads(DEMO.read_text(encoding="utf-8"))
    read = read_fields(DEMO)
    for name, inside in held.items():
        for key, value in inside.items():
            assert getattr(getattr(read, name), key) == value


@pytest.mark.parametrize(
    ("text", "line", "told"),
    [
        ('[object]\ntitel = "x"', 2, "there is no field 'object.titel': choose from title"),
        ("[object]\n\n# a note\ntitle = 3", 4, "object.title must be text in quotes"),
        ('[object]\ntitle = ["a"]', 2, "object.title must be text in quotes"),
        ('[people]\ntreated_by = "x"\n[dates]\nexamined = "soon"', 4, "must be a date such as"),
        ("[dates]\nexamined = 2026-13-01", 2, "is not TOML"),
        ('\n[subject]\ntitle = "x"', 2, "there is no part 'subject': choose from object"),
        ("object = 3", 1, "object must be a part with its fields below it"),
        ('[object]\ntitle = "a"\ntitle = "b"\nmarks = ""', 3, "is not TOML"),
        ("[object]\nobject.title = 3", 2, "there is no field 'object.object'"),
        ("\nobject.title = 3", 2, "object.title must be text in quotes"),
        (f'[object]\ntitle = "{"a" * (LONGEST + 1)}"', 2, f"longer than the {LONGEST} letters"),
    ],
)
def test_what_is_wrong_is_told_in_one_line_with_its_line(
    tmp_path: Path, text: str, line: int, told: str
) -> None:
    path = tmp_path / "object.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as raised:
        read_fields(path)
    words = str(raised.value)
    assert told in words
    assert f"line {line}" in words
    assert str(path) in words
    assert "\n" not in words


def test_a_file_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be read"):
        read_fields(tmp_path / "none.toml")
    path = tmp_path / "object.toml"
    path.write_bytes(b'[object]\ntitle = "\xff"')
    with pytest.raises(InputError, match="UTF-8"):
        read_fields(path)


@pytest.mark.parametrize("words", HOSTILE)
def test_any_words_may_stand_in_a_field(words: str) -> None:
    assert with_field(NO_FIELDS, f"object.title={words}").object.title == words.strip()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("title", "write it as key=value"),
        ("titel=x", "there is no field 'titel'"),
        ("examined=yesterday", "write a date such as 2026-01-31"),
        (f"title={'a' * (LONGEST + 1)}", f"at most {LONGEST}"),
    ],
)
def test_a_bad_field_at_the_command_line_is_told(words: str, told: str) -> None:
    with pytest.raises(InputError, match=told):
        with_field(NO_FIELDS, words)
