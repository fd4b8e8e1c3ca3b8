"""The two halves of a mould about a cavity, cut from one block; the pull is +z here."""

from __future__ import annotations

from dataclasses import dataclass, field

import manifold3d
import numpy as np
from scipy.ndimage import distance_transform_edt, maximum_filter

from lossfill import tolerances as tol
from lossfill.errors import BooleanError
from lossfill.make.mould_settings import MouldSettings
from lossfill.make.parting import Parting, is_inside, make_parting, spread
from lossfill.make.section import Area
from lossfill.mesh import FloatArray
from lossfill.nearest import Surface
from lossfill.solids import Solid, checked, mesh_from_solid

_ROUND = manifold3d.JoinType.Round


@dataclass(frozen=True, slots=True, eq=False)
class Halves:
    """Both halves as they stand when closed.

    Parameters
    ----------
    lower, upper : the halves
    block : both and all that is between them
    cavity : what is cast: the piece and what lies under its overhangs
    hollows : what else is cut out of a half: keys' seats and the channel, not what runs out through
        the top
    outlets : sprue and vents
    parting : where they meet
    steepest_deg : the steepest that they meet within the block
    """

    lower: Solid = field(repr=False)
    upper: Solid = field(repr=False)
    block: Solid = field(repr=False)
    cavity: Solid = field(repr=False)
    hollows: tuple[Solid, ...] = field(repr=False)
    outlets: tuple[Solid, ...] = field(repr=False)
    parting: Parting
    steepest_deg: float


def make_halves(below: Solid, above: Solid, settings: MouldSettings) -> Halves:
    """Cut both halves.

    Parameters
    ----------
    below, above : the piece as large as it is pressed with all that lies straight below it, and
        above it, to well past the block

    Raises
    ------
    BooleanError
        Where a half is not in one part.
    """
    cavity = checked(below ^ above, "the cavity could not be cut")
    margin = _margin_mm(settings)
    floor, ceiling = below.bounding_box()[2], above.bounding_box()[5]
    # Near floor and ceiling the shadows are upright, so that a level cut shows what they cover.
    outline = below.slice(floor + 0.1) ^ above.slice(ceiling - 0.1)
    parting = make_parting(cavity, outline, margin)
    spots = _key_spots(parting, settings)
    block = _block(cavity, parting, spots, settings)
    under = parting.below(floor)
    # The land laps over the cavity's rough edge: two walls that only nearly coincide would leave
    # fins and films between them.
    inner = parting.outline.offset(-tol.MOULD_LAP_MM, manifold3d.JoinType.Miter)
    well = inner.extrude(ceiling - floor).translate((0, 0, floor))
    land_under = under - well
    land_over = (_slab(parting, floor + 1.0, ceiling) - under) - well
    seats = [_key(*spot, settings, settings.key_clearance_mm) for spot in spots]
    hollows = _channels(parting, under, settings, ceiling)
    outlets = (
        _outlets(cavity, parting, block.bounding_box()[5], settings)
        if settings.variant == "pour"
        else []
    )
    upper = _without(block, [below, land_under, *seats, *outlets])
    lower = _without(block, [above, land_over, *hollows])
    lower = manifold3d.Manifold.batch_boolean(
        [lower, *(_key(*spot, settings, 0.0) for spot in spots)], manifold3d.OpType.Add
    )
    return Halves(
        _in_one_part(lower, "lower"),
        _in_one_part(upper, "upper"),
        block,
        cavity,
        (*hollows, *seats),
        tuple(outlets),
        parting,
        parting.steepest_deg(parting.outline.hull().offset(margin, _ROUND) - parting.outline),
    )


def _without(solid: Solid, cuts: list[Solid]) -> Solid:
    # One after the other: the cuts touch each other all along the edge, and joining them is slow.
    for cut in cuts:
        solid = solid - cut
    return solid


def _in_one_part(half: Solid, which: str) -> Solid:
    """The half without crumbs that rounding left; what is more than a crumb is an error."""
    parts = sorted(half.decompose(), key=lambda part: float(part.volume()), reverse=True)
    if not parts or any(part.volume() > tol.MOULD_CRUMB_MM3 for part in parts[1:]):
        raise BooleanError(f"the {which} half of the mould is in {len(parts)} parts")
    return checked(parts[0], f"the {which} half of the mould could not be cut")


