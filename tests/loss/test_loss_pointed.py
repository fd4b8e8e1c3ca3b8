"""Losses too small to be listed by themselves, which a person points at."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest
from breaking import as_scanned
from fill.wedges import bowl, wedge
from loss.found import Found
from scanning import random_pose
from shapes import as_scan

from lossfill import tolerances as tol
from lossfill.body import make_body
from lossfill.errors import InputError
from lossfill.form import fit_form
from lossfill.form.pointed import angle_of_clock, place_on_outside, pointed_places
from lossfill.frame import find_frame
from lossfill.loss import find_losses
from lossfill.loss.measure import clock
from lossfill.loss.pointed import nothing_there
from lossfill.mesh import FloatArray, Mesh, transformed
from lossfill.road import Settings, measure
from lossfill.solids import Solid, mesh_from_solid, solid_from_mesh

ANGLE_DEG, HIGH_MM = 40.0, 30.0

TUCKED = 0.06
"""Share of so small a nick that the tuck at its join may take: 0.03 mm below some 4 mm of skin."""


@dataclass(frozen=True, slots=True, eq=False)
class Nicked:
    """A bowl with a nick that is smaller than what counts as a loss, and a window through its wall.

    Parameters
    ----------
    mesh : as scanned
    nick_mm3, hole_mm3 : what they took of the wall
    place_mm : (3,) of the skin over the nick
    """

    mesh: Mesh
    nick_mm3: float
    hole_mm3: float
    place_mm: FloatArray


@cache
def nicked(ball_mm: float = 2.0, *, noise_mm: float = 0.0) -> Nicked:
    """Take what a ball set half into the outer skin takes of it."""
    whole = solid_from_mesh(bowl(256, spacing_mm=0.6).mesh)
    mesh = mesh_from_solid(whole)
    level = np.abs(mesh.vertices[:, 2] - HIGH_MM) < 0.5
    radius = float(np.hypot(*mesh.vertices[level, :2].T).max())
    turn = np.radians(ANGLE_DEG)
    place = np.array([radius * np.cos(turn), radius * np.sin(turn), HIGH_MM])
    outward = place / np.linalg.norm(place)
    ball = Solid.sphere(ball_mm, 64).translate(tuple(place + 0.5 * ball_mm * outward))
    nick, body = whole.split(ball)
    hole, body = body.split(wedge(14.0, 200.0, 25.0, 38.0))
    scan = mesh_from_solid(body)
    if noise_mm:
        scan, _ = as_scanned(scan, noise_mm=noise_mm, rng=np.random.default_rng(4), pose=False)
    return Nicked(scan, nick.volume(), hole.volume(), place)


def find(mesh: Mesh, pointed_scan: FloatArray | None = None) -> Found:
    """Find the losses of a mesh, some of them pointed at in its own coordinates."""
    body = make_body(as_scan(mesh))
    frame = find_frame(body, rng=np.random.default_rng(1))
    places = None
    if pointed_scan is not None:
        matrix = frame.vessel_from_scan
        places = np.atleast_2d(pointed_scan) @ matrix[:3, :3].T + matrix[:3, 3]
    form = fit_form(frame, pointed=places)
    return Found(body, frame, form, find_losses(body, frame, form, pointed=places))


@cache
def unaided() -> Found:
    return find(nicked().mesh)


@cache
def aided() -> Found:
    return find(nicked().mesh, nicked().place_mm)


def test_a_nick_too_small_to_be_listed_is_not_listed() -> None:
    assert tol.POINTED_VOLUME_MM3 < nicked().nick_mm3 < 0.6 * tol.LOSS_VOLUME_MM3
    assert unaided().kinds == ["through"]


def test_it_is_listed_when_pointed_at_and_measured_well() -> None:
    found = aided()
    assert found.kinds == ["through", "spall"]
    nick = found.losses[1]
    assert 1000.0 * nick.volume_ml == pytest.approx(nicked().nick_mm3, rel=TUCKED)
    assert nick.number == 2
    assert nick.angle_deg == pytest.approx(ANGLE_DEG, abs=0.5)
    # The nick lies about the place, its middle a little off it on a wall that leans.
    assert nick.height_mm == pytest.approx(HIGH_MM, abs=1.0)


def test_the_other_losses_stay_the_same() -> None:
    found = aided()
    hole, still = found.losses[0], unaided().losses[0]
    assert hole.kind == still.kind
    assert hole.volume_ml == pytest.approx(still.volume_ml, rel=1e-3)
    np.testing.assert_allclose(hole.centre_mm, still.centre_mm, atol=0.02, rtol=0)


@pytest.mark.parametrize("aside_mm", [(0.0, 0.0, 4.0), (3.0, -4.0, 0.0)])
def test_pointing_need_not_be_exact_nor_the_scan_clean(aside_mm: tuple[float, ...]) -> None:
    noisy = nicked(noise_mm=0.05)
    found = find(noisy.mesh, noisy.place_mm + aside_mm)
    assert found.kinds == ["through", "spall"]
    # Noise of 0.05 mm decides which crumbs of the edge pass for skin.
    assert 1000.0 * found.losses[1].volume_ml == pytest.approx(noisy.nick_mm3, rel=2.0 * TUCKED)


def test_the_pose_of_the_scan_does_not_matter() -> None:
    matrix = random_pose(np.random.default_rng(11))
    place = matrix[:3, :3] @ nicked().place_mm + matrix[:3, 3]
    turned = find(transformed(nicked().mesh, matrix), place)
    still = aided()
    assert turned.kinds == still.kinds
    for one, other in zip(still.losses, turned.losses, strict=True):
        assert other.volume_ml == pytest.approx(one.volume_ml, rel=0.02)


@pytest.mark.parametrize("noise_mm", [0.0, 0.05])
def test_pointing_at_whole_skin_gives_a_warning_and_no_loss(noise_mm: float) -> None:
    scan = nicked(noise_mm=noise_mm)
    across = scan.place_mm * [-1.0, 1.0, 1.0]
    found = find(scan.mesh, across)
    assert found.kinds == ["through"]
    (told,) = nothing_there(found.losses, found.frame, np.array([across]))
    # 140 degrees are 4 hours and 40 minutes before 12: 7:20, to the half hour.
    assert "at 7:30 and 30 mm above the foot" in told


def test_a_nick_below_the_floor_gives_the_warning_too() -> None:
    crumb = nicked(1.2)
    assert crumb.nick_mm3 < tol.POINTED_VOLUME_MM3
    found = find(crumb.mesh, crumb.place_mm)
    assert found.kinds == ["through"]
    assert nothing_there(found.losses, found.frame, np.array([crumb.place_mm]))


def test_pointing_at_what_is_listed_adds_nothing() -> None:
    middle = np.array(unaided().losses[0].centre_mm)
    hole = find(nicked().mesh, middle)
    assert hole.kinds == ["through"]
    assert nothing_there(hole.losses, hole.frame, np.array([middle])) == ()


def test_the_road_points_by_clock_and_height() -> None:
    scan = as_scan(nicked().mesh)
    found = measure(scan, Settings(pointed_at=((ANGLE_DEG, HIGH_MM), (ANGLE_DEG + 90.0, HIGH_MM))))
    assert [loss.kind.value for loss in found.losses] == ["through", "spall"]
    told = [warning for warning in found.warnings if "where you pointed" in warning]
    assert len(told) == 1


def test_a_place_on_the_outside_lies_on_the_outer_skin() -> None:
    frame = unaided().frame
    place = place_on_outside(frame, ANGLE_DEG, HIGH_MM)
    # Half a mm: the profile is a polyline, and its nearest point serves.
    np.testing.assert_allclose(place, nicked().place_mm, atol=0.5, rtol=0)
    with pytest.raises(InputError, match="not on this vessel"):
        place_on_outside(frame, 0.0, 200.0)
    with pytest.raises(InputError, match="not on this vessel"):
        pointed_places(frame, (), ((0.0, float("nan")),))
    with pytest.raises(InputError, match="has no number"):
        pointed_places(frame, ((0.0, float("nan"), 1.0),), ())


@pytest.mark.parametrize(
    ("text", "angle_deg"),
    # 12 at angle 0, clockwise, 30 degrees an hour: 4:30 is 135 degrees clockwise, 225 otherwise.
    [
        ("12", 0.0),
        ("3", 270.0),
        ("4:30", 225.0),
        (" 9:00 ", 90.0),
        ("11:58", 1.0),
        ("04:30", 225.0),
    ],
)
def test_a_clock_is_read_as_it_is_told(text: str, angle_deg: float) -> None:
    assert angle_of_clock(text) == pytest.approx(angle_deg)
    if text.strip() in ("4:30", "9:00"):
        assert clock(angle_deg) == text.strip()


@pytest.mark.parametrize("text", ["", "0:30", "13:00", "4:60", "4.5", "noon", "4:3"])
def test_what_is_no_clock_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="no place on a clock"):
        angle_of_clock(text)
