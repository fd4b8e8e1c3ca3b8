"""What is mixed, against figures worked by hand and figures from outside."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from mix.needs import need

from lossfill.errors import InputError
from lossfill.materials import Material, material_named, read_table
from lossfill.mix import MixSettings, Need, Portion, need_given, quantities_for

TABLE = read_table()
INCH_ML = 2.54**3
POUND_G = 453.59237


def portions(of: Need, table: tuple[Material, ...] = TABLE, /, **choice: Any) -> dict[str, Portion]:
    found = quantities_for([of], MixSettings(**choice), table)
    return {portion.use: portion for portion in found.portions}


def fill(name: str, of: Need, **choice: Any) -> Portion:
    return portions(of, coat_with=None, fill_with=name, **choice)["fill"]


def with_row(name: str, **changed: Any) -> tuple[Material, ...]:
    return tuple(replace(one, **changed) if one.name == name else one for one in TABLE)


def masses(portion: Portion) -> list[float]:
    return [amount.mass_g for amount in portion.amounts]


def test_paste_by_hand() -> None:
    of = need(volume_ml=0.4, volume_error_ml=0.02, depth_mm=2.4, way="paste in thin layers")
    paste = portions(of)["fill"]
    # 0.4 ml / 0.82 left x 1.15 for waste; 10 ml of powder of 1.0 g/ml and 7.5 ml of 1.03 g/ml.
    fresh_ml = 0.4 / 0.82 * 1.15
    density = 17.725 / (10 / 2.65 + 7.5)
    assert paste.material.name == "stone-powder-and-lacquer paste"
    assert paste.volume_ml == pytest.approx(fresh_ml, rel=1e-12)
    assert paste.error_ml == pytest.approx(0.02 / 0.82 * 1.15, rel=1e-12)
    assert paste.mass_g == pytest.approx(fresh_ml * density, rel=1e-12)
    # A layer of 1 mm leaves 0.82 mm, so that 2.4 mm take 3, where 1 mm each would seem to fill 2.4
    # in 3 too; 2.5 mm take 4.
    assert (paste.layers, paste.batches) == (3, 3)
    deeper = replace(of, depth_mm=2.5)
    assert portions(deeper)["fill"].layers == 4
    # 0.294 g a layer is raised to 0.5 g: 0.2821 g of powder and 0.2179 g of lacquer, rounded up.
    assert masses(paste) == [0.87, 0.66]
    assert [amount.volume_ml for amount in paste.amounts] == [None, 0.66]  # 0.2116 ml, 3 x 0.22


def test_layers_that_fill_exactly_are_not_one_too_many() -> None:
    of = need(depth_mm=2.46, way="paste in thin layers")  # 3 x 0.82
    assert portions(of)["fill"].layers == 3


def test_adhesive_is_break_times_clearance() -> None:
    join = portions(need(), waste_share=0.0)["join"]
    # 500 mm² x 0.2 mm = 100 mm³ = 0.1 ml, of which 0.58 is left once cured.
    assert join.volume_ml == pytest.approx(0.1 / 0.58, rel=1e-12)
    assert join.error_ml == 0.0
    assert join.layers == 1


def test_coats_are_skin_times_thickness() -> None:
    for sides, area_mm2 in (("both", 700), ("outer", 400), ("inner", 300)):
        coat = portions(need(), coat_sides=sides, coats=4, waste_share=0.5)["coat"]
        # 40 µm as laid, 4 coats, half as much again for waste.
        assert coat.volume_ml == pytest.approx(area_mm2 * 0.040 * 4 * 1.5 / 1000, rel=1e-12)
        assert (coat.layers, coat.batches) == (4, 4)
    assert portions(need())["coat"].layers == 3  # as usual for it


def test_metal_is_skin_times_coverage() -> None:
    found = quantities_for([need()], MixSettings(metal_with="gold powder", waste_share=0.0), TABLE)
    metal = found.portions[-1]
    assert metal.use == "metal"
    assert metal.mass_g == pytest.approx(700e-6 * 58, rel=1e-12)  # 58 g/m²
    assert masses(metal) == [0.05]  # 0.0406 g
    # What holds it and seals it comes before it.
    assert [one.material.name for one in found.portions][-2:] == [
        "lacquer for metal",
        "gold powder",
    ]


@pytest.mark.parametrize(("water", "dry"), [(65, 1.151), (70, 1.098), (74, 1.059)])
def test_plaster_ratio_and_dry_cast(water: int, dry: float) -> None:
    """W/P of a casters' table; dry densities by 118.62 / (100 / 2.63 + w), three decimals."""
    name = {65: "casting plaster", 70: "plaster of paris", 74: "pottery plaster"}[water]
    cast = fill(name, need(volume_ml=100.0, way=""), waste_share=0.0)
    powder_g, water_g = masses(cast)
    # 100 ml of slurry: the powder's grains fill 1 / 2.63 ml a gram, the water 1 ml.
    assert powder_g == pytest.approx(100 / (1 / 2.63 + water / 100), abs=0.01 * cast.batches)
    assert water_g / powder_g == pytest.approx(water / 100, abs=1e-3)  # 0.01 g on 60 g and more
    assert any(f"({dry:.2f} g/ml)" in note for note in cast.notes)


