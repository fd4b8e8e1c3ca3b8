"""Cut the body from the form: what is left are the losses."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from manifold3d import OpType

from lossfill import tolerances as tol
from lossfill.body.body import Body
from lossfill.form.cells import cell_of, grow
from lossfill.form.form import Form
from lossfill.frame.frame import Frame
from lossfill.loss.blank import Blank, make_blanks
from lossfill.loss.loss import Loss
from lossfill.loss.measure import Missing, measure
from lossfill.loss.pointed import pointed_parts
from lossfill.mesh import (
    BoolArray,
    FloatArray,
    Mesh,
    face_vectors,
    grids_over,
    steps_over,
    unit,
)
from lossfill.solids import Solid, checked


def find_losses(
    body: Body, frame: Frame, form: Form, *, pointed: FloatArray | None = None
) -> tuple[Loss, ...]:
    """Find every loss, the largest first: from 20 mm³ and 0.5 mm depth, spalls from 0.3 mm.

    Parameters
    ----------
    pointed : (N, 3) vessel coordinates of places where a person says that something is missing, as
        they were given to `fit_form`. What is missing nearest to each is kept from 2 mm³ and 0.2 mm
        depth, and numbered after the others.

    Raises
    ------
    BooleanError
        Where the solid modeller fails.
    """
    blanks = make_blanks(form, guessed=_guessed(body, frame, form))
    if not blanks:
        return ()
    scan_from_vessel = np.linalg.inv(frame.vessel_from_scan)[:3]
    # One pass over the whole scan; after it, only what lies about the losses is looked at.
    # It is cropped a little wider than the blanks, so that its cut faces never show.
    boxes = Solid.batch_boolean([_box(b, tol.CROP_MARGIN_MM) for b in blanks], OpType.Add)
    nearby = checked(body.solid ^ boxes.transform(scan_from_vessel), "the body was not cropped")
    parts: list[Missing] = []
    for blank in blanks:
        parts += _parts(blank, nearby, frame)
    is_loss = [part.is_loss(frame, form) for part in parts]
    missing = _largest_first(part for part, own in zip(parts, is_loss, strict=True) if own)
    if pointed is not None and len(pointed):
        rest = [part for part, own in zip(parts, is_loss, strict=True) if not own]
        missing += _largest_first(pointed_parts(missing, rest, frame, pointed))
    return tuple(measure(m, frame, form, number=k) for k, m in enumerate(missing, start=1))


def _parts(blank: Blank, nearby: Solid, frame: Frame) -> list[Missing]:
    """Cut the body from one blank; most of what is left are films, and some are losses."""
    scan_from_vessel = np.linalg.inv(frame.vessel_from_scan)[:3]
    form_here = (blank.solid ^ _box(blank, 0.0)).transform(scan_from_vessel).as_original()
    body_here = nearby ^ _box(blank, tol.CROP_MARGIN_MM).transform(scan_from_vessel)
    rest = checked(form_here - body_here, "the body could not be cut from the form")
    return [Missing(part, form_here, body_here) for part in rest.decompose()]


def _largest_first(parts: Iterable[Missing]) -> list[Missing]:
    return sorted(parts, key=lambda part: -part.solid.volume())


def _box(blank: Blank, margin_mm: float) -> Solid:
    """Axis-parallel box about a blank's gaps, vessel coordinates."""
    size = blank.high - blank.low + 2 * margin_mm
    return Solid.cube(tuple(size)).translate(tuple(blank.low - margin_mm))


def _guessed(body: Body, frame: Frame, form: Form) -> BoolArray:
    """Cells whose surface only closes a scan hole."""
    mask = np.zeros(form.cells.shape, dtype=bool)
    if not body.patched.any():
        return mask
    points, normals = _over_patches(body, spacing_mm=0.5 * form.cells.row_mm)
    turn, shift = frame.vessel_from_scan[:3, :3], frame.vessel_from_scan[:3, 3]
    points, normals = points @ turn.T + shift, normals @ turn.T
    drop, angle = form.locate(points, normals)
    mask.ravel()[cell_of(form.cells, form.profile, drop.along, angle)] = True
    return grow(form.cells, mask, tol.GUESSED_MARGIN_MM)


def _over_patches(body: Body, *, spacing_mm: float) -> tuple[FloatArray, FloatArray]:
    """Points all over the triangles that close scan holes, and the normals there, both (N, 3).

    A flat patch spans its hole with triangles as long as the hole is wide: corners alone would
    leave cells between them that nobody saw.
    """
    patches = Mesh(body.mesh.vertices, body.mesh.faces[body.patched])
    corners, normal = patches.vertices[patches.faces], unit(face_vectors(patches))
    steps = np.maximum(steps_over(corners, spacing_mm), 2)
    points, normals = [], []
    for n in np.unique(steps):
        places = grids_over(corners[steps == n], n)
        points.append(places.reshape(-1, 3))
        normals.append(np.repeat(normal[steps == n], places.shape[1], axis=0))
    return np.concatenate(points), np.concatenate(normals)
