"""Boxes by mirror and by twin, tiles by a bridge: what is found missing, against what broke off."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from donor.donor_cases import (
    NOISE_MM,
    Case,
    assert_made_good,
    broken_box,
    broken_tile,
    designed,
    knobbed,
    lump,
    whole_box,
    whole_tile,
)
from rays import Surface
from scanning import random_pose
from scoring import sample
from shapes import as_scan
from tiles import box, break_sheet, cut_box, cutter

from lossfill.donor.form import DonorForm, find_donors
from lossfill.donor.stand import Stand
from lossfill.errors import AlignmentError, InputError
from lossfill.loss import LossKind
from lossfill.loss.pointed import NOT_POINTED
from lossfill.mesh import FloatArray, Mesh, transformed
from lossfill.road import Settings, measure
from lossfill.scan import Unit
from lossfill.solids import mesh_from_solid

MM = Settings(units=Unit.MILLIMETRE)


@pytest.mark.parametrize(
    ("kind", "by"), [("rim", None), ("corner", None), ("corner", "twin")], ids=str
)
def test_a_broken_box_gets_its_piece(kind: str, by: str | None) -> None:
    case = broken_box(kind, by)
    assert_made_good(case)
    (loss,) = case.made.losses
    assert loss.kind is LossKind.RIM
    assert loss.source == (by or "mirror")
    assert not loss.on_wall


def test_a_box_stands_as_it_was_made() -> None:
    case = broken_box("rim")
    stand = case.made.frame
    assert isinstance(stand, Stand)
    sides = (stand.length_mm, stand.width_mm, stand.height_mm)
    # The tight box lies on the outermost points, which noise of three deviations moves outwards.
    assert sides == pytest.approx((90.0, 60.0, 40.0), abs=6 * NOISE_MM + 0.5)
    assert stand.wall_mm == pytest.approx(5.0, abs=0.3)
    upright = stand.vessel_from_scan @ case.pose
    assert upright[2, 2] == pytest.approx(1.0, abs=1e-3)
    assert not stand.is_flat
    assert "no axis of revolution" in stand.why


@pytest.mark.parametrize("kind", ["hole", "bite"])
def test_a_broken_tile_gets_its_piece_by_a_bridge(kind: str) -> None:
    case = broken_tile(kind)
    assert_made_good(case)
    (loss,) = case.made.losses
    assert loss.kind is LossKind.THROUGH
    assert loss.source == "bridge"
    assert isinstance(case.made.frame, Stand)
    assert case.made.frame.is_flat


@pytest.mark.parametrize("whole", [whole_box, whole_tile], ids=["box", "tile"])
def test_a_whole_thing_has_no_loss(whole: Callable[[], Mesh]) -> None:
    mesh = whole()
    assert designed(mesh, mesh, (), seed=4).made.losses == ()


def test_what_only_one_side_ever_had_is_no_loss_of_the_other() -> None:
    mesh = knobbed(whole_box())
    case = designed(mesh, mesh, (), seed=5)
    assert case.made.losses == ()


def strewn(mesh: Mesh, seed: int) -> tuple[Mesh, FloatArray]:
    """The same surface in another pose, its points and triangles in another order."""
    rng = np.random.default_rng(seed)
    pose = random_pose(rng)
    order = rng.permutation(len(mesh.vertices))
    now = np.empty(len(order), dtype=np.int32)
    now[order] = np.arange(len(order), dtype=np.int32)
    turned = np.roll(now[mesh.faces][rng.permutation(len(mesh.faces))], 1, axis=1)
    return transformed(Mesh(mesh.vertices[order], turned), pose), pose


def test_neither_pose_nor_order_of_triangles_matters() -> None:
    case = broken_box("rim")
    scan, pose = strewn(case.scan, 21)
    (loss,) = measure(as_scan(scan), MM).losses
    (first,) = case.made.losses
    assert loss.kind is first.kind
    assert loss.source == first.source
    assert loss.volume_ml == pytest.approx(first.volume_ml, rel=0.01)
    back = mesh_from_solid(loss.solid.transform(np.linalg.inv(pose)[:3]))
    points = sample(mesh_from_solid(first.solid), 5000, np.random.default_rng(7))
    apart = Surface(back).distance(points)
    # Samples fall elsewhere: a third of the noise is left of them.
    assert np.sqrt(np.mean(apart**2)) < NOISE_MM


def test_the_summary_and_the_reasons_name_the_sources() -> None:
    form = broken_box("rim").made.form
    assert isinstance(form, DonorForm)
    assert form.summary()["source"] == "mirror"
    assert form.summary()["donors"] == len(form.donors) == 2
    assert form.reasons["mirror"] == ""
    assert "axis" in form.reasons["revolve"]
    assert "twin" in form.reasons["twin"] or "given" in form.reasons["twin"]


def test_misfit_is_measured_from_the_donor() -> None:
    case = broken_box("rim")
    form, stand = case.made.form, case.made.frame
    assert isinstance(form, DonorForm)
    assert isinstance(stand, Stand)
    few = stand.samples.thinned(2000)
    off = form.misfit(few.points, few.calm_normals)
    known = np.isfinite(off)
    assert known.mean() > 0.8
    # Two skins wavy by 0.05 mm along each direction, two noises: sqrt(4) · 0.05.
    assert np.sqrt(np.mean(off[known] ** 2)) < 3 * NOISE_MM
    # Raised by 0.2 mm, all lie 0.2 mm further out.
    raised = form.misfit(few.points + 0.2 * few.normals, few.calm_normals)
    both = known & np.isfinite(raised)
    assert np.median((raised - off)[both]) == pytest.approx(0.2, abs=0.01)


@pytest.mark.parametrize(
    ("source", "words"),
    [
        ("revolve", "axis"),
        ("turn", "axis"),
        ("twin", "no scan of another one"),
        ("bridge", "sheet"),
    ],
)
def test_a_source_that_cannot_serve_is_refused(source: str, words: str) -> None:
    made = broken_box("rim").made
    assert isinstance(made.frame, Stand)
    with pytest.raises(InputError, match=f"cannot be found by {source}: .*{words}"):
        find_donors(made.body, made.frame, source=source)


def broken_lump() -> Mesh:
    outline = np.array([[-12.0, -9.0], [10.0, -12.0], [14.0, 8.0], [-9.0, 13.0]])
    cut = cutter(
        outline,
        origin=np.array([36.0, 0.0, 0.0]),
        across=np.array([0.0, 0.0, 1.0]),
        up=np.array([0.0, 1.0, 0.0]),
        length_mm=160.0,
        rng=np.random.default_rng(6),
    )
    return break_sheet(lump(), [cut])[0]


@pytest.mark.slow
def test_what_was_pointed_at_is_said_to_be_left_aside() -> None:
    case = broken_box("rim")
    found = measure(as_scan(case.scan), replace(MM, pointed_at=((0.0, 4.0),)))
    assert len(found.losses) == len(case.made.losses)
    assert NOT_POINTED in found.warnings


def test_an_irregular_lump_is_refused_with_all_that_was_tried() -> None:
    with pytest.raises(AlignmentError) as caught:
        measure(as_scan(broken_lump()), MM)
    said = str(caught.value)
    assert "\n" not in said
    assert "nor does anything else show its form" in said
    assert "mirror: no plane of symmetry was found" in said
    assert "--twin" in said


@pytest.mark.slow
def test_a_corner_lost_across_a_plane_of_symmetry_is_made_whole() -> None:
    # The image in that plane lacks what was lost on both sides of it; another one shows it.
    whole = box(seed=6)
    rng = np.random.default_rng(6)
    body, chunks = break_sheet(whole, [cut_box("corner", rng=rng)])
    case = designed(whole, body, chunks, seed=6)
    assert_made_good(case)
    assert case.chunk.bounds[0][1] < -5.0


@pytest.mark.parametrize("scaled", [True, False])
def test_a_larger_twin_is_brought_to_size_or_told_of(scaled: bool) -> None:
    whole = whole_box()
    body, chunks = break_sheet(whole, [cut_box("rim", rng=np.random.default_rng(3))])
    larger = Mesh(1.03 * whole.vertices, whole.faces)
    case = designed(whole, body, chunks, seed=3, twin=larger, twin_scaled=scaled)
    assert_made_good(case)
    told = [sentence for sentence in case.made.warnings if "twin was not used" in sentence]
    assert len(told) == (0 if scaled else 1)


def test_a_piece_beside_its_place_would_be_seen() -> None:
    # Guards all of the above: a piece shifted by 0.3 mm must not pass for the right one.
    case = broken_box("rim")
    shift = np.eye(4)
    shift[:3, 3] = 0.3
    wrong = Case(case.whole, case.chunk, case.scan, case.pose @ shift, case.made)
    with pytest.raises(AssertionError):
        assert_made_good(wrong)
