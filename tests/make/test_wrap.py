from __future__ import annotations

from dataclasses import replace
from functools import cache

import manifold3d
import numpy as np
import pytest
from fill.wedges import Wedged, finely, hemisphere, take_wedge
from make.briefs import bowl_rim, brief_of, cylinder_hole, tile_corner
from make.test_rib import turned_bowl
from shapes import revolve

from lossfill import tolerances as tol
from lossfill.drawing.model import Layer
from lossfill.drawing.words import corners
from lossfill.errors import InputError
from lossfill.frame.profile import make_profile
from lossfill.loss.loss import LossKind
from lossfill.make.brief import Brief, Lost, Side
from lossfill.make.facing import facing
from lossfill.make.flatten import stretch
from lossfill.make.joins import steady
from lossfill.make.made import Made
from lossfill.make.patch import borders, one_patch, thinned
from lossfill.make.wrap import WrapSettings, laid_flat, make_wrap
from lossfill.mesh import FloatArray, Mesh, face_vectors, unit
from lossfill.solids import mesh_from_solid, solid_from_mesh


def outline(made: Made) -> FloatArray:
    return next(line.points for line in made.drawings[0].lines if line.layer is Layer.CUT)


def area(points: FloatArray) -> float:
    after = np.roll(points, -1, axis=0)
    return 0.5 * float((points[:, 0] * after[:, 1] - points[:, 1] * after[:, 0]).sum())


@cache
def cone_brief(low_mm: float, high_mm: float, tall_mm: float, wide_deg: float = 90.0) -> Brief:
    """A window in a cone's wall from 2 mm up to 2 mm below the rim; outer radii at foot and rim."""
    wall = 2.0
    corners = [(0, 0), (low_mm, 0), (high_mm, tall_mm), (high_mm - wall, tall_mm),
               (low_mm - wall, wall), (0, wall)]  # fmt: skip
    profile = finely(np.array(corners, dtype=float), tall_mm / 8.0)
    # Clear of the flat lip, half of which would count as outside.
    wedged = take_wedge(
        revolve(profile, 360),
        wide_deg=wide_deg,
        middle_deg=0.0,
        low_mm=wall,
        high_mm=tall_mm - wall,
    )
    return brief_of(wedged, kind=LossKind.RIM, entry=np.array([0.0, 0.0, -1.0]), wall_mm=wall,
                    profile=make_profile(profile[::-1], spacing_mm=0.5))  # fmt: skip


@pytest.mark.parametrize(
    ("low", "high", "tall", "low_slant", "high_slant", "sector_deg"),
    [
        # CHECKS 1.9 (ceemrr.com Geometry2): D = 5, 8, h = 4: 7.12, 11.39, 126.4°; ten times here.
        (25.0, 40.0, 40.0, 71.20, 113.92, 126.404),
        # CHECKS 1.10 (mathcentral.uregina.ca QQ.02.06): D = 290, 550, h = 250; a fifth here.
        (29.0, 55.0, 50.0, 314.293 / 5.0, 596.073 / 5.0, 166.087),
    ],
)
def test_a_cone_unrolls_to_the_sector_of_the_books(
    low: float, high: float, tall: float, low_slant: float, high_slant: float, sector_deg: float
) -> None:
    made = make_wrap(cone_brief(low, high, tall))
    assert any("exact" in note for note in made.notes)
    points = outline(made)
    ends = 2.0 / tall * (high_slant - low_slant)
    apex = np.array([0.0, points[:, 1].max() - (high_slant - ends)])
    reach = np.hypot(*(points - apex).T)
    # The facets of 360 lie 55 (1 - cos 0.5°) = 0.002 mm inside the cone.
    assert reach.max() == pytest.approx(high_slant - ends, abs=0.02)
    assert reach.min() == pytest.approx(low_slant + ends, abs=0.03)
    turns = np.degrees(np.arctan2(*(points - apex).T))
    assert np.ptp(turns) == pytest.approx(sector_deg * 90.0 / 360.0, abs=0.02)


@pytest.mark.parametrize("side", ["outer", "inner"])
def test_a_straight_cup_unrolls_to_a_rectangle(side: str) -> None:
    points = outline(make_wrap(cylinder_hole(wide_deg=40.0), WrapSettings(side=side)))
    radius = 40.0 if side == "outer" else 36.0
    assert np.ptp(points, axis=0) == pytest.approx([radius * np.radians(40.0), 20.0], abs=0.01)
    assert area(points) > 0.0


