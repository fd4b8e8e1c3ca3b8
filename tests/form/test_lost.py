"""Large and awkward losses of a thrown bowl and a mug with a handle, against the chunks cut out.

The vessels are out of round and warped as thrown ones are (`vessels.Faults`), broken roughly,
scanned with noise in some pose, and filled without clearance.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import pytest
from form.lost import Filled, fill, half, lose, sector
from frame.frame_checks import framed
from scanning import as_scanned
from vessels import NO_FAULTS, Faults, mug, tea_bowl

from lossfill.errors import AlignmentError
from lossfill.mesh import Mesh
from lossfill.solids import Solid, mesh_from_solid

NOISE_MM = 0.05
EDGE_MM = 2.2
# A warped rim rises and falls by itself: no other part of the vessel tells of it.
LEVEL = Faults(warp_mm=0.1)
WHOLE: dict[str, Callable[[], Mesh]] = {
    "bowl": lambda: tea_bowl(edge_mm=EDGE_MM, faults=LEVEL),
    "mug": lambda: mug(edge_mm=EDGE_MM, faults=LEVEL),
}


@cache
def whole(name: str) -> Mesh:
    return WHOLE[name]()


def from_rim(name: str, first_deg: float, wide_deg: float, depth_mm: float) -> Solid:
    top = float(whole(name).bounds[1, 2])
    return sector(first_deg, wide_deg, low_mm=top - depth_mm)


def lost_and_filled(name: str, what: str) -> Filled:
    """Each with the handle of the mug, at 0°, out of the way."""
    cutters: dict[str, list[Solid]] = {
        "60 % of the rim": [from_rim(name, 72.0, 216.0, 25.0)],
        "rim to foot": [sector(120.0, 50.0, inner_mm=12.0)],
        "half": [half(4.0)],
        "three of the rim": [
            from_rim(name, 40.0, 35.0, 15.0),
            from_rim(name, 90.0, 45.0, 30.0),
            from_rim(name, 200.0, 60.0, 22.0),
        ],
        "foot": [sector(120.0, 60.0, high_mm=6.0, inner_mm=18.0)],
        "foot and wall": [sector(120.0, 60.0, high_mm=16.0, inner_mm=18.0)],
    }
    return fill(lose(whole(name), *cutters[what]), noise_mm=NOISE_MM)


# Skin RMS in mm and volume in parts of the chunk's. The skin of a small loss is known to the noise
# and little more; over most of the turn a thrown pot is out of round by 0.45 mm in ways that what
# is left tells only in part, and with half of it gone the axis itself is known to 0.3 mm.
LIMITS = {
    "60 % of the rim": (0.20, 0.03),
    "rim to foot": (0.10, 0.02),
    "half": (0.40, 0.04),
    "three of the rim": (0.10, 0.02),
    "foot": (0.10, 0.03),
    "foot and wall": (0.10, 0.02),
}
KINDS = {
    "60 % of the rim": ["rim"],
    "rim to foot": ["rim"],
    "half": ["rim"],
    "three of the rim": ["rim", "rim", "rim"],
    "foot": ["foot"],
    "foot and wall": ["through"],
}


CASES = [("bowl", what) for what in ("60 % of the rim", "half", "three of the rim", "foot")]
CASES += [("mug", what) for what in ("60 % of the rim", "half", "rim to foot", "foot and wall")]


@pytest.mark.parametrize(("name", "what"), CASES)
def test_a_large_or_awkward_loss_is_filled(name: str, what: str) -> None:
    filled = lost_and_filled(name, what)
    skin_mm, volume = LIMITS[what]
    assert [loss.kind.value for loss in filled.of_chunk] == KINDS[what]
    assert filled.false == ()
    for result in filled.scores:
        assert result.skin_rms_mm < skin_mm
        assert abs(result.volume_error) < volume
        assert result.parts == 1
        assert result.watertight
        assert result.outward
        # Nothing of the body is shared but for what 32 bits and a boolean's rounding leave.
        assert result.clash_mm3 < 1e-2
        # What the form says of itself holds, to a third: nine in ten are meant to keep within it.
        assert result.skin_rms_mm < 1.35 * max(loss.bound_mm for loss in filled.of_chunk)
        # However much is gone, at the join the form lies on what is left.
        assert result.step_p95_mm < 0.15 + NOISE_MM


def test_a_floor_lost_across_the_axis_is_refused_in_words() -> None:
    lost = lose(whole("bowl"), half(-5.0))
    scan, _ = as_scanned(lost.body, noise_mm=NOISE_MM, rng=np.random.default_rng(4))
    with pytest.raises(AlignmentError, match=r"no floor on its axis.*bridge it with wax or card"):
        framed(scan)


# --- beside a handle -----------------------------------------------------------------------------


@cache
def beside_the_handle(source: str) -> Filled:
    """A window in the wall from 18° beside the handle's middle on; the mug is true all round."""
    true = mug(edge_mm=EDGE_MM, faults=NO_FAULTS)
    window = sector(18.0, 40.0, low_mm=35.0, high_mm=70.0)
    return fill(lose(true, window), noise_mm=NOISE_MM, source=source)


@pytest.mark.parametrize("source", ["mirror", "revolve"])
def test_no_second_handle_grows(source: str) -> None:
    filled = beside_the_handle(source)
    assert filled.form.choices[0].source == source
    (result,) = filled.scores
    assert filled.false == ()
    assert result.skin_rms_mm < 2.0 * NOISE_MM + 0.05
    assert abs(result.volume_error) < 0.03
    # The handle stands 25 mm off the wall. No part of the piece does: about the axis it reaches as
    # far as the wall's belly, 42.7 mm, and the noise.
    (loss,) = filled.of_chunk
    points = mesh_from_solid(loss.solid).vertices
    points = points @ filled.frame.vessel_from_scan[:3, :3].T + filled.frame.vessel_from_scan[:3, 3]
    assert np.hypot(points[:, 0], points[:, 1]).max() < 42.7 + 0.3
    assert whole("mug").bounds[1, 0] > 42.7 + 20.0


# --- the twin ------------------------------------------------------------------------------------


@pytest.mark.parametrize("what", ["wall", "rim"])
def test_a_twin_in_another_pose_and_noise_gives_the_chunk_back(what: str) -> None:
    cutter = (
        sector(100.0, 60.0, low_mm=30.0, high_mm=60.0)
        if what == "wall"
        else from_rim("bowl", 100.0, 120.0, 30.0)
    )
    scan, _ = as_scanned(whole("bowl"), noise_mm=NOISE_MM, rng=np.random.default_rng(77))
    twin = framed(scan, seed=2)
    lost = lose(whole("bowl"), cutter)
    filled = fill(lost, noise_mm=NOISE_MM, source="twin", twin=twin)
    assert filled.form.choices[0].source == "twin"
    (result,) = filled.scores
    assert result.skin_rms_mm < 2.0 * NOISE_MM
    assert abs(result.volume_error) < 0.02
