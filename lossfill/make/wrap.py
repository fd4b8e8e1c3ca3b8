"""Wraps: the skin of a loss unrolled to a flat paper pattern."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import manifold3d
import numpy as np

from lossfill import tolerances as tol
from lossfill.drawing.model import Anchor, Drawing, Layer, Line, Text
from lossfill.errors import InputError, UnsuitedError
from lossfill.loss.loss import LossKind
from lossfill.make.brief import Brief, Side
from lossfill.make.facing import Facing, facing
from lossfill.make.flatten import (
    Cone,
    Stretch,
    fit_cone,
    flattened,
    harmonic,
    stretch,
    unrolled,
)
from lossfill.make.made import Made, Proved
from lossfill.make.patch import borders, chained, one_patch, thinned, where
from lossfill.make.section import Area
from lossfill.make.wrap_outline import cut_outline, own_edge
from lossfill.mesh import FloatArray, IntArray, Mesh

SMALL_MM, LEAST_WORDS_MM = 18.0, 1.8
"""A wrap that is lower than this, or would need words smaller than this, has them outside."""


@dataclass(frozen=True, slots=True)
class WrapSettings:
    """What may be chosen of a wrap.

    Parameters
    ----------
    side : which skin is unrolled
    margin_mm : paper left beyond the loss, to hold the pattern on the vessel
    """

    side: Literal["outer", "inner"] = "outer"
    margin_mm: float = 0.0

    def __post_init__(self) -> None:
        if self.side not in ("outer", "inner"):
            raise InputError(f"a wrap is of the outer or the inner side, not {self.side!r}")
        if not 0.0 <= self.margin_mm <= 50.0:
            raise InputError(f"a wrap's margin of {self.margin_mm:g} mm cannot be: choose 0 to 50")


def make_wrap(brief: Brief, settings: WrapSettings | None = None) -> Made:
    """Unroll the skin of a loss.

    Raises
    ------
    UnsuitedError
        Where the loss lacks the side, or it is too round to lie flat in one part.
    """
    settings = settings or WrapSettings()
    side = Side.OUTER if settings.side == "outer" else Side.INNER
    patch, left_out = one_patch(brief.lost.faces_of(side))
    view, cone = facing(brief, side), _cone(brief, patch, side)
    if cone is None:
        patch = thinned(patch)
    loops = borders(patch)
    places = laid_flat(brief, patch, view, loops[0], side)
    changed = stretch(patch, places)
    if changed.folded_share > tol.WRAP_FOLDED_SHARE:
        raise UnsuitedError(
            f"the {settings.side} side is too round to lie flat ({100 * changed.folded_share:.1f} "
            "% of it folds over): use gauges, or split the loss"
        )
    places = _set_upright(places, view.places(patch.vertices)[:, 2])
    notes = _notes(settings, _stands(view), cone, changed, left_out)
    ring, missed = cut_outline(brief, patch, places)
    edge = own_edge(brief, patch, places, loops[0], ring)
    drawing = _drawn(brief, patch, places, view, ring, edge, settings, notes)
    proved = _proved(places[loops[0]], missed, cone, changed)
    return Made("wrap", brief.number, drawings=(drawing,), proved=proved, notes=notes)


def _cone(brief: Brief, patch: Mesh, side: Side) -> Cone | None:
    """The cone about the axis that a patch follows, if one."""
    if brief.profile is None or _turns(patch, side) is None:
        return None
    cone = fit_cone(patch.vertices)
    return cone if cone.off_mm <= tol.WRAP_CONE_MM else None


def laid_flat(brief: Brief, patch: Mesh, view: Facing, rim: IntArray, side: Side) -> FloatArray:
    """Where the points of a patch lie flat, (V, 2): on its cone, if one, else with least stretch.

    Parameters
    ----------
    rim : (N,) vertices around its border
    """
    starts = []
    turns = _turns(patch, side) if brief.profile is not None else None
    if turns is not None:
        cone = fit_cone(patch.vertices)
        starts.append(unrolled(cone, patch.vertices, turns))
        if cone.off_mm <= tol.WRAP_CONE_MM:
            return starts[0]
    rows = np.stack([np.cross(view.up, view.out), view.up])
    starts.append((patch.vertices - patch.vertices.mean(axis=0)) @ rows.T)
    for start in starts:
        # Slivers may lie edge on in a start without any fold.
        if stretch(patch, start).folded_share <= tol.WRAP_FOLDED_SHARE:
            return flattened(patch, start)
    return flattened(patch, harmonic(patch, rim))


def _turns(patch: Mesh, side: Side) -> FloatArray | None:
    """Angle about the axis to the right of the patch's middle, or None if it holds the axis."""
    angles = np.arctan2(patch.vertices[:, 1], patch.vertices[:, 0])
    corners = angles[patch.faces]
    steps = np.angle(np.exp(1j * (np.roll(corners, -1, axis=1) - corners)))
    x, y = patch.vertices[:, :2].mean(axis=0)
    turns: FloatArray = np.asarray(np.angle(np.exp(1j * (angles - np.arctan2(y, x)))), np.float64)
    across = turns[patch.faces]
    # Cut at the back, or around the axis itself, a patch would be torn apart.
    torn = (np.ptp(across, axis=1) > np.pi).any() or (np.abs(steps.sum(axis=1)) > 1.0).any()
    if torn or np.hypot(x, y) < 1e-6:
        return None
    return turns if side is Side.OUTER else -turns


