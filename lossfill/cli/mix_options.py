"""From words on the command line to what is chosen for a mix; the record and the plan share it."""

from __future__ import annotations

from lossfill.errors import InputError
from lossfill.mix.settings import MixSettings, Sides


def choice_of(
    *,
    fill_with: tuple[str, ...] = (),
    join_with: str | None = None,
    coat_with: str | None = None,
    coats: int | None = None,
    coat_sides: Sides = "both",
    metal_with: str | None = None,
    waste_percent: float | None = None,
    humidity: str | None = None,
) -> MixSettings:
    """The settings of a mix; None keeps a setting's own default.

    Parameters
    ----------
    fill_with : names of materials, with "N=" before that of one loss alone
    humidity : such as "40-65"
    others : as in `MixSettings`

    Raises
    ------
    InputError
        For what cannot be read, or a setting out of its range.
    """
    for_all, for_some = _fills(fill_with)
    values: dict[str, object] = {
        "fill_with": for_all,
        "join_with": join_with,
        "coat_with": coat_with,
        "coats": coats,
        "metal_with": metal_with,
        "waste_share": None if waste_percent is None else 0.01 * waste_percent,
        "humidity_percent": None if humidity is None else _range(humidity),
    }
    told = {name: value for name, value in values.items() if value is not None}
    return MixSettings(fill_for=for_some, coat_sides=coat_sides, **told)  # type: ignore[arg-type]


def _fills(every: tuple[str, ...]) -> tuple[str | None, dict[int, str]]:
    for_all: str | None = None
    for_some: dict[int, str] = {}
    for words in every:
        number, parted, name = words.rpartition("=")
        if not name.strip():
            raise InputError(f"--fill-with {words!r} names no material: give one, such as 2=beech")
        if not parted:
            if for_all is not None:
                raise InputError(
                    f"--fill-with names both '{for_all}' and '{name}' for all losses: give one of "
                    f"them its loss, such as 2={name}"
                )
            for_all = name
        elif not number.strip().isdecimal():
            raise InputError(f"--fill-with {words!r}: '{number}' is no loss; write 2={name}")
        elif int(number) in for_some:
            raise InputError(f"--fill-with names two materials for loss {int(number)}: give one")
        else:
            for_some[int(number)] = name
    return for_all, for_some


def _range(words: str) -> tuple[float, float]:
    try:
        low, high = (float(word) for word in words.split("-"))
    except ValueError:
        raise InputError(f"--humidity {words!r} is not two numbers such as 40-65") from None
    return low, high