def _margin_mm(settings: MouldSettings) -> float:
    """From the piece's outline to the block's side."""
    key = 2 * (settings.key_radius_mm + settings.key_clearance_mm) if settings.keys else 0.0
    return _key_inset_mm(settings) + key + settings.wall_mm


def _key_inset_mm(settings: MouldSettings) -> float:
    """From the piece's outline to the nearer side of a key."""
    channel = settings.flash_width_mm if settings.variant == "press" else 0.0
    return settings.land_mm + channel + (0.5 * settings.land_mm if settings.keys else 0.0)


def _slab(parting: Parting, low_mm: float, high_mm: float) -> Solid:
    """All over the parting surface's grid, a little within it."""
    wide = parting.x[-1] - parting.x[0], parting.y[-1] - parting.y[0]
    inset = 1e-3 * min(wide)
    box = manifold3d.Manifold.cube((wide[0] - 2 * inset, wide[1] - 2 * inset, high_mm - low_mm))
    return box.translate((parting.x[0] + inset, parting.y[0] + inset, low_mm))


def _key_spots(
    parting: Parting, settings: MouldSettings
) -> list[tuple[float, float, float, float]]:
    """Where keys stand: x, y, and the heights from which and to which they reach, mm.

    Their steps along the way around are uneven, so that the halves close one way only; of all
    turns the one with the most level ground is taken.
    """
    n = settings.keys
    if not n:
        return []
    out = _key_inset_mm(settings) + settings.key_radius_mm + settings.key_clearance_mm
    way = spread(max(
        (np.asarray(loop) for loop in parting.outline.hull().offset(out, _ROUND).to_polygons()),
        key=len,
    ), 0.5)  # fmt: skip
    rise = np.array([_rise(parting, spot, settings) for spot in way])
    steps = np.arange(n) / n
    steps[1:] += tol.MOULD_KEYS_UNEVEN / n
    turns = (steps * len(way)).astype(int) + np.arange(len(way))[:, None]
    best = turns[int(np.argmin(rise[turns % len(way)].max(axis=1)))] % len(way)
    spots = []
    for x, y in way[best]:
        around = parting.at(_disc(np.array([x, y]), settings))
        top = max(float(parting.at(np.array([[x, y]]))[0]) + settings.key_height_mm,
                  float(around.max()) + 0.5 * settings.key_height_mm)  # fmt: skip
        spots.append((float(x), float(y), float(around.min()) - 0.5, top))
    return spots


def _disc(middle: FloatArray, settings: MouldSettings) -> FloatArray:
    turn = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    wide = settings.key_radius_mm + settings.key_clearance_mm
    return np.asarray(middle + wide * np.stack([np.cos(turn), np.sin(turn)], axis=1))


def _rise(parting: Parting, middle: FloatArray, settings: MouldSettings) -> float:
    return float(np.ptp(parting.at(_disc(middle, settings))))


def _key(
    x: float, y: float, foot: float, top: float, settings: MouldSettings, gap_mm: float
) -> Solid:
    """A cone as wide as asked at its foot; its seat is the same, wider and deeper by the gap."""
    tall = top - foot
    lean = np.tan(np.radians(settings.draft_deg))
    wide = settings.key_radius_mm + gap_mm
    cone = manifold3d.Manifold.cylinder(
        tall + gap_mm, wide, max(wide - lean * (tall + gap_mm), 0.3), 48
    )
    return cone.translate((x, y, foot))


def _channels(
    parting: Parting, under: Solid, settings: MouldSettings, ceiling: float
) -> list[Solid]:
    """The channel that takes the surplus, a ring about the outline, cut into the lower half."""
    if settings.variant != "press" or not settings.flash_width_mm * settings.flash_depth_mm:
        return []
    near = parting.outline.offset(settings.land_mm, _ROUND)
    ring = near.offset(settings.flash_width_mm, _ROUND) - near
    floor = float(parting.height.min()) - settings.flash_depth_mm - 1.0
    prism = ring.extrude(ceiling - floor).translate((0, 0, floor))
    return [(prism ^ under) - under.translate((0, 0, -settings.flash_depth_mm))]


