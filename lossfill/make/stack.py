"""A stack: layers of board, sawn and laminated into a block from which the piece is carved.

Each layer's outline is the piece's shadow over the layer's thickness, grown by what the knife
needs.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import manifold3d
import numpy as np

from lossfill import tolerances as tol
from lossfill.errors import InputError
from lossfill.make.brief import Brief, BriefPiece, Side
from lossfill.make.made import Made, MadeSolid, Proved
from lossfill.make.section import Area
from lossfill.make.stack_sheet import (
    Placed,
    overlap_mm2,
    page_for,
    place_on_sheets,
    sheet_drawing,
)
from lossfill.mesh import FloatArray, face_vectors, unit
from lossfill.solids import Solid, checked, mesh_from_solid


@dataclass(frozen=True, slots=True)
class StackSettings:
    """How a stack is made.

    Parameters
    ----------
    board_mm : thickness of the board or veneer, as it is after planing
    allowance_mm : wood left all round to carve away
    direction : stacked along the piece's thinnest extent (fewest layers), along the way it slides
        in, or along the vessel's axis
    grain_deg : turn of the grain from the piece's longest extent, counter-clockwise
    alternating : whether every other layer's grain lies across, against warping
    dowel_mm : diameter of the two dowels; 0 for none
    sheet_mm : width and height of a sheet of board; None for sheets that print on one page, or as
        large as the largest layer needs
    gap_mm : between layers on the sheet: the saw's cut and room to hold
    """

    board_mm: float = 3.0
    allowance_mm: float = 1.0
    direction: Literal["thinnest", "entry", "axis"] = "thinnest"
    grain_deg: float = 0.0
    alternating: bool = False
    dowel_mm: float = 3.0
    sheet_mm: tuple[float, float] | None = None
    gap_mm: float = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Stack:
    """A stack where its piece stands, the first layer's lower face on z = 0.

    Parameters
    ----------
    piece : the piece, its longest extent along x
    layers : outline of each layer from the lowest up, with its dowel holes
    dowels : (D, 2) their middles, mm
    dowelled : the layers that they run through
    board_mm : thickness of a layer
    """

    piece: Solid = field(repr=False)
    layers: tuple[Area, ...] = field(repr=False)
    dowels: FloatArray
    dowelled: range
    board_mm: float

    @property
    def solid(self) -> Solid:
        """The layers glued up, without their dowel holes' plugs."""
        slabs = [
            manifold3d.Manifold.extrude(layer, self.board_mm).translate((0, 0, k * self.board_mm))
            for k, layer in enumerate(self.layers)
        ]
        glued = manifold3d.Manifold.batch_boolean(slabs, manifold3d.OpType.Add)
        return checked(glued, "the layers could not be stacked")


def make_stack(brief: Brief, settings: StackSettings = StackSettings()) -> Made:
    """Make the stacks of one loss: one for each of its pieces.

    Raises
    ------
    InputError
        Where a setting cannot be used.
    """
    _check(settings)
    solids, drawings, proved, notes = [], [], [], list(_USE)
    for piece in brief.pieces:
        stack = stack_of(piece.solid, piece.entry, settings)
        name = f"{brief.stem}_stack" + ("" if len(brief.pieces) == 1 else f"_{piece.name}")
        lies = f"Piece {piece.name}: layer 1 lies {_towards(brief, piece, settings)}."
        size = settings.sheet_mm or page_for(stack.layers, settings.gap_mm)
        sheets = place_on_sheets(stack.layers, size, settings.gap_mm)
        for number, sheet in enumerate(sheets, start=1):
            drawings.append(
                sheet_drawing(
                    sheet,
                    stack.layers,
                    name=f"{name}_sheet_{number}",
                    title=f"stack of piece {piece.name}"
                    + (f", board {number} of {len(sheets)}" if len(sheets) > 1 else ""),
                    part=brief.part,
                    grain_deg=settings.grain_deg,
                    alternating=settings.alternating,
                    sheet_mm=settings.sheet_mm,
                    notes=(lies,),
                )
            )
        solid = stack.solid
        solids.append(MadeSolid(name, f"Stack of piece {piece.name}, glued up", solid))
        proved += _prove(stack, solid, sheets, settings)
        notes += _of_stack(piece.name, stack, settings)
        notes.append(lies)
    return Made("stack", brief.number, tuple(solids), tuple(drawings), tuple(proved), tuple(notes))