def _set_upright(places: FloatArray, up: FloatArray) -> FloatArray:
    """Turn the flat skin so that up on the vessel is up on the paper, its middle at the origin."""
    middle = 0.5 * (places.min(axis=0) + places.max(axis=0))
    off = places - places.mean(axis=0)
    way = np.linalg.lstsq(off, up - up.mean(), rcond=None)[0]
    size = float(np.linalg.norm(way))
    if size < 1e-9:
        return np.asarray(places - middle, np.float64)
    y = way / size
    turned = places @ np.stack([np.array([y[1], -y[0]]), y]).T
    result: FloatArray = turned - 0.5 * (turned.min(axis=0) + turned.max(axis=0))
    return result


def _drawn(
    brief: Brief,
    patch: Mesh,
    places: FloatArray,
    view: Facing,
    ring: FloatArray,
    edge: FloatArray | None,
    settings: WrapSettings,
    notes: tuple[str, ...],
) -> Drawing:
    lines = _outlines(ring, settings.margin_mm)
    high = max(float(line.points[:, 1].max()) for line in lines)
    low = min(float(line.points[:, 1].min()) for line in lines)
    level = _witness(patch, places, view, lines)
    middle = lines[-1].points if lines[-1].layer is Layer.AXIS else np.zeros((2, 2))
    top = float(middle[middle[:, 1].argmax(), 0])
    lines.append(Line(np.array([[top, high], [top, high + 8.0]]), Layer.AXIS))
    arrow = np.array([[-1.5, 5.0], [0.0, 8.0], [1.5, 5.0]]) + np.array([top, high])
    lines.append(Line(arrow, Layer.AXIS))
    texts = [Text((top + 3.0, high + 4.5), "up" if _stands(view) else "top", 3.0)]
    texts += _words(f"loss {brief.number} {settings.side}", level, ring, middle, low)
    if edge is not None and brief.kind is not LossKind.HANDLE:
        lines.append(Line(edge, Layer.MARK))
        texts.append(_edge_word(brief, edge, ring, top, (low, high)))
    return Drawing(
        name=f"{brief.stem}_wrap_{settings.side}",
        title=f"wrap for the {settings.side} side",
        part=brief.part,
        lines=tuple(lines),
        texts=tuple(texts),
        notes=notes,
    )


def _words(
    name: str, level: tuple[str, FloatArray], ring: FloatArray, middle: FloatArray, low: float
) -> list[Text]:
    """The wrap's name and its level's, to the left and right of the upright line if they fit."""
    half = float(ring[:, 0].max())
    words, end = level
    sizes = [0.8 * half / (0.6 * len(one)) for one in (name, words)]
    if min(sizes) < LEAST_WORDS_MM or np.ptp(ring[:, 1]) < SMALL_MM:
        # A small wrap has no room for words: they stand outside.
        right = float(ring[:, 0].max()) + 2.0
        return [
            Text((float(ring[:, 0].mean()), low - 5.0), name, 3.0, Anchor.MIDDLE),
            Text((right, float(end[1]) - 0.8), words, 2.5),
        ]
    x, above = float(middle[:, 0].mean()), float(end[1])
    size = min(sizes[0], 4.0)
    return [
        Text((x - 1.5, above - 3.5 - size), name, size, Anchor.RIGHT),
        Text((x + 1.5, above + 1.0), words, min(sizes[1], 2.5)),
    ]


def _outlines(ring: FloatArray, margin_mm: float) -> list[Line]:
    """What is cut, and within a margin the outline of the loss itself."""
    if margin_mm == 0.0:
        return [Line(ring, Layer.CUT, closed=True)]
    area = Area([ring], manifold3d.FillRule.NonZero)
    wider = area.offset(margin_mm, manifold3d.JoinType.Round, circular_segments=90)
    cut = [Line(np.asarray(polygon), Layer.CUT, closed=True) for polygon in wider.to_polygons()]
    return [*cut, Line(ring, Layer.MARK, closed=True)]