def test_a_cone_is_found_by_least_stretch_as_well() -> None:
    # Without a profile nothing is known of an axis; the same sector must come out.
    brief = cone_brief(25.0, 40.0, 40.0)
    exact, least = make_wrap(brief), make_wrap(replace(brief, profile=None))
    assert not any("exact" in note for note in least.notes)
    assert area(outline(least)) == pytest.approx(area(outline(exact)), rel=1e-3)
    # Facets of a degree bend nothing: settled to 1e-4 mm a step, a hundredth or so from the end.
    assert np.ptp(outline(least), axis=0) == pytest.approx(np.ptp(outline(exact), axis=0), abs=0.1)


def cap_brief(angle_rad: float) -> Brief:
    """A round cap out of the side of a hemisphere of 50 mm, of that angle from middle to edge."""
    whole = solid_from_mesh(hemisphere(50.0, 46.0, 180).mesh).as_original()
    drill = manifold3d.Manifold.cylinder(80.0, 50.0 * np.sin(angle_rad), circular_segments=180)
    drill = drill.rotate((0.0, 130.0, 0.0)).translate((0.0, 0.0, 50.0))
    piece, body = whole.split(drill)
    return brief_of(Wedged(whole, piece, body), kind=LossKind.THROUGH,
                    entry=np.array([-1.0, 0.0, 0.0]), wall_mm=4.0)  # fmt: skip


@pytest.mark.parametrize("angle", [0.25, 0.45])
def test_a_sphere_stretches_as_much_as_it_must_and_little_more(angle: float) -> None:
    brief = cap_brief(angle)
    patch, _ = one_patch(brief.lost.faces_of(Side.OUTER))
    places = laid_flat(brief, patch, facing(brief, Side.OUTER), borders(patch)[0], Side.OUTER)
    changed = stretch(patch, places)
    # Milnor 1969 (from memory): of all flat maps of a cap of angle a, the least ratio of largest to
    # smallest stretch is a / sin a. With s the largest change, (1 + s) / (1 - s) >= a / sin a.
    ratio = angle / np.sin(angle)
    least = (ratio - 1.0) / (ratio + 1.0)
    # 1/10 off for the half percent of the area, all at the edge, that is left out.
    assert 0.9 * least < changed.largest_percent / 100.0 < 3.0 * least
    assert abs(changed.area_percent) < 100.0 * least
    assert changed.folded_share == 0.0


def test_a_turned_brief_gives_the_same_wrap() -> None:
    brief = bowl_rim()
    turn = np.radians(70.0)
    c, s = np.cos(turn), np.sin(turn)
    matrix = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    mesh = replace(brief.lost.mesh, vertices=brief.lost.mesh.vertices @ matrix.T)
    turned = replace(brief, lost=replace(brief.lost, mesh=mesh))
    one, other = outline(make_wrap(brief)), outline(make_wrap(turned))
    assert area(other) == pytest.approx(area(one), rel=1e-6)
    assert np.ptp(other, axis=0) == pytest.approx(np.ptp(one, axis=0), abs=1e-2)


def test_area_is_kept_and_darts_are_spoken_of_where_it_is_round() -> None:
    made = make_wrap(turned_bowl())
    brief = bowl_rim()
    assert area(outline(made)) == pytest.approx(brief.lost.area_mm2(Side.OUTER), rel=0.01)
    assert all(one.passed for one in made.proved)
    assert any("darts" in note for note in made.notes)


def test_a_margin_runs_around_the_loss() -> None:
    plain, wide = (outline(make_wrap(cylinder_hole(), WrapSettings(margin_mm=m))) for m in (0, 5.0))
    assert np.ptp(wide, axis=0) == pytest.approx(np.ptp(plain, axis=0) + 10.0, abs=0.02)


@pytest.mark.parametrize("wrong", [{"side": "top"}, {"margin_mm": -1.0}, {"margin_mm": np.nan}])
def test_bad_settings_are_one_line(wrong: dict[str, object]) -> None:
    with pytest.raises(InputError) as refusal:
        WrapSettings(**wrong)  # type: ignore[arg-type]
    assert "\n" not in str(refusal.value)


