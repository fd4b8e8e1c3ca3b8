"""The command that makes things of a design, and its options."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from lossfill.cli.app import JsonOption, UnitsOption, app
from lossfill.cli.options import (
    ClearanceOption,
    FilletOption,
    ProcessOption,
    SetbackEdgeOption,
    SetbackInsideOption,
    SetbackOutsideOption,
    SplitOption,
)

if TYPE_CHECKING:
    from lossfill.make.things import MakeSettings


_Settings = TypeVar("_Settings")


class PaperName(StrEnum):
    """Sheets of paper."""

    A4 = "a4"
    LETTER = "letter"


class SideName(StrEnum):
    """Sides of a wall."""

    INNER = "inner"
    OUTER = "outer"


class VariantName(StrEnum):
    """How a mould is filled."""

    PRESS = "press"
    POUR = "pour"


class SectionName(StrEnum):
    """Which section a rib follows."""

    HERE = "here"
    ROUND = "round"


@app.command()
def make(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder that fill wrote.")],
    names: Annotated[
        list[str],
        typer.Argument(
            metavar="NAME...",
            help="piece, mould, backing, rib, gauges, wrap, stack, or all.",
        ),
    ],
    loss: Annotated[
        list[int] | None, typer.Option(min=1, help="Only for this loss; may be given again.")
    ] = None,
    formats: Annotated[
        str, typer.Option(metavar="LIST", help="Files of solids: stl, 3mf, ply, glb, obj.")
    ] = "stl,3mf",
    paper: Annotated[PaperName, typer.Option(help="Paper for drawings.")] = PaperName.A4,
    day: Annotated[
        str | None,
        typer.Option("--date", metavar="YYYY-MM-DD", help="Date on drawings; today without it."),
    ] = None,
    shrink: Annotated[
        float, typer.Option(metavar="PERCENT", help="How much the print, paste or clay shrinks.")
    ] = 0.0,
    shrink_along: Annotated[
        float | None,
        typer.Option(
            metavar="PERCENT",
            help="The same upright in a print or along a mould's pull, where it differs.",
        ),
    ] = None,
    side: Annotated[
        SideName | None, typer.Option(help="Side of the wall for backing, rib, gauges, wrap.")
    ] = None,
    margin: Annotated[
        float | None, typer.Option(metavar="MM", help="How far a backing or a gauge reaches on.")
    ] = None,
    variant: Annotated[VariantName, typer.Option(help="How the mould is filled.")] = (
        VariantName.PRESS
    ),
    mould_wall: Annotated[
        float | None, typer.Option(metavar="MM", help="Thickness of the mould's wall.")
    ] = None,
    section: Annotated[SectionName, typer.Option(help="Section that a rib follows.")] = (
        SectionName.HERE
    ),
    levels: Annotated[int | None, typer.Option(help="Level gauge cards.")] = None,
    uprights: Annotated[int | None, typer.Option(help="Upright gauge cards.")] = None,
    card: Annotated[
        float | None, typer.Option(metavar="MM", help="Thickness of the gauge card.")
    ] = None,
    board: Annotated[
        float | None, typer.Option(metavar="MM", help="Thickness of a stack's layers.")
    ] = None,
    sheet: Annotated[
        str | None, typer.Option(metavar="WxH", help="Sheet that a stack is cut from, mm.")
    ] = None,
    allowance: Annotated[
        float | None, typer.Option(metavar="MM", help="Wood left all round to carve away.")
    ] = None,
    grain: Annotated[
        float | None, typer.Option(metavar="DEG", help="Turn of a stack's grain.")
    ] = None,
    wood: Annotated[
        str | None, typer.Option(metavar="NAME", help='Wood of an insert, such as "black walnut".')
    ] = None,
    humidity: Annotated[
        str | None,
        typer.Option(metavar="LOW-HIGH", help="Relative humidity it will live in, percent."),
    ] = None,
    clearance: ClearanceOption = None,
    setback_outside: SetbackOutsideOption = None,
    setback_inside: SetbackInsideOption = None,
    setback_edge: SetbackEdgeOption = None,
    process: ProcessOption = None,
    fillet: FilletOption = None,
    split: SplitOption = False,
    as_json: JsonOption = False,
) -> None:
    """Make things of a design that fill wrote: print files, moulds, backings, templates."""
    from lossfill.cli.make_commands import Anew, run_make
    from lossfill.drawing.paper import Paper, PaperSettings
    from lossfill.make.formats import formats_of
    from lossfill.make.shrink import Shrink
    from lossfill.make.things import MakeSettings, names_of
    from lossfill.make.write import MakeOrder

    if humidity is not None and wood is None:
        raise typer.BadParameter("--humidity tells what a wood lives in: name it with --wood")
    across = 0.01 * shrink
    settings = MakeSettings(
        shrink=Shrink(across if shrink_along is None else 0.01 * shrink_along, across),
        paper=PaperSettings(paper=Paper[paper.name]),
    )
    settings = _with_side(settings, side)
    settings = replace(
        settings,
        mould=_changed(settings.mould, variant=variant.value, wall_mm=mould_wall),
        backing=_changed(settings.backing, margin_mm=margin),
        rib=_changed(settings.rib, section=section.value, scale=1.0 / (1.0 - across)),
        gauges=_changed(
            settings.gauges, margin_mm=margin, levels=levels, uprights=uprights, card_mm=card
        ),
        stack=_changed(
            settings.stack,
            board_mm=board,
            sheet_mm=None if sheet is None else _two(sheet, "x", "--sheet", "300x200"),
            allowance_mm=allowance,
            grain_deg=grain,
        ),
    )
    order = MakeOrder(names_of(names), settings, formats_of(formats), _day(day))
    anew = Anew(
        clearance_mm=clearance,
        setback_outside_mm=setback_outside,
        setback_inside_mm=setback_inside,
        setback_edge=None if setback_edge is None else setback_edge.value,
        process=None if process is None else process.value,
        fillet_mm=fillet,
        split=split,
        wood=wood,
        humidity=None if humidity is None else _two(humidity, "-", "--humidity", "40-65"),
    )
    run_make(folder, order, tuple(loss or ()), anew, as_json=as_json)


@app.command()
def check(
    scan: Annotated[
        Path, typer.Argument(metavar="PIECE_SCAN", help="Scan of the piece that was made.")
    ],
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder that fill wrote.")],
    piece: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Which piece it is, such as 1 or 2b."),
    ] = None,
    units: UnitsOption = None,
    no_pictures: Annotated[bool, typer.Option("--no-pictures", help="Draw no picture.")] = False,
    as_json: JsonOption = False,
) -> None:
    """Hold a made piece against its design: what is off, and will it go in."""
    from lossfill.cli.make_commands import run_check
    from lossfill.scan.scan import Unit

    unit = None if units is None else Unit[units.name]
    run_check(scan, folder, piece, unit, picture=not no_pictures, as_json=as_json)


def _changed(settings: _Settings, **values: object) -> _Settings:
    """The settings with the values that were given."""
    given = {name: value for name, value in values.items() if value is not None}
    result: _Settings = replace(settings, **given)  # type: ignore[type-var]
    return result


def _with_side(settings: MakeSettings, side: SideName | None) -> MakeSettings:
    if side is None:
        return settings
    return replace(
        settings,
        backing=_changed(settings.backing, side=side.value),
        rib=_changed(settings.rib, side=side.value),
        gauges=_changed(settings.gauges, side=side.value),
        wrap=_changed(settings.wrap, side=side.value),
    )


def _two(words: str, between: str, option: str, example: str) -> tuple[float, float]:
    try:
        first, second = (float(word) for word in words.lower().split(between))
    except ValueError:
        raise typer.BadParameter(
            f"{option} {words!r} is not two numbers such as {example}"
        ) from None
    return first, second


def _day(words: str | None) -> date:
    if words is None:
        return date.today()
    try:
        return datetime.strptime(words, "%Y-%m-%d").date()
    except ValueError:
        raise typer.BadParameter(f"{words!r} is not a date such as 2026-01-31") from None
