"""The command that tells how much to mix, and its options."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from lossfill.cli.app import JsonOption, app


class CoatSideName(StrEnum):
    """Sides of the new skin that are coated."""

    OUTER = "outer"
    INNER = "inner"
    BOTH = "both"


@app.command()
def mix(
    folder: Annotated[
        Path | None,
        typer.Argument(metavar="DIR", help="Folder that fill wrote.", show_default=False),
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
    clearance: Annotated[
        str | None,
        typer.Option(metavar="LENGTH", help="Gap along its break; 0.15mm without it."),
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
    waste: Annotated[
        float | None,
        typer.Option(metavar="PERCENT", help="What stays on board and tools; 15 without it."),
    ] = None,
    humidity: Annotated[
        str | None,
        typer.Option(metavar="LOW-HIGH", help="Air that a wood insert will live in, percent."),
    ] = None,
    explain: Annotated[
        bool, typer.Option("--explain", help="Show every step from mm³ to gram.")
    ] = False,
    list_: Annotated[
        bool, typer.Option("--list", help="List the materials that are known, and stop.")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Tell how much of which material to mix, in how many batches and layers."""
    from lossfill.cli.mix_commands import Given, run_list, run_mix
    from lossfill.cli.mix_options import choice_of

    if list_:
        run_list(materials, as_json=as_json)
        return
    given = Given(volume, area, break_area, depth, clearance)
    choice = choice_of(
        fill_with=tuple(fill_with or ()),
        join_with=join_with,
        coat_with=coat,
        coats=coats,
        coat_sides=coat_side.value,
        metal_with=metal,
        waste_percent=waste,
        humidity=humidity,
    )
    run_mix(folder, given, choice, materials, explain=explain, as_json=as_json)
