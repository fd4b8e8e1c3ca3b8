"""The command that plans the work in time, and its options."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from lossfill.cli.app import JsonOption, app
from lossfill.cli.mix_app import CoatSideName


class WaitsName(StrEnum):
    """Which of the usual waits the plan goes by."""

    USUAL = "usual"
    LEAST = "least"
    MOST = "most"


@app.command()
def cure(
    folder: Annotated[
        Path | None,
        typer.Argument(metavar="DIR", help="Folder that fill wrote.", show_default=False),
    ] = None,
    start: Annotated[
        str | None,
        typer.Option(
            metavar="DATE-TIME",
            help='Soonest start, such as "2026-12-01 09:00"; without it days are counted.',
        ),
    ] = None,
    zone: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Time zone, such as Europe/Berlin."),
    ] = None,
    days_off: Annotated[
        str | None,
        typer.Option(
            metavar="LIST", help="Days without work, such as sat,sun,2026-12-24..2026-12-26."
        ),
    ] = None,
    hours: Annotated[
        str, typer.Option(metavar="FROM-TO", help="When a step may begin; 0-24 is at any time.")
    ] = "9-17",
    waits: Annotated[
        WaitsName, typer.Option(help="Plan by the least or the most usual waits, or midway.")
    ] = WaitsName.USUAL,
    step: Annotated[
        float, typer.Option(metavar="MINUTES", help="Time at the bench for each step.")
    ] = 30.0,
    temperature: Annotated[
        float | None, typer.Option(metavar="°C", help="Temperature in the damp box.")
    ] = None,
    humidity: Annotated[
        float | None, typer.Option(metavar="PERCENT", help="Relative humidity in the damp box.")
    ] = None,
    calendar: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write the plan as an iCalendar file.")
    ] = None,
    title: Annotated[
        str | None,
        typer.Option(
            metavar="WORDS", help="Name of the vessel in the calendar; else the folder's."
        ),
    ] = None,
    volume: Annotated[
        str | None,
        typer.Option(metavar="VOLUME", help="Missing volume, without a scan, such as 1.8ml."),
    ] = None,
    area: Annotated[
        str | None, typer.Option(metavar="AREA", help="Its skin to be coated, such as 6cm2.")
    ] = None,
    break_area: Annotated[
        str | None, typer.Option(metavar="AREA", help="Its break, to be glued, such as 3cm2.")
    ] = None,
    depth: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="Its greatest depth, such as 3mm.")
    ] = None,
    fill_with: Annotated[
        list[str] | None,
        typer.Option(
            metavar="[N=]NAME",
            help="Material of the fill, for all losses or for loss N; may be given again.",
        ),
    ] = None,
    join_with: Annotated[
        str | None, typer.Option(metavar="NAME", help="Adhesive of inserts, or none.")
    ] = None,
    coat: Annotated[
        str | None, typer.Option(metavar="NAME", help="What the fill is coated with, or none.")
    ] = None,
    coats: Annotated[
        int | None, typer.Option(metavar="N", help="How many coats; as usual without it.")
    ] = None,
    coat_side: Annotated[
        CoatSideName, typer.Option(help="Side that is coated.")
    ] = CoatSideName.BOTH,
    metal: Annotated[
        str | None, typer.Option(metavar="NAME", help="Metal powder laid on the fill.")
    ] = None,
    materials: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Your own materials, over those of the table (TOML)."),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Plan the work: which step when, which losses share it, and how long to wait."""
    from lossfill.cli.cure_commands import Wanted, run_cure
    from lossfill.cli.mix_commands import Given
    from lossfill.cli.mix_options import choice_of
    from lossfill.cure import DaysOff, PlanSettings, days_off_of, hours_of, start_of

    settings = PlanSettings(
        start=None if start is None else start_of(start),
        zone=zone,
        days_off=DaysOff() if days_off is None else days_off_of(days_off),
        hours=hours_of(hours),
        waits=waits.value,
        step_min=step,
        temperature_c=temperature,
        humidity_percent=humidity,
    )
    choice = choice_of(
        fill_with=tuple(fill_with or ()),
        join_with=join_with,
        coat_with=coat,
        coats=coats,
        coat_sides=coat_side.value,
        metal_with=metal,
    )
    given = Given(volume, area, break_area, depth)
    wanted = Wanted(calendar=calendar, title=title, as_json=as_json)
    run_cure(folder, given, choice, materials, settings, wanted)