def _towards(brief: Brief, piece: BriefPiece, settings: StackSettings) -> str:
    """Where on the vessel the lowest layer lies, in words."""
    z = _upright(piece.solid, piece.entry, settings)[2]
    outside = bool((brief.lost.side == int(Side.OUTER)).any())
    vectors = face_vectors(brief.lost.faces_of(Side.OUTER if outside else Side.INNER))
    out = unit(vectors.sum(axis=0)) * (1.0 if outside else -1.0)
    facing = float(z @ out)
    if abs(facing) > 0.5:
        return (
            "towards the inside of the vessel" if facing > 0.0 else "on the outside of the vessel"
        )
    return "lowest on the vessel" if z[2] > 0.0 else "highest on the vessel"


def stack_of(solid: Solid, entry: FloatArray, settings: StackSettings = StackSettings()) -> Stack:
    """Slice one piece into layers.

    Parameters
    ----------
    solid : the piece
    entry : (3,) unit; the way it slides in
    """
    turned = solid.transform(np.hstack([_upright(solid, entry, settings), np.zeros((3, 1))]))
    box = turned.bounding_box()
    tall = box[5] - box[2] + 2 * settings.allowance_mm
    # A whole number of boards to the last digit must not cost one more.
    count = max(int(np.ceil(tall / settings.board_mm - 1e-6)), 1)
    spare = 0.5 * (count * settings.board_mm - tall)
    piece = turned.translate((0.0, 0.0, settings.allowance_mm + max(spare, 0.0) - box[2]))
    outlines = [_outline(piece, k, settings) for k in range(count)]
    dowels, through = _dowels(outlines, settings)
    layers = list(outlines)
    for k in through:
        for x, y in dowels:
            hole = Area.circle(0.5 * settings.dowel_mm, 48).translate((float(x), float(y)))
            layers[k] = layers[k] - hole
    return Stack(piece, tuple(layers), dowels, through, settings.board_mm)


def _outline(piece: Solid, k: int, settings: StackSettings) -> Area:
    """Shadow of the piece over one layer and the allowance above and below, grown."""
    low = k * settings.board_mm - settings.allowance_mm
    high = (k + 1) * settings.board_mm + settings.allowance_mm
    slab = piece.trim_by_plane((0.0, 0.0, 1.0), low).trim_by_plane((0.0, 0.0, -1.0), -high)
    shadow = Area(slab.project().to_polygons(), manifold3d.FillRule.Positive)
    grown = shadow.offset(
        settings.allowance_mm + tol.STACK_HAIR_MM, manifold3d.JoinType.Round, 2.0, 64
    )
    return grown.simplify(0.5 * tol.STACK_HAIR_MM)


def _upright(solid: Solid, entry: FloatArray, settings: StackSettings) -> FloatArray:
    """(3, 3) rotation: z along the stack, x along the piece's longest extent across it."""
    vertices = mesh_from_solid(solid).vertices
    if settings.direction == "entry":
        z = unit(np.asarray(entry, dtype=float))
    elif settings.direction == "axis":
        z = np.array([0.0, 0.0, 1.0])
    else:
        z = _thinnest(vertices)
    first = np.eye(3)[int(np.argmin(np.abs(z)))]
    x = unit(first - (first @ z) * z)
    y = np.cross(z, x)
    flat = vertices @ np.stack([x, y], axis=1)
    turns = np.radians(np.arange(0.0, 180.0, 1.0))
    spans = np.ptp(flat @ np.stack([np.cos(turns), np.sin(turns)]), axis=0)
    # The longest extent lies across the narrowest, which is told more sharply.
    narrow = turns[int(np.argmin(spans))]
    y_best = np.cos(narrow) * x + np.sin(narrow) * y
    return np.stack([np.cross(y_best, z), y_best, z])


def _thinnest(vertices: FloatArray) -> FloatArray:
    """The direction in which the piece is thinnest: least extent over its hull's faces, (3,).

    A hull is thinnest across one of its faces or across two of its edges; faces and the axes tried
    here come within a hair of it for pieces of a wall.
    """
    from scipy.spatial import ConvexHull

    hull = ConvexHull(vertices)
    tried = np.concatenate([np.eye(3), np.unique(np.round(hull.equations[:, :3], 6), axis=0)])
    spans = np.ptp(vertices[hull.vertices] @ tried.T, axis=0)
    return unit(tried[int(np.argmin(spans))])


