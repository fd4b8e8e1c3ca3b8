"""The measures of a loss that was found by a donor: no profile tells inside from outside here."""

from __future__ import annotations

import numpy as np

from lossfill import tolerances as tol
from lossfill.donor.find import Lacking
from lossfill.loss.faces import Faces, break_depth_mm, join_length_mm
from lossfill.loss.loss import Loss, LossKind
from lossfill.loss.measure import clock
from lossfill.mesh import BoolArray, FloatArray, extents, unit
from lossfill.nearest import Surface
from lossfill.solids import mesh_from_solid


def measure_lacking(
    lacking: Lacking,
    vessel_from_scan: FloatArray,
    *,
    number: int,
    height_mm: float | None,
    kind: LossKind | None = None,
) -> Loss:
    """Measure what a body lacks of a donor.

    Parameters
    ----------
    vessel_from_scan : (4, 4) rigid
    height_mm : of the whole thing, where it has a rim and a foot
    kind : where it is known; None tells it from the faces
    """
    faces = Faces.of(lacking.solid, lacking.form_here, vessel_from_scan)
    skin, areas = ~faces.is_break, faces.areas
    thickness, opposite = _through(faces, lacking, vessel_from_scan)
    # The skin that looks away from the middle of the thing is its outside.
    outside = faces.looks_outward
    centre = np.average(faces.centres, axis=0, weights=areas)
    centre_scan = np.linalg.inv(vessel_from_scan) @ np.array([*centre, 1.0])
    angle = float(np.degrees(np.arctan2(centre[1], centre[0])) % 360.0)
    long, short, _ = (float(extent) for extent in extents(faces.centres[skin]))
    return Loss(
        number=number,
        kind=kind or _kind(faces, opposite, thickness[1], height_mm),
        solid=lacking.solid,
        form_here=lacking.form_here,
        body_here=lacking.body_here,
        volume_ml=lacking.solid.volume() / 1000.0,
        outer_area_mm2=float(areas[skin & outside].sum()),
        inner_area_mm2=float(areas[skin & ~outside].sum()),
        break_area_mm2=float(areas[faces.is_break].sum()),
        join_length_mm=join_length_mm(faces),
        thickness_mm=thickness,
        depth_mm=break_depth_mm(faces),
        extent_along_mm=short,
        extent_around_mm=long,
        angle_deg=angle,
        clock=clock(angle),
        height_mm=float(np.average(faces.centres[skin, 2], weights=areas[skin])),
        centre_mm=(float(centre_scan[0]), float(centre_scan[1]), float(centre_scan[2])),
        expected_error_mm=lacking.expected.error_mm,
        bound_mm=lacking.expected.bound_mm,
        source=lacking.source,
        trials=lacking.trials,
        on_wall=False,
    )


def _through(
    faces: Faces, lacking: Lacking, vessel_from_scan: FloatArray
) -> tuple[tuple[float, float], float]:
    """Thickness of what is missing, and how much of its skin has skin across from it.

    Rays run through the missing part from its new skin; those that end on a break would tell the
    depth of the break, not the thickness of the form, so the form about it is followed.

    Returns
    -------
    2nd and 98th percentile of the thickness, mm; and the share of the skin
    """
    skin = np.flatnonzero(~faces.is_break)
    skin = skin[:: max(1, len(skin) // tol.THICKNESS_PLACES)]
    inward = -unit(faces.vectors[skin])
    starts = faces.centres[skin] + tol.RAY_OFF_SKIN_MM * inward
    form = mesh_from_solid(lacking.form_here.transform(vessel_from_scan[:3]))
    far, _ = Surface(form).along_rays(starts, inward)
    part = mesh_from_solid(lacking.solid.transform(vessel_from_scan[:3]))
    within, _ = Surface(part).along_rays(starts, inward)
    met = np.isfinite(far) & np.isfinite(within)
    if not met.any():
        return (0.0, 0.0), 0.0
    weights = faces.areas[skin][met]
    across = np.abs(far[met] - within[met]) < tol.SKIN_ACROSS_MM
    through = far[met] + tol.RAY_OFF_SKIN_MM
    # A ray that starts on an edge or a lip runs along the wall, and tells nothing of its thickness.
    through = through[through < tol.RAY_ALONG_WALL * np.median(through)]
    low, high = np.quantile(through, [0.02, 0.98])
    return (float(low), float(high)), float(np.average(across, weights=weights))


def _kind(faces: Faces, opposite: float, thickness_mm: float, height_mm: float | None) -> LossKind:
    skin: BoolArray = ~faces.is_break
    if opposite < tol.THROUGH_SHARE:
        return LossKind.CHIP
    if height_mm is None:
        return LossKind.THROUGH
    top, bottom = faces.centres[skin, 2].max(), faces.centres[skin, 2].min()
    if bottom < tol.STANDING_MM:
        return LossKind.FOOT
    return LossKind.RIM if top > height_mm - 0.5 * thickness_mm else LossKind.THROUGH
