"""The command that tells how much to mix, and its options."""

from __future__ import annotations

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
    DepthOption,
    FillWithOption,
    FolderArgument,
    JoinWithOption,
    MaterialsOption,
    MetalOption,
    VolumeOption,
    WasteOption,
)


@app.command()
def mix(
    folder: FolderArgument = None,
    volume: VolumeOption = None,
    area: AreaOption = None,
    break_area: BreakAreaOption = None,
    depth: DepthOption = None,
    clearance: Annotated[
        str | None,
        typer.Option(metavar="LENGTH", help="Gap along its break; 0.15mm without it."),
    ] = None,
    fill_with: FillWithOption = None,
    join_with: JoinWithOption = None,
    coat: CoatOption = None,
    coats: CoatsOption = None,
    coat_side: CoatSideOption = CoatSideName.BOTH,
    metal: MetalOption = None,
    materials: MaterialsOption = None,
    waste: WasteOption = None,
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