def test_a_potters_plaster_example_fills_its_mould() -> None:
    """photopottery.com: 2 lb 12 oz of plaster and 2 lb of water (100 : 73) for 80 in³.

    By the volumes of grains and water these fill 1381 ml, 5 % more than 80 in³ = 1311 ml.
    """
    powder_g, water_g = 2.75 * POUND_G, 2.0 * POUND_G
    fills_ml = powder_g / 2.63 + water_g
    assert fills_ml == pytest.approx(1381, abs=1)
    plaster = material_named(TABLE, "pottery plaster")
    shares = (powder_g / (powder_g + water_g), water_g / (powder_g + water_g))
    parts = tuple(
        replace(part, mass_share=share) for part, share in zip(plaster.parts, shares, strict=True)
    )
    table = with_row("pottery plaster", parts=parts, density_g_ml=(powder_g + water_g) / fills_ml)
    of = need_given(80 * INCH_ML, depth_mm=10.0)
    needed = portions(of, table, fill_with="pottery plaster", waste_share=0.0)["fill"]
    # The example leaves 5 % spare; half a percent is what pounds and ounces are rounded by.
    assert powder_g / masses(needed)[0] == pytest.approx(1.053, abs=0.005)
    assert water_g / masses(needed)[1] == pytest.approx(1.053, abs=0.005)


@pytest.mark.parametrize(
    ("water_ml", "printed_g", "right_g"), [(2365, 3021, 3121), (3312, 4388, 4372)]
)
def test_misprinted_plaster_table_is_not_followed(
    water_ml: float, printed_g: float, right_g: float
) -> None:
    """A school's table (ratio 1.32) holds two misprints: the ratio gives 3121 and 4372 g."""
    plaster = material_named(TABLE, "pottery plaster")
    parts = tuple(
        replace(part, mass_share=share / 2.32)
        for part, share in zip(plaster.parts, (1.32, 1.0), strict=True)
    )
    table = with_row("pottery plaster", parts=parts, density_g_ml=2.32 / (1.32 / 2.63 + 1.0))
    of = need_given(water_ml * (1.32 / 2.63 + 1.0), depth_mm=10.0)
    cast = portions(of, table, fill_with="pottery plaster", waste_share=0.0)["fill"]
    assert masses(cast)[0] == pytest.approx(right_g, abs=1.0)
    assert abs(masses(cast)[0] - printed_g) > 10


@pytest.mark.parametrize(
    ("shrinkage", "fired_mm", "wet_mm"),
    # calculatorlib.com: 250 mm fired at 12 % is 284.0909 wet; calculator.city: 10 in at 12.5 % is
    # 11.4286 in.
    [(0.12, 250.0, 284.0909), (0.125, 254.0, 11.4286 * 25.4)],
)
def test_clay_is_formed_larger(shrinkage: float, fired_mm: float, wet_mm: float) -> None:
    table = with_row("stoneware insert", shrinkage=shrinkage)
    of = need(box_mm=(fired_mm, 20.0, 6.0), piece_ml=10.0)
    clay = portions(of, table, fill_with="stoneware insert", waste_share=0.0)["insert"]
    assert clay.volume_ml == pytest.approx(10 * (wet_mm / fired_mm) ** 3, rel=1e-5)
    factor = next(note for note in clay.notes if note.startswith("formed"))
    assert f"{wet_mm / fired_mm:.4f}" in factor  # and not 1 + s, which is 4 mm short of 284
    # Rounded up to whole millimetres: 285 x 23 x 7 for 12 %.
    blank = next(note for note in clay.notes if "blank" in note)
    assert f"{int(wet_mm) + 1} × " in blank


