"""The commands and their options."""

from __future__ import annotations

import io
import sys
from collections.abc import Sequence
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from lossfill import __version__
from lossfill import tolerances as tol
from lossfill.cli.failures import exit_code_of
from lossfill.cli.options import (
    AtOption,
    EdgeName,
    FilletOption,
    ProcessOption,
    SetbackEdgeOption,
    SetbackInsideOption,
    SetbackOutsideOption,
    SplitOption,
    in_range,
    pointed_at,
)

if TYPE_CHECKING:
    from lossfill.road import Settings

app = typer.Typer(
    name="lossfill",
    help="From a scan of a mended vessel with missing pieces to a piece that fills each loss.",
    epilog="Exit codes: 0 done, 2 the input cannot be used, 1 a fault of lossfill.",
    rich_markup_mode=None,
    add_completion=False,
    pretty_exceptions_enable=False,
)


class UnitName(StrEnum):
    """Names of length units as typed; the member names are those of `lossfill.Unit`."""

    MILLIMETRE = "mm"
    CENTIMETRE = "cm"
    METRE = "m"
    INCH = "in"
    MICRON = "micron"
    FOOT = "ft"


class FormName(StrEnum):
    """Ways to find the missing form, as typed."""

    REVOLVE = "revolve"
    MIRROR = "mirror"
    TURN = "turn"
    TWIN = "twin"
    BRIDGE = "bridge"


