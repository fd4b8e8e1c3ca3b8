"""Pictures: true to scale, the right way round, the right colours, the same bytes each time."""

from __future__ import annotations

import dataclasses
import io
import time

import manifold3d
import matplotlib.image
import numpy as np
import pytest
from numpy.testing import assert_allclose
from pack.pack_designs import make_design, rounded32

from lossfill.loss.measure import clock
from lossfill.mesh import Mesh, transformed
from lossfill.pack import sheet as paper
from lossfill.pack.closeup import draw_closeup
from lossfill.pack.misfit import (
    BANDS,
    LIMITS_MM,
    UNKNOWN,
    band_colours,
    choose_limit_mm,
    draw_misfit,
    hatched,
    misfit_colours,
    misfit_views,
    panel_corner,
)
from lossfill.pack.overview import draw_overview, overview_views
from lossfill.pack.section import Plane, outlines
from lossfill.pack.shade import to_linear, to_srgb
from lossfill.pack.studio import direction, framed, make_studio, sized, spread_points
from lossfill.pack.view import cast, looking, make_subject, photograph


@pytest.fixture(scope="module")
def design():
    return make_design(segments=128)


@pytest.fixture(scope="module")
def studio(design):
    return make_studio(design)


def pixels_of(png: bytes) -> np.ndarray:
    return np.round(matplotlib.image.imread(io.BytesIO(png))[..., :3] * 255).astype(np.uint8)


def bar_of(image: np.ndarray) -> int:
    """Length of the longest run of pure black in the lower part of a sheet."""
    black = (image[-60:] == 0).all(axis=2)
    best = 0
    for row in black:
        ends = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(int), [0]])))
        if len(ends):
            best = max(best, int((ends[1::2] - ends[::2]).max()))
    return best


def test_a_box_measures_its_size_in_pixels():
    box = make_subject(rounded32(manifold3d.Manifold.cube([30, 20, 10], True)), (200, 200, 200))
    for toward, size_mm in (((0, -1, 0), (30, 10)), ((1, 0, 0), (20, 10)), ((0, 0, 1), (20, 30))):
        view = looking(np.array(toward), centre=np.zeros(3), px_per_mm=4.0, size_px=(200, 160))
        hits = cast(view, (box,))
        rows, columns = np.nonzero(hits.triangle >= 0)
        # Two rays a pixel each way: exact to one ray, an eighth of a millimetre here.
        seen = (np.ptp(columns) + 1) / 2 / 4.0, (np.ptp(rows) + 1) / 2 / 4.0
        assert_allclose(seen, size_mm, rtol=0, atol=0.126)


def test_views_are_the_right_way_round():
    above = looking(np.array([0, 0, 1.0]), centre=np.zeros(3), px_per_mm=1, size_px=(100, 100))
    # From above: angle 0 (12 o'clock) is up, and 3 o'clock, a quarter clockwise, is right.
    assert_allclose(above.pixel(direction(0.0) * 10), (50, 40), atol=1e-9)
    assert_allclose(above.pixel(direction(270.0) * 10), (60, 50), atol=1e-9)
    side = looking(direction(0.0), centre=np.zeros(3), px_per_mm=1, size_px=(100, 100))
    assert_allclose(side.pixel(np.array([0, 0, 10.0])), (50, 40), atol=1e-9)
    # Seen from +x with z up, +y is to the right: x right, y away, z up is right-handed.
    assert_allclose(side.pixel(np.array([0, 10.0, 0])), (60, 50), atol=1e-9)
    assert_allclose(side.forward, -direction(0.0), atol=1e-12)


@pytest.mark.parametrize(
    ("angle_deg", "text"),
    [(0, "12:00"), (270, "3:00"), (90, "9:00"), (285, "2:30"), (352.6, "12:00"), (-15, "12:30")],
)
def test_clock_runs_clockwise_from_angle_0(angle_deg: float, text: str):
    assert clock(angle_deg) == text


def test_scale_bars_are_exact_to_the_pixel(studio, design):
    (view, _, _), _ = overview_views(studio)
    length_mm = paper.bar_length_mm(view.px_per_mm, 215)
    expected = length_mm * view.px_per_mm
    assert expected == round(expected)
    assert bar_of(pixels_of(draw_overview(studio, title="bowl"))) == expected
    image = pixels_of(draw_misfit(studio, design.form, title="bowl"))
    assert bar_of(image) == paper.bar_length_mm(view.px_per_mm, 215) * view.px_per_mm


