"""Cut the body from the form: what is left are the losses."""

from __future__ import annotations

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


def find_losses(body: Body, frame: Frame, form: Form) -> tuple[Loss, ...]:
    """Find every loss, the largest first: from 20 mm³ and 0.5 mm depth, spalls from 0.3 mm.

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
    missing: list[Missing] = []
    for blank in blanks:
        missing += _missing(blank, nearby, frame, form)
    missing.sort(key=lambda m: -m.solid.volume())
    return tuple(measure(m, frame, form, number=k) for k, m in enumerate(missing, start=1))


def _missing(blank: Blank, nearby: Solid, frame: Frame, form: Form) -> list[Missing]:
    """Cut the body from one blank and keep the parts that are losses."""
    scan_from_vessel = np.linalg.inv(frame.vessel_from_scan)[:3]
    form_here = (blank.solid ^ _box(blank, 0.0)).transform(scan_from_vessel).as_original()
    body_here = nearby ^ _box(blank, tol.CROP_MARGIN_MM).transform(scan_from_vessel)
    rest = checked(form_here - body_here, "the body could not be cut from the form")
    parts = [Missing(part, form_here, body_here) for part in rest.decompose()]
    return [part for part in parts if part.is_loss(frame, form)]


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