def _block(
    cavity: Solid,
    parting: Parting,
    spots: list[tuple[float, float, float, float]],
    settings: MouldSettings,
) -> Solid:
    """A block about all, widest half-way up, its flanks leaning in from there both ways."""
    outline = parting.outline.hull().offset(_margin_mm(settings), _ROUND).simplify(0.02)
    meeting = parting.within(outline)
    box = cavity.bounding_box()
    pressed = settings.variant == "press" and settings.flash_width_mm > 0
    channel = settings.flash_depth_mm if pressed else 0.0
    low = min(box[2], float(meeting.min()) - channel, *(spot[2] for spot in spots))
    high = max(box[5], float(meeting.max()),
               *(spot[3] + settings.key_clearance_mm for spot in spots))  # fmt: skip
    low, high = low - settings.wall_mm, high + settings.wall_mm
    middle = 0.5 * (low + high)
    # The flanks lean, so that the block starts wider by as much, and keeps its wall all the way.
    lean = np.tan(np.radians(settings.draft_deg)) * 0.5 * (high - low)
    rings = [(outline, low), (outline.offset(lean, _ROUND), middle), (outline, high)]
    points = [
        np.column_stack([np.concatenate([np.asarray(p) for p in ring.to_polygons()]),
                         np.full(ring.num_vert(), z)])
        for ring, z in rings
    ]  # fmt: skip
    return manifold3d.Manifold.hull_points(np.concatenate(points))


def _outlets(cavity: Solid, parting: Parting, top: float, settings: MouldSettings) -> list[Solid]:
    """A sprue through the upper half where the piece is broadest, and vents at its high points."""
    nodes = np.stack(np.meshgrid(parting.x, parting.y, indexing="ij"), axis=-1).reshape(-1, 2)
    shape = parting.height.shape
    inside = is_inside(parting.outline, nodes).reshape(shape)
    cell = float(parting.x[1] - parting.x[0])
    deep = distance_transform_edt(inside) * cell
    surface = Surface(mesh_from_solid(cavity))
    start = np.column_stack([nodes, np.full(len(nodes), top)])
    gone, _ = surface.along_rays(start, np.broadcast_to([0.0, 0.0, -1.0], start.shape))
    heights = np.where(np.isfinite(gone), top - gone, -np.inf).reshape(shape)
    sprue = nodes[int(np.argmax(deep))]
    wide = max(settings.vent_mm, tol.MOULD_VENT_ROOM_MM)
    fits = deep >= 0.5 * settings.vent_mm + cell
    heights[~fits] = -np.inf
    reach = 2 * int(np.ceil(wide / cell)) + 1
    peaks = np.isfinite(heights) & (heights == maximum_filter(heights, reach))
    order = np.argsort(-heights[peaks], kind="stable")
    spots = [sprue]
    for spot in nodes[peaks.ravel()][order]:
        room = wide + 0.5 * settings.sprue_mm
        if min(np.linalg.norm(spot - other) for other in spots) > room:
            spots.append(spot)
    sizes = [settings.sprue_mm] + [settings.vent_mm] * settings.vents
    return [
        _outlet(spot, size, parting, cavity.bounding_box()[2], top, settings)
        for spot, size in zip(spots, sizes, strict=False)
    ]


def _outlet(
    spot: FloatArray, wide_mm: float, parting: Parting, low: float, top: float,
    settings: MouldSettings,
) -> Solid:  # fmt: skip
    """A hole that narrows upwards, so that the upper half lifts off the stub in it."""
    tall = top - low + 1.0
    lean = np.tan(np.radians(settings.draft_deg)) * tall
    hole = manifold3d.Manifold.cylinder(tall, 0.5 * wide_mm + lean, 0.5 * wide_mm, 32)
    within: Area = parting.outline.offset(-tol.MOULD_LAP_MM, manifold3d.JoinType.Miter)
    # Never past the outline, where it would open a gap in the land.
    guard = within.extrude(tall).translate((0, 0, low))
    return hole.translate((float(spot[0]), float(spot[1]), low)) ^ guard
