"""What `lossfill box` does: dose the water of a damp box, and tell when it would get wet."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from lossfill import __version__
from lossfill import tolerances as tol
from lossfill.cautions import Work, cautions_for
from lossfill.cli.air_commands import CURE_CAUTIONS
from lossfill.cli.blocks import print_blocks, print_document
from lossfill.cli.summary import caution_lines
from lossfill.cli.words import rounded, wrapped
from lossfill.cure import given, salts
from lossfill.cure.air import Air, judge_air
from lossfill.cure.box import (
    AIR_ALONE,
    Condensation,
    Wetting,
    air_at,
    condensation_at,
    water_needed_g,
    wets_at_c,
)


def run_box(size: str, start: str, end: str, coldest: str | None, *, as_json: bool) -> None:
    """Say what water a box needs, and print it."""
    volume = given.volume_l(size)
    now, wanted = given.air(start), given.air(end)
    water = water_needed_g(volume, now, wanted)
    warmed = air_at(volume, now, wanted.temperature_c)
    surface = None if coldest is None else given.temperature_c(coldest)
    risk = None if surface is None else condensation_at(wanted, surface)
    held = salts.salts_near(wanted.humidity_percent, wanted.temperature_c)
    if as_json:
        print_document(_box_document(volume, now, wanted, water, risk))
        return
    print_blocks(
        [
            f"Box of {rounded(volume, 3)} l",
            *_air_lines("now", now),
            *_air_lines("wanted", wanted),
            f"  without water, at {wanted.temperature_c:.3g} °C it would have "
            f"{warmed.air.humidity_percent:.0f} %",
        ],
        [f"Water: {_water(water)}", *wrapped(AIR_ALONE, "  ")],
        _wet_lines(wanted, risk),
        _salt_lines(held, wanted),
        caution_lines(_cautions(held)),
    )


def _cautions(held: tuple[tuple[salts.Salt, float], ...]) -> tuple[str, ...]:
    return cautions_for(
        (Work.CURE,), (*CURE_CAUTIONS, *(key for salt, _ in held for key in salt.cautions))
    )


def _air_lines(name: str, air: Air) -> Iterator[str]:
    yield (
        f"  {name}: {air.temperature_c:.3g} °C, {air.humidity_percent:.3g} %, dew point "
        f"{air.dew_point_c:.1f} °C"
    )
    for words in judge_air(air).words:
        yield from wrapped(words, "    ", "      ")


def _wet_lines(wanted: Air, risk: Condensation | None) -> Iterator[str]:
    dew, whole = wanted.dew_point_c, wets_at_c(wanted)
    yield "Will it get wet?"
    yield from wrapped(
        f"a surface in it must stay above {dew:.1f} °C; the closed box as a whole may cool by "
        f"{wanted.temperature_c - whole:.1f} K, to {whole:.1f} °C",
        "  ",
    )
    if risk is None:
        return
    words = {
        Wetting.DRY: "stays dry",
        Wetting.NEAR: f"is less than {tol.DEW_MARGIN_K:g} K above the dew point: a hygrometer is "
        "not sure enough for that; take less water, or warm the cold side",
        Wetting.WET: "gets wet: take less water, or warm the cold side",
    }[risk.wetting]
    yield from wrapped(f"the surface of {risk.surface_c:.3g} °C {words}", "  ")


def _salt_lines(held: tuple[tuple[salts.Salt, float], ...], wanted: Air) -> Iterator[str]:
    yield f"Salts that hold a humidity near {wanted.humidity_percent:.3g} % by themselves"
    if not held:
        yield "  none in the table"
        return
    for salt, percent in held:
        memory = ", from memory" if salt.is_from_memory(wanted.temperature_c) else ""
        value = f"{percent:.1f} ± {salt.uncertainty_percent:.1f} %{memory}"
        words = f"{salt.formula}, {salt.name}: {value}"
        yield from wrapped(words, "  ", "    ")
    yield from wrapped(f"{salts.SOURCE}; the ± is from memory. {salts.HOW_TO}", "  ")


def _water(grams: float) -> str:
    """Water as a scale of 0.1 g or a dropper measures it; 1 g is 1 ml."""
    if abs(grams) < 0.05:
        return "none that could be measured (under 0.05 g)"
    shown = (
        f"{abs(grams):.1f} g ({abs(grams):.1f} ml)"
        if abs(grams) < 10
        else (f"{abs(grams):.0f} g ({abs(grams):.0f} ml)")
    )
    return shown if grams > 0 else f"take out {shown}: dry the box"


def _air_document(air: Air) -> dict[str, Any]:
    return {
        "temperature_c": air.temperature_c,
        "humidity_percent": air.humidity_percent,
        "dew_point_c": air.dew_point_c,
        "vapour_pressure_pa": air.vapour_pressure_pa,
        "humidity_ratio": air.humidity_ratio,
        "judged": list(judge_air(air).words),
    }


def _box_document(
    volume_l: float, now: Air, wanted: Air, water_g: float, risk: Condensation | None
) -> dict[str, Any]:
    rest = air_at(volume_l, now, wanted.temperature_c)
    held = salts.salts_near(wanted.humidity_percent, wanted.temperature_c)
    return {
        "program": f"lossfill {__version__}",
        "volume_l": volume_l,
        "from": _air_document(now),
        "to": _air_document(wanted),
        "water_g": water_g,
        "without_water": {
            "humidity_percent": rest.air.humidity_percent,
            "condensed_g": rest.condensed_g,
        },
        "wets_at_c": wets_at_c(wanted),
        "coldest": None
        if risk is None
        else {
            "surface_c": risk.surface_c,
            "margin_k": risk.margin_k,
            "wetting": risk.wetting.value,
        },
        "salts": [
            {
                "formula": salt.formula,
                "humidity_percent": percent,
                "from_memory": salt.is_from_memory(wanted.temperature_c),
                "uncertainty_percent_from_memory": salt.uncertainty_percent,
            }
            for salt, percent in held
        ],
        "salts_source": salts.SOURCE,
        "notes": [AIR_ALONE],
        "cautions": list(_cautions(held)),
    }