ScanArgument = Annotated[
    Path,
    typer.Argument(
        metavar="SCAN", help="The scan: STL, PLY, OBJ, OFF, GLB, glTF, 3MF or XYZ points."
    ),
]
UnitsOption = Annotated[
    UnitName | None,
    typer.Option("--units", help="Unit of the file's numbers, where the file does not state it."),
]
WallOption = Annotated[
    float | None,
    typer.Option(
        "--wall",
        metavar="MM",
        help="Thickness of the wall, for a scan of the outside only.",
        callback=lambda value: in_range(value, *tol.WALL_RANGE_MM, "measure the wall at a break"),
    ),
]
RimOption = Annotated[
    float | None,
    typer.Option(
        "--rim-diameter",
        metavar="MM",
        help="Diameter of the rim as measured on the pot; scales a scan of unknown scale.",
        callback=lambda value: in_range(
            value, tol.RIM_LEAST_MM, tol.LARGEST_VESSEL_MM, "measure over the outside of the lip"
        ),
    ),
]
JsonOption = Annotated[
    bool, typer.Option("--json", help="Print one JSON document instead of the summary.")
]
FormOption = Annotated[
    FormName | None,
    typer.Option(
        "--form", help="How to find the missing form; without it, what fits the wall best."
    ),
]
RepeatsOption = Annotated[
    int | None,
    typer.Option(
        "--repeats",
        min=2,
        max=tol.REPEAT_MAX,
        help="How often the shape comes again around the turn.",
    ),
]
TwinOption = Annotated[
    Path | None,
    typer.Option("--twin", metavar="SCAN", help="Scan of another vessel of the set."),
]
TwinScaleOption = Annotated[
    bool, typer.Option("--twin-scale", help="Bring the twin to this vessel's size first.")
]
SeedOption = Annotated[
    int, typer.Option("--seed", min=0, help="Seed of every random choice; same seed, same files.")
]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code.

    Parameters
    ----------
    arguments : words after ``lossfill``; None takes those of the process
    """
    words = list(sys.argv[1:] if arguments is None else arguments)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # A terminal that cannot show × or ± gets a question mark, not a failure.
            stream.reconfigure(errors="replace")
    return exit_code_of(lambda: app(args=words, prog_name="lossfill", standalone_mode=False), words)


def _show_version(wanted: bool) -> None:
    if wanted:
        print(f"lossfill {__version__}")
        raise typer.Exit


@app.callback()
def options(
    _version: Annotated[
        bool,
        typer.Option(
            "--version", callback=_show_version, is_eager=True, help="Show the version and stop."
        ),
    ] = False,
) -> None:
    """Hold the options that need no command."""


@app.command()
def fill(
    scan: ScanArgument,
    units: UnitsOption = None,
    clearance: Annotated[
        float,
        typer.Option(
            callback=lambda value: in_range(
                value, 0.0, tol.CLEARANCE_MAX_MM, "0.15 mm suits a thin adhesive"
            ),
            metavar="MM",
            help="Gap for adhesive along the break, 0 to 1 mm.",
        ),
    ] = 0.15,
    setback_outside: SetbackOutsideOption = 0.0,
    setback_inside: SetbackInsideOption = 0.0,
    setback_edge: SetbackEdgeOption = EdgeName.FADE,
    process: ProcessOption = None,
    fillet: FilletOption = 0.0,
    split: SplitOption = False,
    make: Annotated[
        str | None,
        typer.Option(
            metavar="LIST",
            help="Also make things: piece, mould, backing, rib, gauges, wrap, stack, or all.",
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR",
            help="Folder for the files; without it, one named after the scan, here.",
        ),
    ] = None,
    wall: WallOption = None,
    rim_diameter: RimOption = None,
    as_json: JsonOption = False,
    no_pictures: Annotated[
        bool,
        typer.Option("--no-pictures", help="Leave pictures and treatment record out; saves time."),
    ] = False,
    form: FormOption = None,
    repeats: RepeatsOption = None,
    twin: TwinOption = None,
    twin_scale: TwinScaleOption = False,
    at: AtOption = None,
    seed: SeedOption = 1,
) -> None:
    """Make a piece for each loss; write its files and pictures."""
    from lossfill.cli.commands import run_fill

    folder = default_folder(scan) if out is None else out
    settings = _settings(units, seed, wall, rim_diameter)
    settings = _with_form(settings, form, repeats, twin, twin_scale)
    settings = replace(settings, pointed_at=pointed_at(at))
    settings = replace(
        settings,
        clearance_mm=clearance,
        setback_outside_mm=setback_outside or 0.0,
        setback_inside_mm=setback_inside or 0.0,
        setback_edge="step" if setback_edge is EdgeName.STEP else "fade",
        process=None if process is None else process.value,
        fillet_mm=fillet or 0.0,
        split=split,
    )
    run_fill(scan, settings, folder, pictures=not no_pictures, make=make, as_json=as_json)


@app.command()
def inspect(
    scan: ScanArgument,
    units: UnitsOption = None,
    wall: WallOption = None,
    rim_diameter: RimOption = None,
    as_json: JsonOption = False,
    seed: SeedOption = 1,
) -> None:
    """Say how large and how round the vessel is. Writes nothing."""
    from lossfill.cli.commands import run_inspect

    run_inspect(scan, _settings(units, seed, wall, rim_diameter), as_json=as_json)


@app.command()
def measure(
    scan: ScanArgument,
    units: UnitsOption = None,
    wall: WallOption = None,
    rim_diameter: RimOption = None,
    as_json: JsonOption = False,
    form: FormOption = None,
    repeats: RepeatsOption = None,
    twin: TwinOption = None,
    twin_scale: TwinScaleOption = False,
    at: AtOption = None,
    seed: SeedOption = 1,
) -> None:
    """Measure the losses, before you mix. Writes nothing."""
    from lossfill.cli.commands import run_measure

    settings = _settings(units, seed, wall, rim_diameter)
    settings = _with_form(settings, form, repeats, twin, twin_scale)
    settings = replace(settings, pointed_at=pointed_at(at))
    run_measure(scan, settings, as_json=as_json)


def default_folder(scan: Path) -> Path:
    """Folder in the current one, named after the scan: tea_bowl_scan.ply gives tea_bowl_fill."""
    return Path(f"{scan.stem.removesuffix('_scan')}_fill")


def _with_form(
    settings: Settings,
    form: FormName | None,
    repeats: int | None,
    twin: Path | None,
    twin_scaled: bool,
) -> Settings:
    if twin_scaled and twin is None:
        raise typer.BadParameter("--twin-scale scales a twin: give its scan with --twin")
    return replace(
        settings,
        form=None if form is None else str(form.value),
        repeats=repeats,
        twin=twin,
        twin_scaled=twin_scaled,
    )


def _settings(
    units: UnitName | None, seed: int, wall_mm: float | None, rim_diameter_mm: float | None
) -> Settings:
    from lossfill.road import Settings
    from lossfill.scan.scan import Unit

    return Settings(
        units=None if units is None else Unit[units.name],
        seed=seed,
        wall_mm=wall_mm,
        rim_diameter_mm=rim_diameter_mm,
    )
