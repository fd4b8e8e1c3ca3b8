"""The commands about the air in which lacquer cures, and their options."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from lossfill.cli.app import JsonOption, app


class DateOrderName(StrEnum):
    """Orders of the numbers in a date, as typed."""

    DAY_FIRST = "day-first"
    MONTH_FIRST = "month-first"
    ISO = "iso"


@app.command()
def air(
    log: Annotated[
        Path, typer.Argument(metavar="LOG", help="A logger's CSV: time, temperature, humidity.")
    ],
    fahrenheit: Annotated[
        bool | None,
        typer.Option(
            "--fahrenheit/--celsius", help="Unit of its temperatures, where it does not say so."
        ),
    ] = None,
    dates: Annotated[
        DateOrderName | None,
        typer.Option(help="Order of day and month in its dates, where it does not show."),
    ] = None,
    needed_hours: Annotated[
        str | None,
        typer.Option(metavar="HOURS", help="Hours in range before the next coat: 24, or 24-48."),
    ] = None,
    temperature: Annotated[
        str | None,
        typer.Option(metavar="LOW-HIGH", help="Range that counts as fit: 20-30, or 68F-86F."),
    ] = None,
    humidity: Annotated[
        str | None,
        typer.Option(metavar="LOW-HIGH", help="Relative humidity that counts as fit: 65-85."),
    ] = None,
    plot: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Draw the log into this PNG file.")
    ] = None,
    salt: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME=READING",
            help="What the logger showed above a salt, NaCl=73.5@21C; may be given again.",
        ),
    ] = None,
    surface: Annotated[
        str | None,
        typer.Option(metavar="TEMP", help="Coldest surface in the box: was it wet?"),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Judge a logger's file: was the air fit for lacquer, how long, and what remains."""
    from lossfill.cli.air_commands import LogOrder, run_air

    order = LogOrder(
        fahrenheit=fahrenheit,
        dates=None if dates is None else dates.value,
        needed_hours=needed_hours,
        temperature=temperature,
        humidity=humidity,
        plot=plot,
        salts=tuple(salt or ()),
        surface=surface,
    )
    run_air(log, order, as_json=as_json)


@app.command()
def box(
    size: Annotated[
        str,
        typer.Option(
            metavar="LxWxH", help="Inner size in mm, 400x300x300; or litres, 36l. Needed."
        ),
    ],
    start: Annotated[
        str, typer.Option("--from", metavar="AIR", help="Its air now, 21C,45% or 70F,45%. Needed.")
    ],
    end: Annotated[
        str, typer.Option("--to", metavar="AIR", help="Its air as wanted, 25C,75%. Needed.")
    ],
    coldest: Annotated[
        str | None,
        typer.Option(metavar="TEMP", help="Coldest surface in it, 19C: does it get wet?"),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Say how much water a damp box needs, and when it would get wet. Writes nothing."""
    from lossfill.cli.box_commands import run_box

    run_box(size, start, end, coldest, as_json=as_json)
