"""Open scans: the inner skin seen in part, the bottom not at all, one skin and no wall told.

Beside them stands `test_road`, where the wall of a bottle is told.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from breaking import Cut, break_vessel
from rays import Surface
from scanning import _simple_rims, as_scanned, from_outside
from scoring import Score, match_losses, score
from test_road import outer_skin
from vessels import Faults, bottle, mug, tea_bowl

from lossfill.mesh import FloatArray, Mesh, face_vectors, transformed
from lossfill.road import Design, Settings, design
from lossfill.scan import Unit
from lossfill.scan.scan import Scan

NOISE_MM = 0.05
CLEARANCE_MM = 0.15
EVEN = Faults(uneven_wall_mm=0.0, pooling_mm=0.0)
"""The wall is as thick everywhere as where it is seen."""


def designed(seen: Mesh, rng: np.random.Generator) -> tuple[Design, FloatArray]:
    """What the road makes of a scan in some pose, and the way back from it."""
    mesh, pose = as_scanned(seen, noise_mm=NOISE_MM, rng=rng)
    scan = Scan(mesh, Path("seen.ply"), "PLY (binary)", Unit.MILLIMETRE, "asked", "0" * 64)
    made = design(scan, Settings(clearance_mm=CLEARANCE_MM))
    return made, np.asarray(np.linalg.inv(pose))


def judged(
    made: Design, back: FloatArray, chunk: Mesh, whole: Mesh, body: Mesh
) -> tuple[Score, Mesh]:
    """Score of the chunk's piece, and the piece in the vessel's own pose."""
    pieces = tuple(transformed(fill.mesh, back) for fill in made.fills)
    (k,) = match_losses(pieces, (chunk,)).piece_of_chunk
    assert k is not None
    return score(pieces[k], chunk, whole, body, CLEARANCE_MM, n_points=12_000), pieces[k]


@pytest.mark.parametrize(
    ("cut", "bottom"), [(Cut("hole"), True), (Cut("rim", 60.0), False)], ids=["belly", "rim"]
)
def test_a_wall_seen_in_part_is_borrowed(cut: Cut, bottom: bool) -> None:
    # The inside of the mouth to 12 mm down, and the break's faces: nobody tells the wall.
    whole = bottle(edge_mm=1.5, seed=3, faults=EVEN)
    rng = np.random.default_rng(5)
    broken = break_vessel(whole, (cut,), rng=rng, angle_deg=120.0)
    seen = from_outside(broken.body, whole, breaks=True, bottom=bottom, lip_mm=12.0)
    made, back = designed(seen, rng)
    # `vessels.bottle` is 3 mm thick all over.
    (told,) = [w for w in made.warnings if "ONE SKIN SCANNED" in w]
    assert "3.0 mm inside the outer one" in told
    result, piece = judged(made, back, broken.chunks[0], whole, broken.body)
    assert result.watertight
    assert result.parts == 1
    assert abs(result.volume_error) < 0.05
    apart = Surface(piece).distance(outer_skin(broken.chunks[0], whole, broken.body, n=8000))
    assert np.sqrt(np.mean(apart**2)) < 2.0 * NOISE_MM
    # The inside is laid on from the outside: within a twentieth of the wall of what was there.
    assert result.skin_rms_mm < 0.2
    assert all(loss.volume_ml < 0.1 for loss in made.losses[1:])


def without_bottom(body: Mesh) -> Mesh:
    """Leave out what faces down near the table: the vessel was not turned over for the scan."""
    centre, area = body.vertices[body.faces].mean(axis=1), face_vectors(body)
    down = area[:, 2] < -0.3 * np.linalg.norm(area, axis=1)
    return _simple_rims(body, ~(down & (centre[:, 2] < 0.12 * body.bounds[1, 2])))


@pytest.mark.parametrize("name", ["bowl", "mug"])
def test_a_bottom_never_scanned_is_no_loss(name: str) -> None:
    whole = {"bowl": tea_bowl, "mug": mug}[name](edge_mm=1.8)
    rng = np.random.default_rng(5)
    broken = break_vessel(whole, "hole", rng=rng, angle_deg=120.0)
    made, back = designed(without_bottom(broken.body), rng)
    assert made.body.patched.any()
    # Flat patches have triangles as long as the foot is wide; all of their skin is a guess.
    assert [loss.kind.value for loss in made.losses] == ["through"]
    result, _ = judged(made, back, broken.chunks[0], whole, broken.body)
    assert result.skin_rms_mm < 2.0 * NOISE_MM
    assert abs(result.volume_error) < 0.02
