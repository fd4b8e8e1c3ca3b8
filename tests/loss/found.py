"""Walk the road from a mesh to its losses."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from shapes import as_scan
from vessels import fluted_cup, lobed_dish, mug, pressed_cup, tea_bowl

from lossfill.body import Body, make_body
from lossfill.form import Form, fit_form
from lossfill.frame import Frame, find_frame
from lossfill.loss import Loss, find_losses
from lossfill.mesh import Mesh

WHOLE = {
    "tea bowl": tea_bowl,
    "mug": mug,
    "lobed dish": lobed_dish,
    "fluted cup": fluted_cup,
    "pressed cup": pressed_cup,
}


@cache
def whole(name: str) -> Mesh:
    """A vessel that nothing is missing of, made once."""
    return WHOLE[name]()


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """What the first five stages give."""

    body: Body
    frame: Frame
    form: Form
    losses: tuple[Loss, ...]

    @property
    def kinds(self) -> list[str]:
        return [loss.kind.value for loss in self.losses]


def find(mesh: Mesh) -> Found:
    """Find the losses of a mesh in mm."""
    body = make_body(as_scan(mesh))
    frame = find_frame(body, rng=np.random.default_rng(1))
    form = fit_form(frame)
    return Found(body, frame, form, find_losses(body, frame, form))
