"""Rows of a user's own: over the table, beside it, or refused with their line and reason."""

from __future__ import annotations

import re
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lossfill.errors import InputError
from lossfill.materials import Material, material_named, read_table
from lossfill.materials.table import overridden

WHOLE = """\
# My own stuff.

[[material]]
name = "My Epoxy"
kind = "two-part epoxy"
parts = [
    { name = "A", density_g_ml = 1.1, by_mass = 100 },
    { name = "B", density_g_ml = 1.0, by_mass = 30 },
]
solids_left = 1.0
pot_life_min = 20
least_batch_g = 2
layer_hours = [4, 24]
cure_days = [1, 7]
cures_by = "its hardener"
cautions = ["resin"]
source = "its data sheet"
"""


def written(folder: Path, text: str) -> Path:
    path = folder / "mine.toml"
    path.write_text(text, encoding="utf-8")
    return path


def read(folder: Path, text: str) -> tuple[Material, ...]:
    return read_table(written(folder, text))


def refusal(folder: Path, text: str) -> str:
    with pytest.raises(InputError) as caught:
        read(folder, text)
    message = str(caught.value)
    assert "\n" not in message
    return message


def test_a_new_row_is_added_last(tmp_path: Path) -> None:
    table = read(tmp_path, WHOLE)
    assert table[:-1] == read_table()
    own = table[-1]
    assert own.name == "my epoxy"
    assert own.shrinkage is None
    assert own.parts[0].mass_share == pytest.approx(100 / 130, rel=1e-12)
    assert own.density_g_ml == pytest.approx(130 / (100 / 1.1 + 30 / 1.0), rel=1e-12)


def test_a_row_of_a_known_name_changes_only_what_it_gives(tmp_path: Path) -> None:
    text = '[[material]]\nname = "Epoxy Putty"\ndensity_g_ml = 1.9\nshrinkage = "none"\n'
    changed = material_named(read(tmp_path, text), "epoxy putty")
    plain = material_named(read_table(), "epoxy putty")
    assert (changed.density_g_ml, changed.shrinkage) == (1.9, None)
    assert changed.parts == plain.parts
    assert changed.source == plain.source
    assert plain.shrinkage == 0.002  # and the table itself is as it was


def test_own_parts_bring_their_own_density(tmp_path: Path) -> None:
    first = (
        '[[material]]\nname = "epoxy putty"\nparts = [\n'
        '  { name = "a", form = "solid", density_g_ml = 2.0, by_volume = 1 },\n'
        '  { name = "b", form = "solid", density_g_ml = 1.0, by_volume = 1 } ]\n'
    )
    assert material_named(read(tmp_path, first), "epoxy putty").density_g_ml == pytest.approx(1.5)


def test_a_density_does_not_outlive_the_parts_that_it_was_given_for() -> None:
    row = {"name": "x", "parts": [1], "density_g_ml": 2.0, "source": "a"}
    assert overridden(row, {"name": "x", "parts": [2]}) == {
        "name": "x",
        "parts": [2],
        "source": "a",
    }
    assert overridden(row, {"name": "x", "source": "b"})["density_g_ml"] == 2.0
    assert overridden(row, {"parts": [2], "density_g_ml": 3.0})["density_g_ml"] == 3.0
    assert row["density_g_ml"] == 2.0


def test_a_row_may_be_written_as_subtables(tmp_path: Path) -> None:
    before, _, rest = WHOLE.partition("parts = [")
    rest = rest.partition("]\n")[2]
    parts = "".join(
        f'[[material.parts]]\nname = "{name}"\ndensity_g_ml = {density}\nby_mass = {mass}\n'
        for name, density, mass in (("A", 1.1, 100), ("B", 1.0, 30))
    )
    assert read(tmp_path, before + rest + parts) == read(tmp_path, WHOLE)
    bad = (before + rest + parts).replace("density_g_ml = 1.0", "density_g_ml = -1.0")
    line = bad[: bad.index('name = "B"')].count("\n")
    assert f"line {line}," in refusal(tmp_path, bad)


