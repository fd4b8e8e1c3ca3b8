"""Options that mix, cure and record share: the loss, its materials, and when the work begins."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer


class CoatSideName(StrEnum):
    """Sides of the new skin that are coated."""

    OUTER = "outer"
    INNER = "inner"
    BOTH = "both"


FolderArgument = Annotated[
    Path | None,
    typer.Argument(metavar="DIR", help="Folder that fill wrote.", show_default=False),
]

VolumeOption = Annotated[
    str | None,
    typer.Option(metavar="VOLUME", help="Missing volume, without a scan, such as 1.8ml."),
]
AreaOption = Annotated[
    str | None, typer.Option(metavar="AREA", help="Its skin to be coated, such as 6cm2.")
]
BreakAreaOption = Annotated[
    str | None, typer.Option(metavar="AREA", help="Its break, to be glued, such as 3cm2.")
]
DepthOption = Annotated[
    str | None, typer.Option(metavar="LENGTH", help="Its greatest depth, such as 3mm.")
]

FillWithOption = Annotated[
    list[str] | None,
    typer.Option(
        metavar="[N=]NAME",
        help="Material of the fill, for all losses or for loss N; may be given again.",
    ),
]
JoinWithOption = Annotated[
    str | None, typer.Option(metavar="NAME", help="Adhesive of inserts, or none.")
]
CoatOption = Annotated[
    str | None, typer.Option(metavar="NAME", help="What the fill is coated with, or none.")
]
CoatsOption = Annotated[
    int | None, typer.Option(metavar="N", help="How many coats; as usual without it.")
]
CoatSideOption = Annotated[CoatSideName, typer.Option(help="Side that is coated.")]
MetalOption = Annotated[
    str | None, typer.Option(metavar="NAME", help="Metal powder laid on the fill.")
]
MaterialsOption = Annotated[
    Path | None,
    typer.Option(metavar="FILE", help="Your own materials, over those of the table (TOML)."),
]
WasteOption = Annotated[
    float | None,
    typer.Option(metavar="PERCENT", help="What stays on board and tools; 15 without it."),
]

StartOption = Annotated[
    str | None,
    typer.Option(
        metavar="DATE-TIME",
        help='Soonest start, such as "2026-12-01 09:00"; without it days are counted.',
    ),
]
ZoneOption = Annotated[
    str | None, typer.Option(metavar="NAME", help="Time zone, such as Europe/Berlin.")
]
DaysOffOption = Annotated[
    str | None,
    typer.Option(metavar="LIST", help="Days without work, such as sat,sun,2026-12-24..2026-12-26."),
]
HoursOption = Annotated[
    str, typer.Option(metavar="FROM-TO", help="When a step may begin; 0-24 is at any time.")
]