def _witness(
    patch: Mesh, places: FloatArray, view: Facing, lines: list[Line]
) -> tuple[str, FloatArray]:
    """Draw a level line and the middle's line upwards; say its words and where it is highest."""
    across, _, up = view.places(patch.vertices).T
    height = 0.5 * float(up.min() + up.max())
    level = chained(where(patch, places, up, height), 0)
    upright = chained(where(patch, places, across, 0.5 * float(across.min() + across.max())), 1)
    lines += [Line(line, Layer.AXIS) for line in (*level, *upright)]
    points = np.concatenate(level) if level else np.zeros((1, 2))
    above = height if view.about_axis else height + float(view.middle[2])
    words = f"level, {above:.1f} mm up" if _stands(view) else "across the middle"
    return words, points[int(points[:, 1].argmax())]


def _stands(view: Facing) -> bool:
    """Whether up on the paper is up on the vessel: not for a loss that lies flat."""
    return bool(abs(view.up[2]) > 0.99)


def _edge_word(
    brief: Brief, edge: FloatArray, ring: FloatArray, top: float, reach: tuple[float, float]
) -> Text:
    """The name of the part of the outline that is no join but the vessel's own edge."""
    kinds = {LossKind.FOOT: "foot", LossKind.RIM: "rim", LossKind.CHIP: "rim"}
    word = kinds.get(brief.kind, "edge")
    middle, centre = edge[len(edge) // 2], ring.mean(axis=0)
    if np.ptp(ring[:, 1]) < SMALL_MM:
        y = reach[1] + 1.0 if middle[1] > centre[1] else reach[0] - 9.0
        return Text((top - 3.0, y), word, 2.5, Anchor.RIGHT)
    aside = (centre - middle) / max(float(np.linalg.norm(centre - middle)), 1e-9)
    # Inside the paper, to the side of the line that runs upwards.
    at = middle + 4.5 * aside
    if abs(aside[0]) > abs(aside[1]):
        # An edge at the side has the level line before it: the word stands above that.
        return Text((float(at[0]), float(at[1]) + 3.0), word, 2.5, Anchor.MIDDLE)
    return Text((float(at[0]) + 2.5, float(at[1])), word, 2.5)


def _proved(
    rim: FloatArray, missed: float, cone: Cone | None, changed: Stretch
) -> tuple[Proved, ...]:
    after = np.roll(rim, -1, axis=0)
    drawn = 0.5 * float((rim[:, 0] * after[:, 1] - rim[:, 1] * after[:, 0]).sum())
    once = Area([rim], manifold3d.FillRule.NonZero).area()
    proved = [
        Proved("share of the wrap that lies on itself", abs(drawn - once) / once, 1e-4),
        Proved("share by which the outline's area misses the skin's", missed, tol.WRAP_AREA_SHARE),
        Proved("share turned over", changed.folded_share, tol.WRAP_FOLDED_SHARE),
    ]
    if cone is not None:
        proved.append(Proved("distance of the skin from its cone, mm", cone.off_mm,
                             tol.WRAP_CONE_MM))  # fmt: skip
    return tuple(proved)


def _notes(
    settings: WrapSettings, stands: bool, cone: Cone | None, changed: Stretch, left_out: float
) -> tuple[str, ...]:
    seen = "outside" if settings.side == "outer" else "inside"
    notes = [
        "This is the new skin's outline. Cut it out and hold it over the loss, printed side to "
        f"you, seen from {seen}, "
        + ("the arrow up on the vessel" if stands else "turned until it fits")
        + ": its edge follows the joins. Trace it to cut tape, cloth, wax or leaf to size.",
        f"Tongues and notches narrower than {2.0 * tol.WRAP_ROUND_MM:g} mm are rounded off.",
    ]
    if cone is not None:
        notes.append("The skin follows a cone or a cylinder: the wrap is exact, without stretch.")
    else:
        notes.append(
            f"Laid flat with least stretch: lengths change by {changed.largest_percent:.1f} % at "
            f"most and {changed.mean_percent:.1f} % on average, the area by "
            f"{round(changed.area_percent, 1) + 0.0:+.1f} %."
        )
    if cone is None and changed.largest_percent > tol.WRAP_DARTS_PERCENT:
        notes.append(
            "The skin is curved both ways: cut darts in from the edge until the paper lies down, "
            "or use thin tape in strips."
        )
    if settings.margin_mm > 0.0:
        notes.append(f"The marked line is the loss; {settings.margin_mm:g} mm of paper lie beyond.")
    if left_out > 1e-3:
        notes.append(f"{100 * left_out:.1f} % of this side lies apart and is not in the wrap.")
    return tuple(notes)