# What is changed in the whole row, the line that must be named, and words that must be there.
BAD = [
    ("pot_life_min = 20", "pot_life_min = -20", 11, "pot_life_min is -20, but it must be above 0"),
    ("pot_life_min = 20", "pot_life_min = nan", 11, "pot_life_min is nan"),
    ("pot_life_min = 20", "pot_life_min = inf", 11, "pot_life_min is inf"),
    ("pot_life_min = 20", 'pot_life_min = "20"', 11, "a number without quotation marks"),
    ("pot_life_min = 20", "pot_life_min = true", 11, "must be"),
    ("pot_life_min = 20", "pot_live_min = 20", 11, "did you mean pot_life_min?"),
    ("pot_life_min = 20\n", "", 3, "lacks pot_life_min, which every two-part epoxy needs"),
    ("solids_left = 1.0", "solids_left = 0", 10, "above 0"),
    ("solids_left = 1.0", "solids_left = 1.01", 10, "at most 1"),
    ("solids_left = 1.0", "thickest_layer_mm = 0", 10, "thickest_layer_mm is 0"),
    ("solids_left = 1.0", "solids_left = 1.0\nshrinkage = 12", 11, "shrinkage is 12"),
    ("solids_left = 1.0", "solids_left = 1.0\nshrinkage = -0.1", 11, "at least 0"),
    ("layer_hours = [4, 24]", "layer_hours = [24, 4]", 13, "the lower figure first"),
    ("layer_hours = [4, 24]", "layer_hours = [4]", 13, "layer_hours"),
    ("layer_hours = [4, 24]", "layer_hours = [-4, 24]", 13, "layer_hours is -4"),
    ("its hardener", "its\\nhardener", 15, "cures_by is 'its hardener', but"),
    ("cures_by = ", "cures_by = 'magic'#", 15, "one of: damp and warm air;"),
    ('"resin"', '"resins"', 16, "names no caution 'resins'"),
    ("its data sheet", "  ", 17, "source is empty"),
    ("two-part epoxy", "glue", 5, "one of: adhesive paste;"),
    ("density_g_ml = 1.0", "density_g_ml = 0", 8, "part 2: density_g_ml is 0"),
    ("density_g_ml = 1.0", "density_g_ml = 1000", 8, "at most 22.6"),
    ("density_g_ml = 1.0, ", "", 8, "part 2: density_g_ml is missing"),
    ("by_mass = 30", "by_volume = 30", 6, "parts by mass and parts by volume"),
    ("by_mass = 30", "by_mass = 30, by_volume = 3", 8, "either by_mass or by_volume"),
    ("by_mass = 30", "by_mas = 30", 8, "did you mean by_mass?"),
    ("by_mass = 30", "by_mass = 0", 8, "by_mass is 0"),
    ('"B", d', '"A", d', 6, "two parts of the same name"),
    ('"B", d', '"B", form = "gas", d', 8, "form is 'gas'"),
    ('"My Epoxy"', '""', 4, "a row needs a name"),
    ('"My Epoxy"', "7", 4, "a row needs a name"),
    ("[[material]]", "[material]", 3, "in two brackets"),
    ("[[material]]", "[[materials]]", 3, "'materials' is not known here"),
    ("[[material]]", "version = 1\n[[material]]", 3, "'version' is not known here"),
    ("cure_days = [1, 7]", "cure_days = [1, 7", 15, "not TOML"),
]


@pytest.mark.parametrize(("old", "new", "line", "words"), BAD)
def test_a_bad_row_is_refused_with_its_line(
    old: str, new: str, line: int, words: str, tmp_path: Path
) -> None:
    assert old in WHOLE
    message = refusal(tmp_path, WHOLE.replace(old, new, 1))
    assert message.startswith(
        (f"mine.toml, line {line}, 'my epoxy': ", f"mine.toml, line {line}: ")
    )
    assert words in message


def test_the_row_is_named(tmp_path: Path) -> None:
    message = refusal(tmp_path, WHOLE.replace("= 20", "= 0"))
    assert message.startswith("mine.toml, line 11, 'my epoxy': ")


