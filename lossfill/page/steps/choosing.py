"""What may be chosen before mixing: the materials, and when a person works."""

from __future__ import annotations

from typing import Any

from nicegui import ui

from lossfill.mix.settings import NO_MATERIAL, MixSettings
from lossfill.page.choices import MixChoices, Stage
from lossfill.page.context import Context
from lossfill.page.mixing import mix_settings, plan_settings
from lossfill.page.steps.parts import paragraph
from lossfill.page.steps.taking import group, take
from lossfill.page.words import mix as words

Part = dict[str, Any]

AS_RECOMMENDED = ""
"""Stands for it in a list of names."""


def choosing(context: Context, found: Part) -> None:
    """Put the choices on the page; they are taken all at once, and all is reckoned with them."""
    chosen = context.state.choices.mix
    with group(words.CHOOSE):
        paragraph(words.CHOOSE_SAYS, "quiet")
        materials = _Materials(chosen, found)
    with group(words.WHEN):
        times = _Times(chosen)
    take(context, Stage.MIX, words.APPLY, lambda: checked(materials.values() | times.values()))


def checked(values: dict[str, Any]) -> dict[str, Any]:
    """Refuse what cannot be reckoned with.

    Raises
    ------
    InputError
        With one sentence.
    """
    chosen = MixChoices(**values)
    mix_settings(chosen)
    plan_settings(chosen)
    return values


def options(names: list[str], recommended: str | None) -> dict[str, str]:
    """What a list offers: as recommended, none, and every name."""
    told = recommended or words.NONE.lower()
    head = {AS_RECOMMENDED: words.RECOMMENDED.format(name=told), NO_MATERIAL: words.NONE}
    return head | {name: name for name in names}


def days_off_words(days: list[str], dates: str) -> str:
    """Days of the week and dates, as the plan takes them."""
    return ",".join([*days, *filter(None, (one.strip() for one in dates.split(",")))])


def days_off_parts(told: str) -> tuple[list[str], str]:
    """The same taken apart again."""
    every = [one for one in told.split(",") if one]
    days = [one for one in every if one in words.DAYS]
    return days, ", ".join(one for one in every if one not in words.DAYS)


class _Materials:
    """A list of names for each use."""

    def __init__(self, chosen: MixChoices, found: Part) -> None:
        usual, known = MixSettings(), found["materials"]
        fills = dict(chosen.fill_with)
        self._fills = {
            loss["number"]: _select(
                words.FILL_FOR.format(number=loss["number"]),
                options(known["fill"], loss["recommended"]),
                fills.get(loss["number"]),
            )
            for loss in found["losses"]
        }
        self._join = _select(words.JOIN, options(known["join"], usual.join_with), chosen.join_with)
        self._coat = _select(words.COAT, options(known["coat"], usual.coat_with), chosen.coat)
        self._sides = _select(words.SIDES, words.SIDE_NAMES, chosen.coat_sides)
        self._metal = _select(words.METAL, options(known["metal"], usual.metal_with), chosen.metal)

    def values(self) -> dict[str, Any]:
        """What is chosen now."""
        return {
            "fill_with": tuple(
                (number, one.value) for number, one in self._fills.items() if one.value
            ),
            "join_with": self._join.value or None,
            "coat": self._coat.value or None,
            "coat_sides": self._sides.value,
            "metal": self._metal.value or None,
        }


class _Times:
    """The start, the hours and the days off."""

    def __init__(self, chosen: MixChoices) -> None:
        day, _, time = (chosen.start or "").partition("T")
        opens, _, closes = chosen.hours.partition("-")
        days, dates = days_off_parts(chosen.days_off)
        with ui.element("div").classes("setting"):
            self._day = ui.input(words.START, value=day).props("type=date stack-label")
            self._day.classes("wide")
            paragraph(words.START_SAYS)
        self._time = ui.input(words.START_TIME, value=time[:5]).props("type=time stack-label")
        self._time.classes("wide")
        hours = {str(hour): words.HOUR.format(hour=hour) for hour in range(25)}
        self._opens = _select(words.OPENS, hours, opens)
        self._closes = _select(words.CLOSES, hours, closes)
        with (
            ui.element("div")
            .classes("setting")
            .props(f'role="group" aria-label="{words.DAYS_OFF}"')
        ):
            ui.label(words.DAYS_OFF)
            self._days = {
                key: ui.checkbox(name, value=key in days).props("dense").classes("day")
                for key, name in words.DAYS.items()
            }
        with ui.element("div").classes("setting"):
            self._dates = ui.input(words.DATES_OFF, value=dates).classes("wide")
            paragraph(words.DATES_OFF_SAYS)

    def values(self) -> dict[str, Any]:
        """What is chosen now."""
        days = [key for key, box in self._days.items() if box.value]
        day, time = (str(one.value or "").strip() for one in (self._day, self._time))
        return {
            "start": None if not day else f"{day}T{time}" if time else day,
            "hours": f"{self._opens.value}-{self._closes.value}",
            "days_off": days_off_words(days, self._dates.value or ""),
        }


def _select(name: str, choices: dict[str, str], value: str | None) -> ui.select:
    # A material that the table no longer has counts as not chosen.
    shown = value if value in choices else next(iter(choices))
    with ui.element("div").classes("setting"):
        return ui.select(choices, label=name, value=shown).classes("wide")