def test_the_vessel_measures_its_diameter_by_the_sheets_own_bar(studio):
    image = pixels_of(draw_overview(studio, title="bowl"))
    (view, above, _), _ = overview_views(studio)
    bar = bar_of(image)
    length_mm = paper.bar_length_mm(view.px_per_mm, 215)
    # The after picture from above: blue and clay against the paper, right in row and column.
    left = (34 + view.width_px, 34 + 2 * view.width_px)
    top = 56 + 2 * 30 + view.height_px
    panel = image[top : top + above.height_px, left[0] : left[1]].astype(int)
    row = panel[above.height_px // 2]
    inked = np.flatnonzero(np.abs(row - 247).max(axis=1) > 25)
    # The 3 and 9 marks stand 4 px clear of the edge: the longest run without a gap is the bowl.
    runs = np.split(inked, np.flatnonzero(np.diff(inked) > 2) + 1)
    width_px = max(len(run) for run in runs)
    assert_allclose(width_px * length_mm / bar, 120.0, rtol=0, atol=2.0 * length_mm / bar)


def test_closeup_bar_is_10_mm_and_the_section_is_to_scale(studio, design):
    image = pixels_of(draw_closeup(studio, 1, design.body, design.frame.profile))
    scale = bar_of(image) / 10.0
    # Section along the wall: the lip is 5 mm thick. Its blue run, edge lines (0.8 pt) included,
    # is measured in the row where the blue begins plus one lip radius.
    panel = image[104 : 104 + 400, 12 + 2 * 412 : 12 + 2 * 412 + 400].astype(int)
    blue = (panel[..., 2] - panel[..., 0]) > 80
    first = int(np.flatnonzero(blue.any(axis=1))[0])
    row = first + round(2.5 * scale)
    assert_allclose(blue[row].sum() / scale, 5.0, rtol=0, atol=2.5 / scale)


def test_pieces_are_blue_and_the_body_is_not(studio):
    (side, _, _), _ = overview_views(studio)
    before = photograph(side, (studio.body,)).astype(int)
    after = photograph(side, studio.after).astype(int)
    blue = [((image[..., 2] - image[..., 0]) > 60).sum() for image in (before, after)]
    assert blue[0] == 0
    area_px = np.pi / 4 * 45 * 40 * side.px_per_mm**2
    assert blue[1] > 0.5 * area_px


def test_colours_of_the_scan_are_used():
    grey, glazed = (
        make_studio(make_design(segments=48, colours=colours)) for colours in (False, True)
    )
    (side, _, _), _ = overview_views(glazed)
    plain, green = (photograph(side, (s.body,)).reshape(-1, 3).astype(int) for s in (grey, glazed))
    # Celadon: green above red; clay: red above green.
    assert ((green[:, 1] - green[:, 0]) > 10).sum() > 1000
    assert ((plain[:, 1] - plain[:, 0]) > 10).sum() == 0


def test_outlines_of_a_section_have_the_known_area_and_hole():
    tube = manifold3d.Manifold.cylinder(20, 10, 10, 256, True) - manifold3d.Manifold.cylinder(
        30, 6, 6, 256, True
    )
    plane = Plane(np.zeros(3), np.array([1.0, 0, 0]), np.array([0, 1.0, 0]))
    rings = outlines(tube, plane)
    areas = [
        0.5 * np.sum(r[:, 0] * np.roll(r[:, 1], -1) - r[:, 1] * np.roll(r[:, 0], -1)) for r in rings
    ]
    assert sorted(np.sign(areas)) == [-1, 1]
    n_gon = 256 / (2 * np.pi) * np.sin(2 * np.pi / 256)
    assert_allclose(sum(areas), np.pi * (100 - 36) * n_gon, rtol=1e-9)


def test_the_map_darkens_evenly_to_both_ends_and_tells_them_apart():
    colours = band_colours().astype(float)
    grey = colours @ [0.299, 0.587, 0.114]  # luma weights of ITU-R BT.601
    middle = BANDS // 2
    # A step of 8 of 255 is plain to see in a grey print.
    assert (np.diff(grey[:middle]) > 8).all()
    assert (np.diff(grey[middle:]) < -8).all()
    # Hue: inside is redder than blue, proud is bluer than red; so for every band.
    assert (colours[:middle, 0] > colours[:middle, 2]).all()
    assert (colours[middle:, 2] > colours[middle:, 0]).all()
    # Grey for the unknown is no colour of the map.
    assert (np.abs(colours - UNKNOWN).max(axis=1) > 20).all()


def test_colours_follow_the_sign_and_clip_at_the_ends():
    table = band_colours()
    got = misfit_colours(np.array([-9.0, -0.45, -0.01, 0.01, 0.45, 9.0, np.nan]), 0.5)
    expected = [table[0], table[0], table[4], table[5], table[9], table[9], np.array(UNKNOWN)]
    assert np.array_equal(got, np.array(expected, dtype=np.uint8))


def test_limit_is_the_first_that_holds_nearly_all():
    assert choose_limit_mm(np.linspace(-0.3, 0.3, 1001)) == 0.5
    assert choose_limit_mm(np.concatenate([np.full(990, 0.05), np.full(10, 8.0)])) == 0.1
    assert choose_limit_mm(np.full(5, 80.0)) == LIMITS_MM[-1]
    assert choose_limit_mm(np.full(5, np.nan)) == LIMITS_MM[0]


def test_the_misfit_map_shows_an_oval_bowl_as_oval(studio, design):
    """The stand-in form says cos(2 angle): proud at 12 and 6 o'clock, inside at 3 and 9."""
    image = pixels_of(draw_misfit(studio, design.form, title="bowl")).astype(int)
    for clockwise_deg, proud in ((0, True), (180, True), (270, False)):
        patch = patch_of(image, studio, 2, clockwise_deg).reshape(-1, 3).mean(axis=0)
        assert (patch[2] > patch[0]) == proud, clockwise_deg


def patch_of(image: np.ndarray, studio, panel: int, clockwise_deg: float) -> np.ndarray:
    """Pixels about a point of the wall 50 mm from the axis, in a panel that looks along it."""
    views, _ = misfit_views(studio)
    left, top = panel_corner(views, panel)
    angle = np.deg2rad(-clockwise_deg)
    x, y = views[panel].pixel(50.0 * np.array([np.cos(angle), np.sin(angle), 0.0]))
    row, column = round(top + y), round(left + x)
    return image[row - 6 : row + 7, column - 6 : column + 7]


def test_the_map_shows_the_underside_the_right_way_round(studio):
    class Tilted:
        def misfit(self, points, _):
            p = points @ studio.vessel_from_scan[:3, :3].T + studio.vessel_from_scan[:3, 3]
            return 0.4 * np.sin(np.arctan2(p[:, 1], p[:, 0]))  # proud at 90 degrees: 9 o'clock

    views, captions = misfit_views(studio)
    assert captions[3] == "from below"
    # From below 12 is up as from above, and 9 o'clock comes to the right.
    assert_allclose(views[3].up, [1.0, 0.0, 0.0], atol=1e-12)
    assert_allclose(views[3].right, [0.0, 1.0, 0.0], atol=1e-12)
    assert_allclose(views[3].forward, [0.0, 0.0, 1.0], atol=1e-12)
    assert len({view.px_per_mm for view in views}) == 1
    image = pixels_of(draw_misfit(studio, Tilted(), title="bowl")).astype(int)
    for panel in (2, 3):
        for clockwise_deg, proud in ((225, True), (135, False)):
            patch = patch_of(image, studio, panel, clockwise_deg).reshape(-1, 3).mean(axis=0)
            # Both colours are strong there, so that paper or grey cannot pass for either.
            assert abs(patch[2] - patch[0]) > 20, (panel, clockwise_deg)
            assert (patch[2] > patch[0]) == proud, (panel, clockwise_deg)


def test_the_sign_can_be_read_in_a_grey_print(studio):
    """Lines of hatching in each patch of 13 pixels inside the form, an even tone proud of it."""

    class Halves:
        def misfit(self, points, _):
            p = points @ studio.vessel_from_scan[:3, :3].T + studio.vessel_from_scan[:3, 3]
            return np.where(p[:, 1] > 0, 0.45, -0.45)

    image = pixels_of(draw_misfit(studio, Halves(), title="bowl")) @ [0.299, 0.587, 0.114]
    for panel in (2, 3):
        proud, inside = (patch_of(image, studio, panel, turned) for turned in (225, 135))
        assert proud.std() < 3.0, panel
        row = inside[6]
        lines = (row[1:] < row.mean()) & (row[:-1] >= row.mean())
        assert lines.sum() >= 2, panel
        # Half as dark again as between the lines: plain in any print.
        assert np.quantile(inside, 0.9) > 1.3 * np.quantile(inside, 0.1), panel


def test_hatching_starts_past_the_band_next_to_zero():
    plain = np.full((12, 16), -0.09)
    for value, is_hatched in ((-0.09, False), (-0.11, True), (-9.0, True), (0.3, False)):
        colours = hatched(plain * 0 + value, 0.5)
        assert (len(np.unique(colours.reshape(-1, 3), axis=0)) == 2) == is_hatched, value
    unknown = hatched(plain * np.nan, 0.5)
    assert np.array_equal(np.unique(unknown.reshape(-1, 3), axis=0), [UNKNOWN])


def test_hatching_keeps_the_steps_in_order():
    # What a patch of hatching comes to at arm's length still darkens from band to band.
    middles = (np.arange(BANDS) + 0.5) / BANDS * 2.0 - 1.0
    tones = [hatched(np.full((24, 24), m), 1.0).reshape(-1, 3).mean(axis=0) for m in middles]
    grey = np.array(tones) @ [0.299, 0.587, 0.114]
    assert (np.diff(grey[: BANDS // 2]) > 8).all()


def test_a_closed_scan_hole_is_drawn_as_not_scanned(design):
    patched = np.ones(len(design.body.mesh.faces), dtype=bool)
    guessed = dataclasses.replace(design, body=dataclasses.replace(design.body, patched=patched))
    for made, expected in ((design, False), (guessed, True)):
        image = pixels_of(draw_misfit(make_studio(made), made.form, title="bowl")).astype(int)
        patch = patch_of(image, make_studio(made), 2, 0.0)
        grey = np.ptp(patch.reshape(-1, 3).mean(axis=0)) < 2.0
        assert grey == expected


def test_misfit_is_asked_only_where_it_is_seen(design):
    # A bubble within the floor, which no view shows.
    bubble = rounded32(manifold3d.Manifold.sphere(2.0, 24).translate([0, 0, 9]))
    hidden = transformed(bubble, np.linalg.inv(design.frame.vessel_from_scan))
    body = design.body.mesh
    seen = len(body.vertices)
    mesh = Mesh(
        np.vstack([body.vertices, hidden.vertices]), np.vstack([body.faces, hidden.faces + seen])
    )
    patched = np.zeros(len(mesh.faces), dtype=bool)
    holding = dataclasses.replace(design.body, mesh=mesh, patched=patched)
    studio = make_studio(dataclasses.replace(design, body=holding))
    asked = []

    class Counting:
        def misfit(self, points, normals):
            asked.append(len(points))
            assert_allclose(np.linalg.norm(normals, axis=1), 1.0, rtol=1e-9)
            return np.zeros(len(points))

    draw_misfit(studio, Counting(), title="bowl")
    assert len(asked) == 1
    assert 0.8 * seen < asked[0] <= seen


def test_srgb_round_trip_and_a_known_value():
    values = np.arange(256, dtype=np.uint8)
    assert np.array_equal(to_srgb(to_linear(values)), values)
    # IEC 61966-2-1: sRGB 188 is half of full light, to within a byte (from memory).
    assert_allclose(to_linear(np.uint8(188)), 0.5, atol=0.005)


def test_the_near_plane_opens_the_inside_to_view():
    shell = manifold3d.Manifold.sphere(20, 64) - manifold3d.Manifold.sphere(17, 64)
    subject = make_subject(rounded32(shell), (200, 60, 60))
    view = looking(np.array([0, -1.0, 0]), centre=np.zeros(3), px_per_mm=3, size_px=(150, 150))
    whole = cast(view, (subject,)).depth_mm
    cut = cast(dataclasses.replace(view, near_mm=0.0), (subject,)).depth_mm
    # Through the middle the far inner wall is 17 mm behind the cutting plane.
    assert_allclose(cut[150, 150], 17.0, rtol=0.01)
    assert np.isfinite(whole[150, 150])
    red = photograph(dataclasses.replace(view, near_mm=0.0), (subject,)).astype(int)
    ring = red[75, 75 + round(18.5 * 3)]
    assert abs(ring[0] - ring[2]) < 20  # cut material is grey
    assert red[75, 75][0] - red[75, 75][2] > 60


def test_a_whole_vessel_gets_a_before_row_only(design):
    bare = make_studio(dataclasses.replace(design, fills=(), losses=()))
    one, two = (pixels_of(draw_overview(s, title="x")) for s in (bare, make_studio(design)))
    assert one.shape[0] < 0.65 * two.shape[0]


def test_a_loss_without_a_piece_is_still_looked_at(design, studio):
    bare = make_studio(dataclasses.replace(design, fills=()))
    _, names = overview_views(bare)
    assert names == overview_views(studio)[1]
    assert clock(design.losses[0].angle_deg) in names[0]


def test_a_view_is_quick(studio):
    """Aim: a second a view on one core; ten here, so that a busy machine does not fail it."""
    points = spread_points(studio.after)
    view = sized(framed(direction(20.0, 10.0), points)[0], 3.0, (430, 400))
    start = time.perf_counter()
    photograph(view, studio.after)
    assert time.perf_counter() - start < 10.0
