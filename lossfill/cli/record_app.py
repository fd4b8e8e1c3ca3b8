"""The command that writes the treatment record, and its options."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from lossfill.cli.app import JsonOption, app
from lossfill.cli.make_app import PaperName
from lossfill.cli.work_options import (
    CoatOption,
    CoatSideName,
    CoatSideOption,
    CoatsOption,
    DaysOffOption,
    FillWithOption,
    FolderArgument,
    HoursOption,
    JoinWithOption,
    MaterialsOption,
    MetalOption,
    StartOption,
    WasteOption,
    ZoneOption,
)


@app.command()
def record(
    folder: FolderArgument = None,
    object_: Annotated[
        Path | None,
        typer.Option(
            "--object", metavar="FILE", help="What you know of object and treatment (TOML)."
        ),
    ] = None,
    field: Annotated[
        list[str] | None,
        typer.Option(metavar="KEY=VALUE", help="One field of it; may be given again."),
    ] = None,
    blank: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write an empty file of all fields, and stop."),
    ] = None,
    day: Annotated[
        str | None,
        typer.Option(
            "--date", metavar="YYYY-MM-DD", help="Date of the record; a line to fill in without it."
        ),
    ] = None,
    paper: Annotated[PaperName, typer.Option(help="Paper of the PDF.")] = PaperName.A4,
    start: StartOption = None,
    zone: ZoneOption = None,
    days_off: DaysOffOption = None,
    hours: HoursOption = "9-17",
    fill_with: FillWithOption = None,
    join_with: JoinWithOption = None,
    coat: CoatOption = None,
    coats: CoatsOption = None,
    coat_side: CoatSideOption = CoatSideName.BOTH,
    metal: MetalOption = None,
    materials: MaterialsOption = None,
    waste: WasteOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write the record of examination and treatment: a PDF, and an HTML file."""
    from lossfill.cli.mix_options import choice_of
    from lossfill.cli.record_commands import Told, run_blank, run_record
    from lossfill.cure import DaysOff, PlanSettings, days_off_of, hours_of, start_of
    from lossfill.drawing.paper import Paper

    if blank is not None:
        run_blank(blank)
        return
    if folder is None:
        raise typer.BadParameter("give the folder that fill wrote, or --blank with a file's name")
    choice = choice_of(
        fill_with=tuple(fill_with or ()),
        join_with=join_with,
        coat_with=coat,
        coats=coats,
        coat_sides=coat_side.value,
        metal_with=metal,
        waste_percent=waste,
    )
    plan = PlanSettings(
        start=None if start is None else start_of(start),
        zone=zone,
        days_off=DaysOff() if days_off is None else days_off_of(days_off),
        hours=hours_of(hours),
    )
    told = Told(object_, tuple(field or ()), day, Paper[paper.name])
    run_record(folder, told, choice, plan, materials, as_json=as_json)
