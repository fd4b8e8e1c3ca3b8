"""Planes and repeats of whole vessels' scans, with three tenths of the vessel gone.

The vessels are made up so that the truth is known: free of faults, or alike on both sides of y = 0.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import pytest
from breaking import as_scanned
from form.lost import lose, sector
from form.poses import angle_between_deg, known_skin, motion_of, plane_of
from form.test_fit_form import shaped
from frame.frame_checks import framed
from vessels import NO_FAULTS, fluted_cup, lobed_dish, mug, pressed_cup

from lossfill.form import fit_form
from lossfill.form.copies import find_mirrors
from lossfill.mesh import FloatArray, Mesh, signed_volume_mm3

NOISE_MM = 0.05
EDGE_MM = 2.0


def two_sided(angle: FloatArray, _: FloatArray, z: FloatArray) -> FloatArray:
    """Alike on both sides of y = 0, and of no other plane."""
    wave = 0.5 * np.cos(2 * angle) + 0.3 * np.cos(3 * angle) + 0.25 * np.cos(5 * angle)
    return np.asarray(np.clip(z / 60.0, 0, 1) * wave)


VESSELS: dict[str, Callable[[], Mesh]] = {
    "fluted cup": lambda: fluted_cup(edge_mm=EDGE_MM, faults=NO_FAULTS),
    "lobed dish": lambda: lobed_dish(edge_mm=EDGE_MM, faults=NO_FAULTS),
    "pressed cup": lambda: pressed_cup(edge_mm=EDGE_MM, faults=NO_FAULTS),
    "handled mug": lambda: shaped(mug(edge_mm=EDGE_MM, faults=NO_FAULTS), two_sided),
}
PLANES = {"fluted cup": 28, "lobed dish": 16, "pressed cup": 1, "handled mug": 1}
"""Planes of symmetry; the first is y = 0, the others follow at even angles."""
REPEATS = {"fluted cup": 14, "lobed dish": 8}


@cache
def whole(name: str) -> Mesh:
    return VESSELS[name]()


def a_third_gone(name: str, first_deg: float) -> Mesh:
    """Three tenths of the turn gone from rim to foot, but for the middle of the floor."""
    lost = lose(whole(name), sector(first_deg, 112.0, inner_mm=12.0))
    gone = signed_volume_mm3(lost.chunks[0]) / signed_volume_mm3(lost.whole)
    assert 0.25 < gone < 0.34
    return lost.body


# What is gone begins at 47° to 125°: it lies across the plane, beside it, and clear of the handle.
@pytest.mark.parametrize(
    ("name", "seed"),
    [
        ("fluted cup", 1),
        ("fluted cup", 2),
        ("lobed dish", 1),
        ("pressed cup", 1),
        ("pressed cup", 2),
        ("handled mug", 2),
        ("handled mug", 3),
    ],
)
def test_plane_and_order_with_three_tenths_gone(name: str, seed: int) -> None:
    rng = np.random.default_rng(seed)
    first_deg = float(rng.uniform(30.0, 215.0))
    scan, pose = as_scanned(a_third_gone(name, first_deg), noise_mm=NOISE_MM, rng=rng)
    frame = framed(scan)
    form = fit_form(frame)
    middle = np.array([0.0, 0.0, 0.5 * frame.height_mm])
    best = find_mirrors(form.cells, known_skin(form))[0]
    normal, point = plane_of(motion_of(best), middle)
    true_from_vessel = np.linalg.inv(frame.vessel_from_scan @ pose)
    normal = true_from_vessel[:3, :3] @ normal
    point = true_from_vessel[:3, :3] @ point + true_from_vessel[:3, 3]
    # The nearest of the vessel's own planes, all of which hold the axis.
    step = 180.0 / PLANES[name]
    at = np.radians(step * np.round((np.degrees(np.arctan2(normal[1], normal[0])) + 90.0) / step))
    true = np.array([-np.sin(at), np.cos(at), 0.0])
    assert angle_between_deg(normal, true) < 0.2
    assert abs(point @ true) < 0.1
    turn = next(trial for trial in form.choices[0].trials if trial.source == "turn")
    if name in REPEATS:
        assert turn.says.startswith(f"{REPEATS[name]} repeats")
    else:
        assert turn.says == "nothing repeats around the turn"
