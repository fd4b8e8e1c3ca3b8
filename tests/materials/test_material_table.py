"""The table of materials that comes with the program."""

from __future__ import annotations

import pytest

from lossfill.cautions import known_keys
from lossfill.errors import InputError
from lossfill.make.wood import WOODS
from lossfill.materials import Kind, Material, material_named, read_table
from lossfill.materials.gypsum import THEORY_WATER_PER_100_G, dry_density_g_ml

TABLE = read_table()


def named(name: str) -> Material:
    return material_named(TABLE, name)


def test_every_kind_has_a_row_and_every_name_is_its_own() -> None:
    assert {one.kind for one in TABLE} == set(Kind)
    assert len({one.name for one in TABLE}) == len(TABLE)
    assert all(one.name == one.name.lower() for one in TABLE)


@pytest.mark.parametrize("material", TABLE, ids=lambda one: one.name)
def test_every_row_is_whole(material: Material) -> None:
    assert sum(part.mass_share for part in material.parts) == pytest.approx(1, abs=1e-12)
    lightest = min(part.density_g_ml for part in material.parts)
    heaviest = max(part.density_g_ml for part in material.parts)
    # A mix lies between its parts; rounding in the sum of shares is 1e-16 of it.
    assert lightest * (1 - 1e-9) <= material.density_g_ml <= heaviest * (1 + 1e-9)
    assert set(material.cautions) <= set(known_keys())
    words = ("common practice", "from memory", "page", "table", "data sheet", "20")
    assert any(word in material.source for word in words)


# glasstips.blogspot.com, 2009-11, generic rows: water on 100 g, density of the dry cast, kg/m³.
@pytest.mark.parametrize(
    ("name", "water", "dry_kg_m3"),
    [("casting plaster", 65, 1162), ("plaster of paris", 70, 1106), ("pottery plaster", 74, 1057)],
)
def test_plaster_dries_to_the_measured_density(name: str, water: int, dry_kg_m3: int) -> None:
    plaster = named(name)
    powder, liquid = plaster.parts
    assert 100 * liquid.mass_share / powder.mass_share == pytest.approx(water, rel=1e-12)
    dry = dry_density_g_ml(plaster)
    # The model by hand: 118.62 g of dihydrate in what 100 g of powder and the water fill.
    assert dry == pytest.approx(118.62 / (100 / 2.63 + water), rel=1e-4)  # 118.62 has five digits
    # 1 % is how far the model lies from these three measurements; it is 5 % and more between them.
    assert dry == pytest.approx(dry_kg_m3 / 1000, rel=0.01)


def test_what_plaster_binds_follows_from_molar_masses() -> None:
    # Hemihydrate 145.14 and dihydrate 172.16 g/mol: 18.62 g on 100 g.
    assert pytest.approx(18.62, abs=0.005) == THEORY_WATER_PER_100_G


def test_raw_lacquer_loses_its_water() -> None:
    # Echizen.org, page 49: 25.1 % (Japan) to 27.5 % (China) water by mass; by volume at 1.03 g/ml.
    least, most = 1 - 0.275 * 1.03, 1 - 0.251 * 1.03
    assert least < named("lacquer coat").solids_left < most
    for name in ("flour-and-lacquer paste", "stone-powder-and-lacquer paste"):
        paste = named(name)
        by_name = {part.name: part for part in paste.parts}
        volume = {key: one.mass_share / one.density_g_ml for key, one in by_name.items()}
        all_of_it = sum(volume.values())
        lost = volume.get("water", 0.0) + volume["raw lacquer"] * (1 - 0.73)
        # The table gives two digits.
        assert paste.solids_left == pytest.approx(1 - lost / all_of_it, abs=0.01)


def test_a_ratio_by_volume_is_not_one_by_mass() -> None:
    epoxy = named("slow epoxy, 2 to 1 by volume")
    resin, hardener = epoxy.parts
    # 2 ml of 1.15 g/ml on 1 ml of 0.98 g/ml: 2.30 g on 0.98 g, 100 : 42.6 and not 100 : 50.
    assert resin.mass_share / hardener.mass_share == pytest.approx(2.30 / 0.98, rel=1e-12)
    volume = [part.mass_share / part.density_g_ml for part in epoxy.parts]
    assert volume[0] / volume[1] == pytest.approx(2, rel=1e-12)
    assert epoxy.density_g_ml == pytest.approx((2.30 + 0.98) / 3, rel=1e-12)


def test_a_powder_by_volume_is_counted_as_it_is_spooned() -> None:
    paste = named("stone-powder-and-lacquer paste")
    powder, lacquer = paste.parts
    # 10 heaped ml of 1.0 g/ml and 7.5 ml of 1.03 g/ml (10 : 7 to 8, common practice).
    assert powder.mass_share / lacquer.mass_share == pytest.approx(10 / (7.5 * 1.03), rel=1e-12)
    # Its grains fill 10 / 2.65 ml alone.
    assert paste.density_g_ml == pytest.approx((10 + 7.725) / (10 / 2.65 + 7.5), rel=1e-12)
    assert [part.pours for part in paste.parts] == [False, True]


def test_epoxy_states_no_shrinkage_of_its_own() -> None:
    # 0.01 % by one source and 1 to 2 % by another: a hundredfold.
    assert all(one.shrinkage is None for one in TABLE if one.kind is Kind.EPOXY)


def test_every_wood_has_its_movement() -> None:
    assert {one.name for one in TABLE if one.kind is Kind.WOOD} == {wood.name for wood in WOODS}


@pytest.mark.parametrize(
    ("name", "low", "high"),
    # Total shrinkage in length, percent: three published tables agree.
    [("earthenware insert", 5, 8), ("stoneware insert", 8, 13), ("porcelain insert", 12, 16)],
)
def test_clay_shrinks_within_its_range(name: str, low: float, high: float) -> None:
    shrinkage = named(name).shrinkage
    assert shrinkage is not None
    assert low < 100 * shrinkage < high


def test_a_name_is_found_whatever_its_capitals() -> None:
    assert named("  Epoxy   PUTTY ").name == "epoxy putty"


def test_an_unknown_name_is_refused_with_the_nearest() -> None:
    with pytest.raises(InputError, match=r"no material 'epoxi putty'; did you mean 'epoxy putty'"):
        named("epoxi putty")
    with pytest.raises(InputError, match="gold powder"):
        named("xyz")