def _dowels(outlines: list[Area], settings: StackSettings) -> tuple[FloatArray, range]:
    """Two places with wood about them in as many layers in a row as can be, far apart."""
    if settings.dowel_mm == 0.0:
        return np.zeros((0, 2)), range(0)
    need = 0.5 * settings.dowel_mm + tol.DOWEL_WALL_MM
    count = len(outlines)
    for length in range(count, 1, -1):
        for start in range(count - length + 1):
            common = Area.batch_boolean(
                outlines[start : start + length], manifold3d.OpType.Intersect
            )
            room = common.offset(-need, manifold3d.JoinType.Round, 2.0, 64)
            rings = room.to_polygons()
            if not rings:
                continue
            corners = np.concatenate([np.asarray(ring) for ring in rings])
            ends = corners[[int(np.argmin(corners[:, 0])), int(np.argmax(corners[:, 0]))]]
            # Nearer together they would tear the wood between them.
            if np.linalg.norm(ends[1] - ends[0]) >= settings.dowel_mm + tol.DOWEL_WALL_MM:
                return ends, range(start, start + length)
    return np.zeros((0, 2)), range(0)


def _prove(
    stack: Stack, solid: Solid, sheets: list[list[Placed]], settings: StackSettings
) -> list[Proved]:
    """The piece lies inside with its allowance; nothing overlaps on the sheets."""
    plugged = solid
    for x, y in stack.dowels:
        tall = len(stack.layers) * stack.board_mm
        plug = manifold3d.Manifold.cylinder(tall, 0.5 * settings.dowel_mm + 0.02, -1.0, 48)
        # A dowel is wood too, but only in the layers that it runs through.
        low, high = stack.dowelled.start, stack.dowelled.stop
        cut = plug.translate((float(x), float(y), 0.0)).trim_by_plane(
            (0.0, 0.0, 1.0), low * stack.board_mm
        )
        plugged = plugged + cut.trim_by_plane((0.0, 0.0, -1.0), -high * stack.board_mm)
    moved = [stack.piece.translate(tuple(step)) for step in settings.allowance_mm * _AROUND]
    outside = max(float((some - plugged).volume()) for some in moved)
    return [
        Proved(
            "volume of the piece, moved by its allowance every way, outside the stack, mm³",
            outside,
            tol.STACK_OUTSIDE_MM3,
        ),
        Proved(
            "area that layers share on the sheets, mm²",
            overlap_mm2(sheets, stack.layers, settings.gap_mm),
            1e-6,
        ),
    ]


def _check(settings: StackSettings) -> None:
    if not 0.0 < settings.board_mm < float("inf"):
        raise InputError(f"the board is {settings.board_mm:g} mm thick: give more than 0 mm")
    least = {
        "allowance": settings.allowance_mm,
        "dowel": settings.dowel_mm,
        "gap between layers": settings.gap_mm,
    }
    for name, value in least.items():
        if not 0.0 <= value < float("inf"):
            raise InputError(f"the stack's {name} is {value:g} mm: give 0 mm or more")
    if not np.isfinite(settings.grain_deg):
        raise InputError("the turn of the grain is not a number: give degrees, such as 90")


def _of_stack(name: str, stack: Stack, settings: StackSettings) -> list[str]:
    """What to know of this stack."""
    notes = [f"Piece {name}: {len(stack.layers)} layers of {settings.board_mm:g} mm."]
    if settings.dowel_mm > 0 and len(stack.dowelled) == 0:
        notes.append(
            f"Piece {name}: too small for two dowels of {settings.dowel_mm:g} mm: line the layers "
            "up by the outline marked on each."
        )
    elif len(stack.dowelled) < len(stack.layers) and settings.dowel_mm > 0:
        first, last = stack.dowelled.start + 1, stack.dowelled.stop
        notes.append(
            f"Piece {name}: the dowels run through layers {first} to {last}; line the others up by "
            "the outline marked on each."
        )
    return notes


_AROUND = np.concatenate([np.zeros((1, 3)), np.eye(3), -np.eye(3)])
"""Nowhere, and one step each way along the axes."""

_USE = (
    "Glue the print on the board with the arrows along its grain, saw along the cut lines, and "
    "glue the layers in the order of their numbers, 1 at the bottom, printed sides up; where the "
    "next layer does not reach the edge, a thin line shows where it ends. Then carve the piece.",
    "Wood swells and shrinks with the air's moisture: let the board rest in the room first.",
    "Sawing and carving cut skin and make dust: hold the work, wear a mask, and follow the tool's "
    "instructions, the glue's safety data sheet, local rules and licensed practice.",
)
