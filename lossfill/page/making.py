"""Things made of the design, into the pack: what is ticked is there, and nothing else is."""

from __future__ import annotations

import shutil
import xml.etree.ElementTree as ET
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from lossfill.errors import InputError
from lossfill.page.choices import Choices, Stage, ThingChoices
from lossfill.page.jobs import Job
from lossfill.page.leaving import Tell, fresh_pack, leave

if TYPE_CHECKING:
    from lossfill.make.brief import Brief
    from lossfill.make.made import Made
    from lossfill.make.record import MadeRecord
    from lossfill.make.things import Makings
    from lossfill.make.write import MakeOrder
    from lossfill.mesh import Mesh

VIEW_PREFIX = "thing_"
"""What the names of the views' files begin with."""

BETWEEN_MM = 6.0
"""Free between solids that are shown side by side; enough to tell them apart."""

_MADE_AT, _WRITTEN_AT = 0.75, 0.95
"""Shares of the stage, by what making and writing all things of the demo vessel take."""


def leave_things(job: Job, choices: Choices, tell: Tell) -> None:
    """Make what is ticked of the design in the job's pack, and leave what is shown of it.

    A fresh pack takes the old one's place once it is whole; things that were made earlier and are
    not ticked any more are not in it.

    Raises
    ------
    LossfillError
        With one line that says what is wrong and what to do; the pack is then as it was.
    """
    from lossfill.make.hazards import cautions_of
    from lossfill.make.store import read_design, vessel_name
    from lossfill.make.things import Makings, make_what_suits

    pieces = job.found(Stage.PIECES)
    if pieces is None or not pieces["pieces"]:
        _leave_all(job, {"things": [], "not_made": [], "cautions": []}, {})
        return
    tell("reading the design", 0.0)
    _, every = read_design(job.pack)
    makings, order = Makings((), ()), order_of(choices.things)
    if order is not None:
        # The scan lies in the job under a name of ours; drawings bear the one that it came with.
        vessel = vessel_name(job.read().title)
        wanted = _wanted(every, choices.things.losses)
        briefs = [replace(brief, vessel=vessel) for brief in wanted]
        progress = _part_of(tell, 0.02, _MADE_AT)
        makings = make_what_suits(briefs, order.names, order.settings, progress=progress)
    record = _put_into_pack(job, makings, order, _part_of(tell, _MADE_AT, _WRITTEN_AT))
    tell("drawing the previews", _WRITTEN_AT)
    views: dict[str, bytes] = {}
    content: dict[str, Any] = {
        "things": _things(job.pack, makings, record, views),
        "not_made": [] if record is None else record.model_dump(mode="json")["not_made"],
        "cautions": list(cautions_of({made.thing for made in makings.made})),
    }
    _leave_all(job, content, views)


def order_of(chosen: ThingChoices) -> MakeOrder | None:
    """The choices as making takes them, or None where nothing is ticked.

    Raises
    ------
    InputError
        For a thing that cannot be made, or a shrinkage that cannot be.
    """
    from lossfill.drawing.paper import Paper, PaperSettings
    from lossfill.make.rib import RibSettings
    from lossfill.make.shrink import Shrink
    from lossfill.make.things import MakeSettings, names_of
    from lossfill.make.write import MakeOrder

    if not chosen.names:
        return None
    shrink = Shrink(0.01 * chosen.shrink_percent, 0.01 * chosen.shrink_percent)
    settings = MakeSettings(
        shrink=shrink,
        # A rib shapes the stuff before it shrinks.
        rib=RibSettings(scale=shrink.oversize_across),
        paper=PaperSettings(paper=Paper[chosen.paper.upper()]),
    )
    return MakeOrder(names_of(chosen.names), settings, day=date.today())


def _wanted(briefs: Sequence[Brief], numbers: Sequence[int]) -> list[Brief]:
    wanted = [brief for brief in briefs if not numbers or brief.number in numbers]
    if not wanted:
        told = ", ".join(map(str, numbers))
        raise InputError(f"there is no piece for loss {told} any more: choose the losses again")
    return wanted


def _part_of(tell: Tell, low: float, high: float) -> Callable[[str, float], None]:
    return lambda says, share: tell(says, low + share * (high - low))


def _put_into_pack(
    job: Job, makings: Makings, order: MakeOrder | None, progress: Callable[[str, float], None]
) -> MadeRecord | None:
    from lossfill.make.write import write_makings
    from lossfill.pack.folder import HOLDER_PREFIX, MADE_FORMAT, MADE_NAME, listed_files

    earlier = listed_files(job.pack / MADE_NAME, MADE_FORMAT) or set()
    with fresh_pack(job) as fresh:
        skip = shutil.ignore_patterns(f"{HOLDER_PREFIX}*")
        shutil.copytree(job.pack, fresh, ignore=lambda folder, names: earlier | skip(folder, names))
        if order is None:
            return None
        return write_makings(makings, fresh, order, progress=progress)


def _things(
    pack: Path, makings: Makings, record: MadeRecord | None, views: dict[str, bytes]
) -> list[dict[str, Any]]:
    """What is shown of each thing; the meshes of its solids are added to `views`."""
    if record is None:
        return []
    parts = {(part.thing, part.loss): part.model_dump(mode="json") for part in record.things}
    return [
        parts[made.thing, made.number]
        | {
            "solids": _solids(made, views),
            "drawings": [
                {"name": f"{drawing.name}.svg", "title": drawing.title}
                | _size_of(pack / f"{drawing.name}.svg")
                for drawing in made.drawings
            ],
        }
        for made in makings.made
    ]


def _solids(made: Made, views: dict[str, bytes]) -> list[dict[str, Any]]:
    """The solids of one thing as they stand for printing, side by side along x."""
    from lossfill.mesh import Mesh
    from lossfill.page.shown import thinned, view_bytes
    from lossfill.solids import mesh_from_solid

    shown, at = [], 0.0
    for one in made.solids:
        mesh: Mesh = mesh_from_solid(one.solid)
        low, high = mesh.bounds
        shift = np.array([at - low[0], -0.5 * (low[1] + high[1]), 0.0])
        at += float(high[0] - low[0]) + BETWEEN_MM
        name = f"{VIEW_PREFIX}{one.name}.mesh"
        views[name] = view_bytes(thinned(Mesh(mesh.vertices + shift, mesh.faces)))
        box = np.stack([low + shift, high + shift])
        shown.append({"mesh": name, "title": one.title, "box_mm": box.round(3).tolist()})
    return shown


def _size_of(svg: Path) -> dict[str, float]:
    """Width and height of a drawing of ours, one unit being one millimetre."""
    _, _, width, height = (
        float(word) for word in ET.parse(svg).getroot().attrib["viewBox"].split()
    )
    return {"width_mm": width, "height_mm": height}


def _leave_all(job: Job, content: dict[str, Any], views: dict[str, bytes]) -> None:
    """Leave what is shown, and take away views of what is there no more."""
    leave(job, Stage.THINGS, content, views)
    for path in job.folder.glob(f"{VIEW_PREFIX}*.mesh"):
        if path.name not in views:
            path.unlink()