def test_clay_at_12_percent_takes_1_467412_times_its_volume() -> None:
    table = with_row("stoneware insert", shrinkage=0.12)
    clay = portions(need(piece_ml=1.0), table, fill_with="stoneware insert", waste_share=0.0)
    assert clay["insert"].volume_ml == pytest.approx(1.467412, abs=5e-7)  # six decimals by hand
    assert clay["insert"].mass_g == pytest.approx(1.467412 * 1.95, rel=1e-6)


def test_clay_without_its_shrinkage_is_refused() -> None:
    table = with_row("stoneware insert", shrinkage=None)
    with pytest.raises(InputError, match="fire a test bar"):
        portions(need(), table, fill_with="stoneware insert")


def test_wood_blank_and_movement() -> None:
    wood = portions(
        need(box_mm=(60.0, 40.0, 6.0)),
        fill_with="black walnut",
        wood_allowance_mm=2.0,
        humidity_percent=(30.0, 70.0),
    )["insert"]
    assert wood.mass_g == pytest.approx(64 * 44 * 10 / 1000 * 0.62, rel=1e-12)
    assert "a blank of 64 × 44 × 10 mm, grain along the longest side" in wood.notes
    # Wood Handbook, tables 13-5 and 4-2: 40 mm of black walnut, tangential, from 30 to 70 % at
    # 21 °C is 40 x 0.00274 x (13.1 - 6.2) = 0.76 mm.
    assert any("40 mm across the grain swells by up to 0.76 mm" in note for note in wood.notes)
    assert any("leave 0.38 mm on either side" in note for note in wood.notes)


def test_wood_without_a_design_is_not_given_a_blank() -> None:
    wood = portions(need(box_mm=None), fill_with="beech")["insert"]
    assert wood.volume_ml == pytest.approx(1.9)
    assert any("cannot be told" in note for note in wood.notes)


def test_a_print_weighs_its_volume() -> None:
    printed = portions(need())["insert"]
    assert printed.mass_g == pytest.approx(1.9 * 1.24, rel=1e-12)
    assert masses(printed) == [2.36]  # 2.356 g
    assert printed.error_ml == 0.0
    without = portions(need(piece_ml=None))["insert"]
    assert without.volume_ml == pytest.approx(2.0)
    assert without.error_ml == pytest.approx(0.1)


def test_epoxy_by_mass_and_by_volume() -> None:
    epoxy = fill("slow epoxy, 2 to 1 by volume", need(volume_ml=30.0), waste_share=0.0)
    resin, hardener = epoxy.amounts
    # 20 ml and 10 ml; 23.0 g and 9.8 g. By mass 2 : 1 would be 21.87 g and 10.93 g.
    assert (resin.volume_ml, hardener.volume_ml) == (20.0, 10.0)
    assert (resin.mass_g, hardener.mass_g) == (23.0, 9.8)
    assert any("shrinks as it cures is not known" in note for note in epoxy.notes)


def test_putty_is_made_up_for_its_shrinkage() -> None:
    putty = fill("epoxy putty", need(volume_ml=10.0), waste_share=0.0)
    assert putty.volume_ml == pytest.approx(10 / 0.998**3, rel=1e-12)
    assert not any("not known" in note for note in putty.notes)


