"""The command that plans the work in time, and its options."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from lossfill.cli.app import JsonOption, app
from lossfill.cli.work_options import (
    AreaOption,
    BreakAreaOption,
    CoatOption,
    CoatSideName,
    CoatSideOption,
    CoatsOption,
    DaysOffOption,
    DepthOption,
    FillWithOption,
    FolderArgument,
    HoursOption,
    JoinWithOption,
    MaterialsOption,
    MetalOption,
    StartOption,
    VolumeOption,
    ZoneOption,
)


class WaitsName(StrEnum):
    """Which of the usual waits the plan goes by."""

    USUAL = "usual"
    LEAST = "least"
    MOST = "most"


@app.command()
def cure(
    folder: FolderArgument = None,
    start: StartOption = None,
    zone: ZoneOption = None,
    days_off: DaysOffOption = None,
    hours: HoursOption = "9-17",
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
    volume: VolumeOption = None,
    area: AreaOption = None,
    break_area: BreakAreaOption = None,
    depth: DepthOption = None,
    fill_with: FillWithOption = None,
    join_with: JoinWithOption = None,
    coat: CoatOption = None,
    coats: CoatsOption = None,
    coat_side: CoatSideOption = CoatSideName.BOTH,
    metal: MetalOption = None,
    materials: MaterialsOption = None,
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
