"""A backing: a former held against one skin over the gap while putty goes in from the other.

It sits on the real wall with a margin all round and follows the missing skin across the gap, so
that the putty comes out flush.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from lossfill import tolerances as tol
from lossfill.errors import BooleanError, InputError, UnsuitedError
from lossfill.loss.loss import LossKind
from lossfill.make.backing_marks import knob, marks
from lossfill.make.backing_proof import prove_backing
from lossfill.make.brief import Brief, Side
from lossfill.make.former import Ground, ground_of, seat_for, shell_on
from lossfill.make.heights import roughness_of
from lossfill.make.made import Made, MadeSolid
from lossfill.make.section import level_plane, whole_section
from lossfill.mesh import extents, ring_area_mm2
from lossfill.solids import Solid, checked, mesh_from_solid


@dataclass(frozen=True, slots=True)
class BackingSettings:
    """How a backing is made.

    Parameters
    ----------
    side : the skin that it lies on; putty is pressed in from the other
    margin_mm : how far it reaches past the gap: enough wall to find its place on
    thickness_mm : stiff enough under a thumb when printed
    release_offset_mm : room between its face and the skin for cling film or wax
    grip_mm : height of the knob on its back, for two fingers and a thumb; 0 for none
    grip_width_mm : the knob's width
    engraved_mm : depth of the arrow on its back
    """

    side: Literal["inner", "outer"] = "inner"
    margin_mm: float = 10.0
    thickness_mm: float = 4.0
    release_offset_mm: float = 0.1
    grip_mm: float = 18.0
    grip_width_mm: float = 14.0
    engraved_mm: float = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Backing:
    """A backing where it is used, in vessel coordinates.

    Parameters
    ----------
    solid : all of it
    shell : without grip and marks
    ground : what it lies on
    grip_mm : height of its knob as made; 0 for none
    """

    solid: Solid = field(repr=False)
    shell: Solid = field(repr=False)
    ground: Ground
    grip_mm: float


def make_backing(brief: Brief, settings: BackingSettings = BackingSettings()) -> Made:
    """Make the backing of one loss.

    Raises
    ------
    InputError
        Where a setting cannot be used, or where this loss needs no backing.
    BooleanError
        Where none could be built.
    """
    backing = backing_in_place(brief, settings)
    ground = backing.ground
    pose = np.hstack([ground.standing, np.zeros((3, 1))])
    standing = backing.solid.transform(pose)
    low = standing.bounding_box()[:3]
    standing = standing.translate((-low[0], -low[1], -low[2]))
    name = f"{brief.stem}_backing_{settings.side}"
    title = f"Backing for the {settings.side} skin"
    proved, bare = prove_backing(
        backing.shell,
        backing.solid,
        ground,
        release_mm=settings.release_offset_mm,
        margin_mm=settings.margin_mm,
    )
    notes = (*_use(settings, ground), *_limits(brief, settings, backing, bare))
    return Made(
        "backing", brief.number, (MadeSolid(name, title, standing),), proved=proved, notes=notes
    )


def backing_in_place(brief: Brief, settings: BackingSettings = BackingSettings()) -> Backing:
    """The backing where it is used; raises as `make_backing` does."""
    side = _check(brief, settings)
    thick = settings.release_offset_mm + settings.thickness_mm
    ground = ground_of(
        brief, side, margin_mm=settings.margin_mm, thick_mm=thick, grip_mm=settings.grip_mm
    )
    shell = shell_on(
        ground,
        release_mm=settings.release_offset_mm,
        thickness_mm=settings.thickness_mm,
        margin_mm=settings.margin_mm,
    )
    tall = _grip_height(settings, ground, thick)
    solid = _with_grip_and_marks(shell, ground, settings, tall)
    parts = [part for part in solid.decompose() if part.volume() > 1.0]
    if len(parts) != 1:
        raise BooleanError(f"the backing fell into {len(parts)} parts: make it thicker")
    return Backing(parts[0], shell, ground, tall)


def _with_grip_and_marks(
    shell: Solid, ground: Ground, settings: BackingSettings, tall_mm: float
) -> Solid:
    root = 0.375 * settings.grip_width_mm + 1.0
    seat = seat_for(ground, settings.margin_mm, root if tall_mm > 0 else 0.0)
    clear = 0.5 * settings.grip_width_mm + 1.5
    taken = (seat[1] - clear, seat[1] + clear) if tall_mm > 0 else None
    solid = shell - marks(ground, shell, engraved_mm=settings.engraved_mm, taken_mm=taken)
    if tall_mm > 0:
        solid += knob(
            ground,
            seat,
            tall_mm=tall_mm,
            wide_mm=settings.grip_width_mm,
            midst_mm=settings.release_offset_mm + 0.6 * settings.thickness_mm,
            top_mm=settings.release_offset_mm + settings.thickness_mm + tall_mm,
        )
    return checked(solid, "the backing's grip and marks could not be made")


def _check(brief: Brief, settings: BackingSettings) -> Side:
    """Refuse settings that cannot be used, and losses that need no backing."""
    lengths = {
        "margin": (settings.margin_mm, 2 * tol.NOTCH_MM),
        "thickness": (settings.thickness_mm, 2 * settings.engraved_mm + 0.5),
        "room for film": (settings.release_offset_mm, tol.RELEASE_LEAST_MM),
        "grip": (settings.grip_mm, 0.0),
        "grip's width": (settings.grip_width_mm, 4.0),
        "engraving": (settings.engraved_mm, 0.0),
    }
    for name, (value, least) in lengths.items():
        if not least <= value < float("inf"):
            raise InputError(f"the backing's {name} is {value:g} mm: give {least:g} mm or more")
    if settings.grip_mm > tol.FORMER_TALLEST_MM:
        raise InputError(
            f"the backing's grip is {settings.grip_mm:g} mm tall: give "
            f"{tol.FORMER_TALLEST_MM:g} mm or less"
        )
    box = np.asarray(brief.body.bounding_box())
    limit = 0.5 * float(np.median(box[3:] - box[:3]))
    if settings.margin_mm > limit:
        raise InputError(
            f"the backing's margin of {settings.margin_mm:g} mm is larger than the vessel allows: "
            f"give {limit:.0f} mm or less"
        )
    _check_kind(brief)
    return Side.INNER if settings.side == "inner" else Side.OUTER


def _check_kind(brief: Brief) -> None:
    """Refuse losses that need no backing, or that one does not suit."""
    if brief.kind is LossKind.HANDLE:
        raise UnsuitedError(
            f"loss {brief.number} is a handle's: a backing lies on one side of a wall and does not "
            "suit it: make a mould, and press the putty in it"
        )
    one_skin = any(brief.lost.area_mm2(side) == 0.0 for side in (Side.OUTER, Side.INNER))
    if one_skin or brief.kind in (LossKind.SPALL, LossKind.CHIP):
        what = "an edge is chipped" if brief.kind is LossKind.CHIP else "one skin alone is lost"
        raise UnsuitedError(
            f"loss {brief.number} needs no backing: where {what}, the wall behind it holds the "
            "putty"
        )


def _grip_height(settings: BackingSettings, ground: Ground, thick_mm: float) -> float:
    """Height of the knob above the back, mm: less where the far wall is near."""
    tall = min(settings.grip_mm, 0.5 * (ground.free_mm - thick_mm))
    return tall if tall >= tol.GRIP_SHORTEST_MM else 0.0


def _use(settings: BackingSettings, ground: Ground) -> tuple[str, ...]:
    """How it is used."""
    up = "up, to the rim" if ground.up_is_up else "to 12:00"
    film = settings.release_offset_mm
    return (
        f"The arrow on its back points {up}. Hold it in place, and mark the wall at the four "
        "notches in its edge, so that it goes back to the same place.",
        f"Its face stands {film:g} mm off the skin: cover it with cling film or wax of that "
        "thickness, or putty will stick to it.",
        "Print it standing on its edge, as it lies in the file, with a brim: the face then comes "
        "out smooth.",
        "Wear gloves with putty, lacquer and resin, and keep dust out of the air when trimming: "
        "follow the maker's safety data sheet, local rules, and licensed practice.",
    )


def _limits(
    brief: Brief, settings: BackingSettings, backing: Backing, bare: float
) -> tuple[str, ...]:
    """What to know of this one."""
    notes = []
    if backing.ground.lip is not None:
        notes.append(
            "It ends level with the lip here and does not close over it: strike the putty off "
            "along the rim by hand."
        )
    if settings.grip_mm > 0 and backing.grip_mm == 0:
        notes.append("There is no room for a knob: hold it by tape or a strip of putty.")
    elif backing.grip_mm < settings.grip_mm:
        notes.append(f"The knob is {backing.grip_mm:.0f} mm tall, for the far wall is near.")
    if bare > 0.05:
        notes.append(
            f"{100 * bare:.0f} % of its margin lies bare, where a lip, handle, foot or corner "
            "is in the way: check by eye that it sits firmly."
        )
    ridged = _ridged_mm(backing.ground)
    if ridged > tol.FACE_ROUGH_MM:
        notes.append(
            f"The missing skin as it was designed is ridged by up to {ridged:.1f} mm here, and its "
            "face with it: smooth the face with fine paper, or the putty when it is hard."
        )
    return (*notes, *(_mouth(brief, backing) if settings.side == "inner" else ()))


def _ridged_mm(ground: Ground) -> float:
    """Roughness of the missing skin, nineteen of twenty places, mm."""
    rough = roughness_of(ground.plane, ground.heights, ground.past < tol.SECTION_HAIR_MM)
    return float(np.percentile(rough, 95)) if len(rough) else 0.0


def _mouth(brief: Brief, backing: Backing) -> tuple[str, ...]:
    """Whether it can be brought in through the mouth."""
    mouth = mouth_mm(brief, float(backing.ground.centre[2]))
    if mouth is None:
        return ("Whether it goes in through the mouth was not checked: try it first.",)
    sizes = extents(mesh_from_solid(backing.solid).vertices)
    needed = float(np.hypot(sizes[1], sizes[2]))
    if needed <= mouth:
        return ()
    return (
        f"It may not go in through the mouth: it needs {needed:.0f} mm end on, and the mouth is "
        f"{mouth:.0f} mm wide. Make the margin or the grip smaller, or cut it in two.",
    )


def mouth_mm(brief: Brief, above_mm: float) -> float | None:
    """Least width of the vessel's hollow above a height, mm; None where it has none.

    From the profile; without one, the diameter of a circle as large as the hollow at five levels.
    """
    if brief.profile is not None:
        inside = brief.profile.points[: brief.profile.lip + 1]
        above = inside[inside[:, 1] >= above_mm]
        return 2.0 * float(above[:, 0].min()) if len(above) else None
    high = max(brief.body.bounding_box()[5], brief.lost.solid.bounding_box()[5])
    found = []
    for height in np.linspace(above_mm, high, 6)[:-1]:
        rings = whole_section(brief, level_plane(float(height))).to_polygons()
        areas = [ring_area_mm2(np.asarray(ring)) for ring in rings]
        hollow = -min(areas, default=0.0)
        if hollow > 0.0:
            found.append(2.0 * float(np.sqrt(hollow / np.pi)))
    return min(found, default=None)