def test_batches_follow_from_pot_life_and_how_fast_it_is_laid() -> None:
    # Putty: 60 min at 0.2 ml a minute are 12 ml; 30 ml in one go take 3 batches.
    putty = fill("epoxy putty", need(volume_ml=30.0 * 0.998**3, depth_mm=9.0), waste_share=0.0)
    assert (putty.layers, putty.batches) == (1, 3)
    slow = fill("epoxy putty", need(volume_ml=30.0, depth_mm=9.0), laid_ml_min=0.1)
    assert slow.batches == 6  # 30 x 1.006 x 1.15 = 34.7 ml in batches of 6 ml
    # The same resin is poured into a loss and spread along a break: 5 min at 20 or at 0.2 ml.
    quick = "quick epoxy, 1 to 1 by volume"
    assert fill(quick, need(volume_ml=30.0)).batches == 1
    joined = portions(need(break_mm2=2e4), join_with=quick, waste_share=0.0)["join"]
    assert joined.batches == 4  # 20 000 mm² x 0.2 mm = 4 ml in batches of 1 ml


def test_what_keeps_is_mixed_once_for_all_layers() -> None:
    # 30 mm deep in layers of 10 mm, 6 hours apart; the putty can be worked for one hour.
    of = need(volume_ml=20.0, depth_mm=30.0)
    assert fill("epoxy putty", of, laid_ml_min=100.0).batches == 3
    keeping = with_row("epoxy putty", pot_life_min=None, solids_left=1.0)
    found = portions(of, keeping, fill_with="epoxy putty", coat_with=None)["fill"]
    assert (found.layers, found.batches) == (3, 1)


def test_the_least_part_is_told_by_the_scale() -> None:
    # A hundredth of hardener: 0.01 g of scale within 5 % of it asks for 20 g in all.
    epoxy = material_named(TABLE, "slow epoxy, 2 to 1 by volume")
    shares = (0.99, 0.01)
    parts = tuple(
        replace(part, mass_share=share) for part, share in zip(epoxy.parts, shares, strict=True)
    )
    table = with_row(epoxy.name, parts=parts, least_batch_g=0.1)
    found = portions(need(volume_ml=1.0), table, fill_with=epoxy.name, coat_with=None)["fill"]
    assert masses(found) == [19.8, 0.2]
    assert any("the least that mixes true" in note for note in found.notes)


def test_losses_share_a_sitting() -> None:
    small = [
        need(1, volume_ml=0.05, depth_mm=0.8, way="paste in thin layers"),
        need(2, volume_ml=0.05, depth_mm=1.6, way="paste in thin layers"),
    ]
    found = quantities_for(small, MixSettings(coat_with=None), TABLE)
    assert [(one.layers, masses(one)) for one in found.portions] == [
        (1, [0.29, 0.22]),
        (2, [0.58, 0.44]),
    ]
    # First layers of both in one batch of 0.5 g, then the second of loss 2.
    (total,) = found.totals
    assert total.batches == 2
    assert [amount.mass_g for amount in total.amounts] == [0.58, 0.44]
    assert total.volume_ml == pytest.approx(0.1 / 0.82 * 1.15, rel=1e-12)


def test_each_way_has_its_material_and_each_loss_its_own() -> None:
    three = [
        need(1),
        need(2, way="putty on a backing"),
        need(3, way="paste in thin layers"),
    ]
    plain = quantities_for(three, MixSettings(coat_with=None), TABLE)
    assert [(one.loss, one.use, one.material.name) for one in plain.portions] == [
        (1, "join", "flour-and-lacquer paste"),
        (1, "insert", "filament print"),
        (2, "fill", "epoxy putty"),
        (3, "fill", "stone-powder-and-lacquer paste"),
    ]
    choice = MixSettings(coat_with="none", fill_for={2: "Beech"}, fill_with="plaster of paris")
    chosen = quantities_for(three, choice, TABLE)
    assert [(one.loss, one.use, one.material.name) for one in chosen.portions] == [
        (1, "fill", "plaster of paris"),
        (2, "join", "flour-and-lacquer paste"),
        (2, "insert", "beech"),
        (3, "fill", "plaster of paris"),
    ]


def test_an_insert_without_adhesive_is_pointed_out() -> None:
    found = quantities_for([need(break_mm2=0.0)], MixSettings(), TABLE)
    assert found.warnings == ("loss 1: no adhesive is counted for its insert",)


def test_a_volume_that_is_hardly_known_is_pointed_out() -> None:
    found = quantities_for([need(volume_error_ml=0.6)], MixSettings(), TABLE)
    assert any("may be off by 0.60 of 2.00 ml" in warning for warning in found.warnings)