def test_two_rows_of_one_name_are_refused(tmp_path: Path) -> None:
    message = refusal(tmp_path, WHOLE + WHOLE.replace("My Epoxy", "my  epoxy"))
    first = 4
    second = WHOLE.count("\n") + first
    assert message.startswith(f"mine.toml, line {second}, 'my epoxy'")
    assert f"line {first}" in message


def test_an_override_is_refused_on_its_own_line(tmp_path: Path) -> None:
    text = WHOLE + '\n[[material]]\nname = "epoxy putty"\n\ndensity_g_ml = -1\n'
    assert refusal(tmp_path, text).startswith(f"mine.toml, line {text.count(chr(10))}, 'epoxy")


def test_what_looks_like_a_field_within_words_is_none(tmp_path: Path) -> None:
    text = WHOLE.replace(
        'source = "its data sheet"',
        'source = """\n[[material]]\npot_life_min = 3\n"""\nnote = "a [ b { # c"\nlaid_um = -1',
    )
    line = text[: text.index("laid_um")].count("\n") + 1
    assert refusal(tmp_path, text).startswith(f"mine.toml, line {line}, 'my epoxy': laid_um is -1")


@pytest.mark.parametrize(
    ("water", "allowed"), [(18.5, False), (18.7, True), (149, True), (151, False)]
)
def test_plaster_takes_water_within_bounds(water: float, allowed: bool, tmp_path: Path) -> None:
    # 18.62 g bind to 100 g of powder: with less, some of it cannot set.
    text = (
        '[[material]]\nname = "plaster of paris"\nparts = [\n'
        '{ name = "powder", form = "powder", density_g_ml = 2.63, by_mass = 100 },\n'
        f'{{ name = "water", density_g_ml = 1.0, by_mass = {water} }}]\n'
    )
    if allowed:
        read(tmp_path, text)
    else:
        assert "g of water on 100 g of plaster" in refusal(tmp_path, text)


def test_a_powder_by_volume_needs_its_loose_mass(tmp_path: Path) -> None:
    powder = '{ name = "p", form = "powder", density_g_ml = 2.6, by_volume = 10 }'
    rest = ', { name = "q", density_g_ml = 1.0, by_volume = 7 }]\n'
    head = '[[material]]\nname = "stone-powder-and-lacquer paste"\nparts = ['
    assert "give loose_g_ml" in refusal(tmp_path, head + powder + rest)
    heavy = powder.replace("by_vol", "loose_g_ml = 3.0, by_vol")
    assert "cannot be heavier" in refusal(tmp_path, head + heavy + rest)


def test_files_that_cannot_be_read_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be read"):
        read_table(tmp_path / "none.toml")
    with pytest.raises(InputError, match="cannot be read"):
        read_table(tmp_path)
    path = tmp_path / "latin.toml"
    path.write_bytes(b'[[material]]\nname = "\xe9"\n')
    with pytest.raises(InputError, match="UTF-8"):
        read_table(path)


def test_an_empty_file_and_one_with_a_mark_are_fine(tmp_path: Path) -> None:
    assert read(tmp_path, "") == read_table()
    path = tmp_path / "mine.toml"
    path.write_bytes(b"\xef\xbb\xbf" + WHOLE.replace("\n", "\r\n").encode())
    assert read_table(path)[-1].name == "my epoxy"


@settings(max_examples=300)
@given(st.integers(0, len(WHOLE) - 1), st.integers(0, 9), st.text("[]{}=\"'#\n.,-0a", max_size=4))
def test_whatever_is_typed_is_read_or_refused_in_one_line(at: int, gone: int, new: str) -> None:
    text = WHOLE[:at] + new + WHOLE[at + gone :]
    with TemporaryDirectory() as folder:
        path = written(Path(folder), text)
        try:
            table = read_table(path)
        except InputError as error:
            message = str(error)
            assert re.match(r"mine\.toml, line \d+[:,]", message), message
            line = int(message.partition("line ")[2].partition(":")[0].partition(",")[0])
            assert 1 <= line <= text.count("\n") + 1
            assert "\n" not in message
        else:
            assert table[: len(read_table())] == read_table() or len(table) == len(read_table())
