"""A backing of a scanned bowl with a rough break, made from its file as a repairer does."""

from pathlib import Path

import numpy as np
import pytest

from lossfill.errors import UnsuitedError
from lossfill.make.backing import BackingSettings, backing_in_place, make_backing
from lossfill.make.backing_proof import face_of
from lossfill.make.store import read_briefs
from lossfill.mesh import points_over, transformed
from lossfill.nearest import Surface
from lossfill.scan import Unit, read_scan

MESHES = Path(__file__).resolve().parents[2] / "meshes"

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def briefs(tea_bowl_folder):
    return read_briefs(tea_bowl_folder)


@pytest.mark.parametrize("side", ["inner", "outer"])
def test_all_that_is_proved_of_it_holds(briefs, side):
    made = make_backing(briefs[0], BackingSettings(side=side))
    assert [(proof.what, proof.value) for proof in made.proved if not proof.passed] == []
    solid = made.solids[0].solid
    assert (len(solid.decompose()), solid.genus()) == (1, 0)
    assert any("lip" in note for note in made.notes)


@pytest.mark.parametrize("side", ["inner", "outer"])
def test_its_face_lies_on_what_was_truly_there(briefs, side):
    brief = briefs[0]
    backing = backing_in_place(brief, BackingSettings(side=side))
    truth = transformed(
        read_scan(MESHES / "tea_bowl_chunk_1.ply", units=Unit.MILLIMETRE).mesh,
        brief.vessel_from_scan,
    )
    points = points_over(face_of(backing.shell, backing.ground, 0.1), spacing_mm=0.5)
    points = points[Surface(backing.ground.patch).distance(points) < 0.15]
    away = backing.ground.away
    far, facing = Surface(truth).along_rays(points, np.broadcast_to(-away, points.shape))
    nearest, normals = Surface(truth).closest(points)
    # Over the true piece's skin, not over its break, which the scan shows a hair elsewhere.
    over = np.isfinite(far) & (facing < -0.34) & (normals @ away > 0.34)
    off = np.linalg.norm(points - nearest, axis=1)[over] - 0.1
    # 0.063 mm is the bound that the fill states of its missing skin; the former adds 0.01.
    assert over.mean() > 0.9
    assert float(np.median(np.abs(off))) < 0.063


def test_it_reaches_its_margin_into_the_wall_below(briefs):
    backing = backing_in_place(briefs[0])
    points = points_over(face_of(backing.shell, backing.ground, 0.1), spacing_mm=0.5)
    reach = Surface(backing.ground.patch).distance(points)
    # A cell of 0.4 mm, and the room for film.
    assert 10.0 - 0.4 < reach.max() < 10.0 + 0.2


def test_a_chip_of_the_lip_needs_none(briefs):
    with pytest.raises(UnsuitedError, match="needs no backing: where an edge is chipped"):
        make_backing(briefs[1])


def test_it_ends_at_the_lip_whatever_its_margin(briefs):
    brief = briefs[0]
    backing = backing_in_place(brief)
    lost = brief.lost.mesh.vertices
    crest = float(lost[:, 2].max())
    top = backing.shell.bounding_box()[5]
    # The lip of this bowl rises and falls by half a millimetre.
    assert crest - 0.6 < top <= crest + 0.3
    assert backing.shell.bounding_box()[2] < float(lost[:, 2].min()) - 5.0
    narrow = backing_in_place(brief, BackingSettings(margin_mm=6.0))
    assert abs(narrow.shell.bounding_box()[5] - top) < 0.3
