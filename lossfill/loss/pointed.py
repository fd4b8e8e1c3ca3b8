"""What is missing where a person pointed, and what is said where nothing is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from lossfill import tolerances as tol
from lossfill.frame.frame import Frame
from lossfill.loss.faces import Faces, break_depth_mm
from lossfill.loss.loss import Loss
from lossfill.loss.measure import Missing, clock
from lossfill.mesh import FloatArray
from lossfill.nearest import Surface
from lossfill.solids import Solid, mesh_from_solid

NOT_POINTED = (
    "a loss can be pointed at on a vessel with an axis alone: what was pointed at is left aside"
)


def pointed_parts(
    losses: Sequence[Missing], others: Sequence[Missing], frame: Frame, places: FloatArray
) -> list[Missing]:
    """Of what is too small to be listed by itself, the part nearest to each place.

    Parameters
    ----------
    losses : what is listed anyway; a place nearer to one of these asks for nothing more
    others : what else is missing
    places : (N, 3) vessel coordinates
    """
    points = _in_scan(frame, places)
    candidates = [part for part in others if _is_worth_filling(part)]
    reached = [np.minimum(_distance(part.solid, points), np.inf) for part in candidates]
    listed = [_distance(part.solid, points) for part in losses]
    least = np.min(listed, axis=0) if listed else np.full(len(points), np.inf)
    chosen: set[int] = set()
    for k in range(len(points)):
        away = [float(distance[k]) for distance in reached]
        if not away:
            break
        nearest = int(np.argmin(away))
        if away[nearest] < min(float(least[k]), tol.POINTED_REACH_MM):
            chosen.add(nearest)
    return [candidates[nearest] for nearest in sorted(chosen)]


def nothing_there(losses: Sequence[Loss], frame: Frame, places: FloatArray) -> tuple[str, ...]:
    """A sentence for each place within whose reach nothing is missing.

    Parameters
    ----------
    losses : all that were found
    places : (N, 3) vessel coordinates
    """
    if not len(places):
        return ()
    points = _in_scan(frame, places)
    distances = [_distance(loss.solid, points) for loss in losses]
    least = np.min(distances, axis=0) if distances else np.full(len(points), np.inf)
    told = []
    for (x, y, z), away in zip(places, least, strict=True):
        if away < tol.POINTED_REACH_MM:
            continue
        told.append(
            f"nothing was found missing where you pointed, at "
            f"{clock(float(np.degrees(np.arctan2(y, x))))} and {z:.0f} mm above the foot: what is "
            f"there takes less than {tol.POINTED_VOLUME_MM3:g} mm³ or is shallower than "
            f"{tol.POINTED_DEPTH_MM:g} mm"
        )
    return tuple(told)


def _is_worth_filling(part: Missing) -> bool:
    if part.solid.volume() < tol.POINTED_VOLUME_MM3:
        return False
    return break_depth_mm(Faces.of(part.solid, part.form_here)) >= tol.POINTED_DEPTH_MM


def _in_scan(frame: Frame, places: FloatArray) -> FloatArray:
    matrix = np.linalg.inv(frame.vessel_from_scan)
    points: FloatArray = places @ matrix[:3, :3].T + matrix[:3, 3]
    return points


def _distance(solid: Solid, points: FloatArray) -> FloatArray:
    return Surface(mesh_from_solid(solid)).distance(points)
