"""The command that writes the treatment record, and its options."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from lossfill.cli.app import JsonOption, app
from lossfill.cli.make_app import PaperName
from lossfill.cli.mix_app import CoatSideName


@app.command()
def record(
    folder: Annotated[
        Path | None,
        typer.Argument(metavar="DIR", help="Folder that fill wrote.", show_default=False),
    ] = None,
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
    start: Annotated[
        str | None,
        typer.Option(metavar="TIME", help='Start of the plan, such as "2026-12-01 09:00".'),
    ] = None,
    zone: Annotated[
        str | None, typer.Option(metavar="NAME", help="Time zone, such as Europe/Berlin.")
    ] = None,
    days_off: Annotated[
        str | None,
        typer.Option(metavar="LIST", help="Days without work, such as sat,sun."),
    ] = None,
    hours: Annotated[
        str, typer.Option(metavar="FROM-TO", help="When a step may begin; 0-24 is at any time.")
    ] = "9-17",
    fill_with: Annotated[
        list[str] | None,
        typer.Option(metavar="[N=]NAME", help="Material of the fill, as for mix."),
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
    waste: Annotated[
        float | None,
        typer.Option(metavar="PERCENT", help="What stays on board and tools; 15 without it."),
    ] = None,
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
