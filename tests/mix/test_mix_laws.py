"""What holds for any loss and any material: nothing too little, nothing lost on the way."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from mix.needs import need

from lossfill.materials import Kind, read_table
from lossfill.mix import MixSettings, Need, Portion, quantities_for
from lossfill.mix.batches import least_batch_g

TABLE = read_table()
STEP = 0.01
DUST = 1e-6
"""g or ml; what binary fractions may leave, a ten-thousandth of a step."""

FILLS = [one.name for one in TABLE if one.kind not in (Kind.COAT, Kind.METAL)]
JOINS = ["flour-and-lacquer paste", "quick epoxy, 1 to 1 by volume"]

needs = st.builds(
    need,
    number=st.integers(1, 3),
    volume_ml=st.floats(0.01, 300),
    volume_error_ml=st.floats(0, 1),
    outer_mm2=st.floats(0, 5000),
    inner_mm2=st.floats(0, 5000),
    break_mm2=st.floats(0, 5000),
    depth_mm=st.floats(0.1, 30),
    piece_ml=st.one_of(st.none(), st.floats(0.01, 300)),
)
choices = st.builds(
    MixSettings,
    fill_with=st.sampled_from(FILLS),
    join_with=st.sampled_from(JOINS),
    metal_with=st.sampled_from([None, "gold powder", "tin powder"]),
    waste_share=st.floats(0, 1),
    coats=st.one_of(st.none(), st.integers(1, 9)),
)


def mixed(of: Need, choice: MixSettings) -> tuple[Portion, ...]:
    return quantities_for([of], choice, TABLE).portions


@given(needs, choices)
def test_never_less_than_wanted_and_never_a_step_more(of: Need, choice: MixSettings) -> None:
    for portion in mixed(of, choice):
        least = 0.0
        if portion.use != "insert":
            least = least_batch_g(portion.material, choice)
        wanted_g = max(portion.mass_g, portion.batches * least)
        for part, amount in zip(portion.material.parts, portion.amounts, strict=True):
            exact = wanted_g * part.mass_share
            spare = amount.mass_g - exact
            # Each batch is rounded for itself; a millionth of what is weighed is rounding in sums.
            assert -DUST <= spare <= portion.batches * STEP + DUST
            assert amount.mass_g / STEP == pytest.approx(round(amount.mass_g / STEP), abs=1e-6)
            if amount.volume_ml is not None:
                drawn = amount.volume_ml - exact / part.density_g_ml
                assert -DUST <= drawn <= portion.batches * STEP + DUST
        together = sum(amount.mass_g for amount in portion.amounts)
        parts = len(portion.amounts)
        assert -DUST <= together - wanted_g <= parts * portion.batches * STEP + DUST


@given(needs, choices, st.floats(1.0, 5.0))
def test_a_larger_loss_never_needs_less(of: Need, choice: MixSettings, times: float) -> None:
    larger = replace(
        of,
        volume_ml=of.volume_ml * times,
        volume_error_ml=of.volume_error_ml * times,
        outer_mm2=of.outer_mm2 * times,
        inner_mm2=of.inner_mm2 * times,
        break_mm2=of.break_mm2 * times,
        piece_ml=None if of.piece_ml is None else of.piece_ml * times,
    )
    before, after = mixed(of, choice), mixed(larger, choice)
    assert [one.use for one in before] == [one.use for one in after]
    for less, more in zip(before, after, strict=True):
        assert more.volume_ml >= less.volume_ml
        assert more.mass_g >= less.mass_g
        assert more.error_ml >= less.error_ml
        assert more.batches >= less.batches
        for one, other in zip(less.amounts, more.amounts, strict=True):
            # The same number of batches: never less. One more: the rounding of each may fall away.
            spare = 0.0 if more.batches == less.batches else less.batches * STEP
            assert other.mass_g >= one.mass_g - spare - DUST


@given(needs, choices, st.floats(1.0, 5.0))
def test_a_deeper_loss_never_has_fewer_layers(of: Need, choice: MixSettings, times: float) -> None:
    deeper = mixed(replace(of, depth_mm=of.depth_mm * times), choice)
    for less, more in zip(mixed(of, choice), deeper, strict=True):
        assert more.layers >= less.layers
        assert more.volume_ml == less.volume_ml


@given(st.lists(needs, min_size=1, max_size=4), choices)
def test_the_whole_vessel_is_the_sum_of_its_losses(of: list[Need], choice: MixSettings) -> None:
    found = quantities_for(of, choice, TABLE)
    assert len({one.material.name for one in found.totals}) == len(found.totals)
    for total in found.totals:
        own = [one for one in found.portions if one.material.name == total.material.name]
        assert total.mass_g == pytest.approx(sum(one.mass_g for one in own), rel=1e-9)
        assert total.volume_ml == pytest.approx(sum(one.volume_ml for one in own), rel=1e-9)
        assert total.error_ml == pytest.approx(sum(one.error_ml for one in own), rel=1e-9)
        assert total.batches <= sum(one.batches for one in own)
        for at, part in enumerate(total.material.parts):
            alone = sum(one.amounts[at].mass_g for one in own)
            # Mixed together is enough, and no more than each for itself but for the rounding up.
            shared = total.amounts[at].mass_g
            assert shared >= total.mass_g * part.mass_share - DUST
            assert shared <= alone + total.batches * STEP + DUST
    again = quantities_for(list(reversed(of)), choice, TABLE)
    assert {one.material.name: one.batches for one in again.totals} == {
        one.material.name: one.batches for one in found.totals
    }


@given(needs, choices)
def test_every_link_follows_from_the_one_before(of: Need, choice: MixSettings) -> None:
    for portion in mixed(of, choice):
        chain = portion.chain
        values = {one.value for one in chain}
        assert chain[-1].unit == "g"
        held = (portion.mass_g,) if portion.use == "metal" else (portion.mass_g, portion.volume_ml)
        for figure in held:
            assert any(figure == pytest.approx(value, rel=1e-9) for value in values)
        # Figures are printed with six digits: half a millionth of each of two or three of them.
        for before, link in pairwise(chain):
            if "rounded up" in link.what:
                assert -DUST <= link.value - worked_out(link.sum) <= STEP + DUST
            elif link.sum:
                assert worked_out(link.sum) == pytest.approx(link.value, rel=1e-5)
            if re.match(r"[-\d.]+ \S+ [×÷]", link.sum) and "rounded up" not in link.what:
                # A blank is the product of the three sides above it.
                first = chain[0].value if link.what == "the blank" else before.value
                assert float(link.sum.split()[0]) == pytest.approx(first, rel=1e-5)


def worked_out(words: str) -> float:
    """The value of a sum as it is printed."""
    words = words.partition("=")[0].replace("the larger of", "max(").replace(" and ", ",")
    bare = re.sub(r"(?<=\d) ?[a-zµ²³/][\w²³µ/]*", "", words)
    bare = bare.replace("×", "*").replace("÷", "/") + (")" if "max" in words else "")
    assert re.fullmatch(r"[\d\s.+*/(),maxe-]+", bare), bare
    return float(eval(bare))


def test_the_same_twice() -> None:
    choice = MixSettings(metal_with="gold powder")
    assert mixed(need(), choice) == mixed(need(), choice)
