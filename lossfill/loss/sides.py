"""Which triangles of a missing part are break, new outer skin and new inner skin."""

from __future__ import annotations

from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from lossfill.form.form import Form
from lossfill.loss.faces import Faces
from lossfill.loss.loss import Loss
from lossfill.mesh import FloatArray, unit


class Side(IntEnum):
    """What a triangle of the missing material is."""

    BREAK = 0
    OUTER = 1
    INNER = 2


def sides_of(loss: Loss, vessel_from_scan: FloatArray, form: object) -> NDArray[np.int8]:
    """Tell the sides of a loss's triangles apart, (F,) of `Side`.

    In a turned wall the lip parts outside from inside; elsewhere what looks away from the axis, or
    from the middle of the thing, is outside.

    Parameters
    ----------
    vessel_from_scan : (4, 4) rigid
    form : what the loss was found by
    """
    faces = Faces.of(loss.solid, loss.form_here, vessel_from_scan)
    if isinstance(form, Form) and loss.on_wall:
        drop, _ = form.locate(faces.centres, unit(faces.vectors))
        outside = drop.along >= form.profile.lip
    else:
        outside = faces.looks_outward
    side = np.where(outside, Side.OUTER, Side.INNER)
    return np.where(faces.is_break, Side.BREAK, side).astype(np.int8)