@pytest.mark.parametrize(
    ("choice", "words"),
    [
        ({"fill_with": "gold powder"}, "cannot be used as a fill"),
        ({"fill_with": "clay"}, "no material 'clay'"),
        ({"join_with": "beech"}, "cannot be used as an adhesive"),
        ({"coat_with": "beech"}, "cannot be used as a coat"),
        ({"metal_with": "beech"}, "cannot be used as a metal powder"),
        ({"fill_for": {4: "beech"}}, "no loss 4"),
        ({"waste_share": -0.1}, "the waste is -10 %"),
        ({"waste_share": float("nan")}, "the waste"),
        ({"coats": 0}, "0 coats"),
        ({"coat_sides": "top"}, "outer, inner or both"),
        ({"scale_step_g": 0.0}, "scale_step_g is 0 g"),
        ({"laid_ml_min": float("inf")}, "laid_ml_min"),
        ({"ratio_error_share": 2.0}, "ratio_error_share"),
        ({"wood_allowance_mm": -1.0}, "-1 mm"),
        ({"humidity_percent": (65.0, 40.0)}, "lower one first"),
    ],
)
def test_bad_choices_are_refused(choice: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        portions(need(), **choice)


@pytest.mark.parametrize(
    ("figures", "words"),
    [
        ({"volume_ml": 0.0}, "volume is 0 ml"),
        ({"volume_ml": float("nan")}, "volume is nan"),
        ({"volume_ml": 1.0, "skin_mm2": -1.0}, "area is -1"),
        ({"volume_ml": 1.0, "depth_mm": float("inf")}, "depth is inf"),
    ],
)
def test_bad_figures_are_refused(figures: dict[str, float], words: str) -> None:
    with pytest.raises(InputError, match=words):
        need_given(**figures)


def test_depth_that_is_not_given_is_the_mean() -> None:
    assert need_given(1.8, skin_mm2=600.0).depth_mm == pytest.approx(3.0)
    unknown = quantities_for([need_given(1.8)], MixSettings(), TABLE).portions
    assert [one.use for one in unknown] == ["fill"]  # no skin to coat
    assert unknown[0].layers == 1


def test_what_cannot_be_counted_is_said_and_not_left_out_in_silence() -> None:
    table = read_table()
    told = quantities_for([need_given(5.0)], MixSettings(), table).warnings
    assert [words.split(",")[0] for words in told] == [
        "as given: no coat and no metal is counted",
        "as given: how deep it is is not known (give --depth)",
    ]
    inside = MixSettings(coat_sides="inner")
    (one_sided,) = quantities_for([need(inner_mm2=0.0)], inside, table).warnings
    assert one_sided.endswith("it has no new skin on the inner side")
    bare = MixSettings(coat_with=None, fill_with="plaster of paris")
    assert quantities_for([need_given(5.0)], bare, table).warnings == ()


def test_a_slip_in_a_name_is_told_where_there_is_no_skin_too() -> None:
    with pytest.raises(InputError, match="no material 'brass powdr'; did you mean 'brass powder'"):
        quantities_for([need_given(5.0)], MixSettings(metal_with="brass powdr"), read_table())
    with pytest.raises(InputError, match="it has no number: leave out"):
        quantities_for([need_given(5.0)], MixSettings(fill_for={3: "apple"}), read_table())


def test_a_batch_raised_by_less_than_the_scale_tells_is_not_worth_a_note() -> None:
    # 0.04 mm x 3 coats x A x 1.15 x 1.03 g/ml in 3 batches; the least batch is 0.1 g.
    def coated(batch_g: float) -> Portion:
        skin_mm2 = batch_g / (0.04e-3 * 1.15 * 1.03)
        (coat,) = (
            one
            for one in quantities_for(
                [need_given(1.0, skin_mm2=skin_mm2)], MixSettings(), read_table()
            ).portions
            if one.use == "coat"
        )
        return coat

    assert coated(0.0977).notes == ()
    assert coated(0.05).notes == (
        "a batch was raised from 0.050 to 0.10 g, the least that can be handled: some is left over",
    )