def test_a_dense_skin_is_thinned_and_keeps_its_border() -> None:
    # A quarter of a straight cup of radius 40, 60 tall: 30 720 triangles.
    n = 124
    turns, heights = np.meshgrid(
        np.linspace(0.0, 0.5 * np.pi, n + 1), np.linspace(0.0, 60.0, n + 1)
    )
    points = np.stack([40.0 * np.cos(turns), 40.0 * np.sin(turns), heights], axis=-1).reshape(-1, 3)
    a = (np.arange(n)[:, None] * (n + 1) + np.arange(n)).ravel()
    faces = np.concatenate(
        [np.stack([a, a + 1, a + n + 2], 1), np.stack([a, a + n + 2, a + n + 1], 1)]
    )
    dense = Mesh(points, faces.astype(np.int32))
    thin = thinned(dense)
    assert len(dense.faces) > tol.WRAP_TRIANGLES
    assert 0.9 * tol.WRAP_TRIANGLES < len(thin.faces) <= tol.WRAP_TRIANGLES
    assert thinned(thin) is thin
    rim = thin.vertices[borders(thin)[0]]
    perimeter = np.linalg.norm(rim - np.roll(rim, 1, axis=0), axis=1).sum()
    # Facets of 90°/124 lie 40 (1 - cos 0.36°) = 0.0008 mm inside the circle.
    assert perimeter == pytest.approx(2.0 * (60.0 + 20.0 * np.pi), abs=0.02)
    assert np.hypot(*rim[:, :2].T) == pytest.approx(np.full(len(rim), 40.0), abs=0.01)
    across = np.linalg.norm(face_vectors(thin), axis=1).sum()
    assert across == pytest.approx(np.linalg.norm(face_vectors(dense), axis=1).sum(), rel=1e-4)


def test_a_tile_and_its_edge_lie_flat_in_one_part() -> None:
    made = make_wrap(tile_corner())
    # 20 × 30 mm of face and 30 × 6 mm of edge fold open to one rectangle of 26 × 30 mm; each of
    # its corners is rounded, which takes (1 - π/4) r² from it.
    lost = 4.0 * (1.0 - 0.25 * np.pi) * tol.WRAP_ROUND_MM**2
    assert area(outline(made)) == pytest.approx(26.0 * 30.0 - lost, abs=0.5)
    ring, r = outline(made), tol.WRAP_ROUND_MM
    around = np.linalg.norm(ring - np.roll(ring, 1, axis=0), axis=1).sum()
    assert around == pytest.approx(2.0 * (26.0 + 30.0) - 8.0 * r + 2.0 * np.pi * r, abs=0.2)
    assert all(one.passed for one in made.proved)
    words = {text.words for text in made.drawings[0].texts}
    assert "edge" in words
    assert "up" not in words
    assert any("turned until it fits" in note for note in made.notes)


def test_the_words_of_a_small_wrap_stand_outside_it() -> None:
    drawing = make_wrap(cylinder_hole(wide_deg=12.0, low_mm=40.0, high_mm=48.0)).drawings[0]
    ring = next(line.points for line in drawing.lines if line.layer is Layer.CUT)
    inside = manifold3d.CrossSection([ring])
    for text in drawing.texts:
        low, high = corners(text).min(axis=0), corners(text).max(axis=0)
        box = manifold3d.CrossSection.square(tuple(high - low)).translate(tuple(low))
        assert (box ^ inside).is_empty(), text.words
        assert text.height_mm >= 2.0


def test_tongues_along_the_join_are_left_off() -> None:
    brief = cylinder_hole(wide_deg=40.0)
    # A comb of teeth 0.6 mm wide and 3 mm long on a rectangle of 20 × 10 mm.
    teeth = [
        [(x, 10.0), (x + 0.6, 10.0), (x + 0.6, 13.0), (x, 13.0)] for x in np.arange(2, 18, 4.0)
    ]
    plain = manifold3d.CrossSection.square((20.0, 10.0))
    combed = plain + manifold3d.CrossSection([np.array(tooth) for tooth in teeth])
    solid = manifold3d.Manifold.extrude(combed, 2.0)
    mesh = mesh_from_solid(solid)
    normals = unit(face_vectors(mesh))
    side = np.where(normals[:, 2] > 0.5, Side.OUTER, Side.BREAK).astype(np.int8)
    comb = replace(brief, profile=None, lost=Lost(mesh, side, solid))
    ring = outline(make_wrap(comb))
    # Of 3 mm the fillets at the teeth's roots are left: less than the radius of the rounding.
    short, long = sorted(np.ptp(ring, axis=0))
    assert 10.0 - 0.01 < short < 10.0 + 0.7 * tol.WRAP_ROUND_MM
    assert long == pytest.approx(20.0, abs=0.01)


def test_a_state_along_an_edge_does_not_flicker() -> None:
    points = np.stack([np.arange(0.0, 20.0, 0.25), np.zeros(80)], axis=1)
    state = np.zeros(80, dtype=bool)
    state[20:60] = True
    true = state.copy()
    state[[10, 30, 31, 65]] = ~state[[10, 30, 31, 65]]
    assert steady(points, state, 1.5).tolist() == true.tolist()
    # Nothing that is as long as asked for is taken away.
    state[70:78] = True
    assert steady(points, state, 1.5)[70:78].all()
