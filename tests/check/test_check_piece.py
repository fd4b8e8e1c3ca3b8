"""The check of made pieces whose faults are known."""

import dataclasses
import functools

import manifold3d
import numpy as np
import pytest
from check.scans import dense, off_mm, piece_mesh, scan_of, somewhere, with_noise
from make.briefs import bowl_rim, cylinder_hole
from scipy.spatial.transform import Rotation

from lossfill.check import CheckSettings, check_piece_scan, lines_of
from lossfill.check import check_scan as check_with_picture
from lossfill.check.record import CheckRecord, record_bytes
from lossfill.errors import InputError
from lossfill.loss.sides import Side
from lossfill.make.shrink import Shrink
from lossfill.mesh import Mesh, face_vectors, transformed, unit
from lossfill.solids import mesh_from_solid

check_scan = functools.partial(check_with_picture, picture=False)


@pytest.fixture(scope="module")
def window():
    """A window of a straight cup; a corner is cut off, so that no other way round looks alike."""
    brief = cylinder_hole(n=120)
    piece = brief.pieces[0]
    # The corner ends 30 mm up: outside the window's middle, on one side alone.
    corner = manifold3d.Manifold.cube((20, 10, 10)).translate((30, 8, 20))
    return dataclasses.replace(
        brief, pieces=(dataclasses.replace(piece, solid=piece.solid - corner),)
    )


@pytest.fixture(scope="module")
def lumped(window):
    """The check of a piece with a lump of 3 x 3 mm that stands 0.5 mm below its lower seat."""
    # The lower seat is level at 25 mm and the clearance of 0.15; the lump's middle is at x = 38.
    lump = manifold3d.Manifold.cube((3, 3, 2.5)).translate((36.5, -1.5, 25.15 - 0.5))
    solid = window.pieces[0].solid + lump
    return check_scan(scan_of(transformed(dense(solid), somewhere(3))), (window,))


def test_design_itself_is_found_where_it_is_and_goes_in(window):
    mesh, matrix = piece_mesh(window), somewhere(1)
    found = check_scan(scan_of(transformed(mesh, matrix)), (window,))
    # The surface is known to 32-bit floats: 4e-6 mm at 40 mm.
    assert off_mm(mesh, matrix, found.vessel_from_piece_scan) < 1e-3
    assert found.goes_in.verdict == "goes in"
    assert found.goes_in.relief_mm3 == 0.0
    assert found.goes_in.proof.passed
    assert found.places == ()
    assert found.lie.larger_percent == pytest.approx(0.0, abs=0.002)
    # The clearance of 0.15 mm is what is left, but at the corner that is cut off.
    assert found.gap.p50_mm == pytest.approx(0.15, abs=0.005)
    assert found.gap.touching == 0.0
    assert found.step_mm < 0.005
    assert {side.side for side in found.sides} == {Side.OUTER, Side.INNER, Side.BREAK}


def test_noise_does_not_move_it(window):
    mesh, matrix = dense(window.pieces[0].solid), somewhere(2)
    noisy = with_noise(mesh, 0.03)
    found = check_scan(scan_of(transformed(noisy, matrix)), (window,))
    # 0.03 mm in waves of 3 mm over 1 600 mm2, some 180 of them: a mean errs by 0.002 mm.
    assert off_mm(mesh, matrix, found.vessel_from_piece_scan) < 0.01
    assert found.goes_in.verdict == "goes in"
    assert abs(found.lie.larger_percent) < 4 * max(found.lie.larger_error_percent, 0.005)
    for side in found.sides:
        # 95 % of a Gaussian lie below 1.645 of its deviation, 0.049 mm.
        assert 0.04 < side.p95_mm < 0.06
        assert abs(side.p50_mm) < 0.005


def test_lump_on_the_seat_is_found_with_its_depth_and_area(lumped):
    first = lumped.places[0]
    assert first.side is Side.BREAK
    assert first.depth_mm == pytest.approx(0.5, abs=0.03)
    # Its foot is 9 mm2, its sides another 4 x 3 x 0.5 = 6.
    assert 7.0 < first.area_mm2 < 15.0
    assert np.linalg.norm(first.at - [38.0, 0.0, 24.65]) < 1.0
    assert first.where.startswith("lower, seen from outside (12:00")


def test_lump_keeps_the_piece_out_until_it_is_filed(lumped):
    goes = lumped.goes_in
    assert goes.verdict == "file first"
    # It stands 0.35 mm past the clearance on 9 mm2; raising the piece may win the upper clearance.
    assert 9 * 0.35 - 9 * 0.15 < goes.relief_mm3 < 1.5 * 9 * 0.35
    assert 0.18 < goes.file_mm < 0.40
    assert goes.places[0].side is Side.BREAK
    assert np.linalg.norm(goes.places[0].at - [38.0, 0.0, 24.65]) < 2.0
    assert goes.proof.passed
    assert goes.moved_mm <= 0.15
    text = "\n".join(lines_of(lumped))
    assert "It does not go in yet" in text
    assert "filed so, it goes in" in text
    assert "file up to" in text
    assert "1 take off up to 0.5" in text


def test_lump_that_clears_by_a_shift_goes_in(window):
    # 0.22 mm is 0.07 past the clearance below; the upper clearance gives 0.15.
    lump = manifold3d.Manifold.cube((3, 3, 2.5)).translate((36.5, -1.5, 25.15 - 0.22))
    solid = window.pieces[0].solid + lump
    found = check_scan(scan_of(transformed(dense(solid), somewhere(4))), (window,))
    assert found.goes_in.verdict in ("goes in", "may rub")
    assert found.goes_in.shared_mm3 < 1e-3
    assert 0.05 < found.goes_in.moved_mm <= 0.15


def test_piece_that_shrank_is_told_its_size_and_its_gap(window):
    mesh = piece_mesh(window)
    small = Mesh(0.98 * mesh.vertices, mesh.faces)
    found = check_scan(scan_of(transformed(small, somewhere(5))), (window,))
    assert found.lie.larger_percent == pytest.approx(-2.0, abs=0.05)
    assert found.lie.scaled_rms_mm < 0.001
    assert found.goes_in.verdict == "goes in"
    # Each place of the break is farther off by 2 % of its distance from the piece's middle,
    # along its normal; the middle is that of the surface.
    design = found.brief.lost.faces_of(Side.BREAK)
    vectors = face_vectors(design)
    area = np.linalg.norm(vectors, axis=1)
    every = np.linalg.norm(face_vectors(mesh), axis=1)
    middle = (every[:, None] * mesh.vertices[mesh.faces].mean(axis=1)).sum(axis=0) / every.sum()
    out = ((design.vertices[design.faces].mean(axis=1) - middle) * unit(vectors)).sum(axis=1)
    near = out > 0
    expected = 0.15 + 0.02 * np.average(out[near], weights=area[near])
    assert expected > 0.25
    # The corner that is cut off lies on few triangles of the break: the median does not see it.
    assert found.gap.p50_mm == pytest.approx(expected, abs=0.06)
    assert any("smaller than designed" in line for line in lines_of(found))


@pytest.mark.parametrize("shrink", [Shrink(0.12, 0.12), Shrink(0.12, 0.10), Shrink(0.02, 0.05)])
def test_piece_made_larger_and_fired_fits_back(window, shrink):
    mesh = piece_mesh(window)
    axis = unit(np.array([1.0, 0.3, 0.2]))
    wet = transformed(mesh, shrink.matrix(axis, np.array([40.0, 0.0, 35.0])))
    fired = _fired(wet, axis, shrink.along, shrink.across)
    found = check_scan(scan_of(transformed(fired, somewhere(6))), (window,))
    assert found.lie.rms_mm < 0.05
    assert found.lie.larger_percent == pytest.approx(0.0, abs=0.01)
    assert found.goes_in.verdict == "goes in"


def test_piece_made_larger_by_one_plus_the_shrinkage_is_too_small(window):
    # 1.12 x 0.88 = 0.9856: the mistake that Shrink avoids.
    mesh = piece_mesh(window)
    fired = Mesh(1.12 * 0.88 * mesh.vertices, mesh.faces)
    found = check_scan(scan_of(transformed(fired, somewhere(6))), (window,))
    assert found.lie.larger_percent == pytest.approx(-1.44, abs=0.02)


@pytest.mark.slow
def test_wet_piece_is_laid_by_its_shape_and_told_too_large(window):
    mesh = piece_mesh(window)
    wet = Mesh(mesh.vertices / 0.88, mesh.faces)
    found = check_scan(scan_of(transformed(wet, somewhere(7))), (window,))
    # 1 / 0.88 = 1.13636.
    assert found.lie.larger_percent == pytest.approx(13.636, abs=0.05)
    assert found.goes_in.verdict == "file first"


def _fired(mesh, axis, along, across):
    """Every length along an axis less by a share, and across it by another."""
    turn, _ = Rotation.align_vectors([[0.0, 0.0, 1.0]], [axis])
    placed = turn.apply(mesh.vertices.copy()) * np.array([1 - across, 1 - across, 1 - along])
    return Mesh(turn.inv().apply(placed), mesh.faces)


def test_opened_scan_gives_the_misfit_alone(window):
    mesh = dense(window.pieces[0].solid)
    centres = mesh.vertices[mesh.faces].mean(axis=1)
    # All of the upper seat and what is beside it was not scanned.
    opened = Mesh(mesh.vertices, mesh.faces[centres[:, 2] < 42.0])
    matrix = somewhere(8)
    found = check_scan(scan_of(transformed(opened, matrix)), (window,))
    assert off_mm(mesh, matrix, found.vessel_from_piece_scan) < 0.01
    assert found.goes_in.verdict == "not known"
    assert found.goes_in.why
    assert 0.7 < found.lie.covered < 0.95
    for side in found.sides:
        assert max(abs(side.p05_mm), abs(side.p95_mm)) < 0.01


def test_best_of_several_pieces_is_taken(window):
    rim = bowl_rim(wide_deg=40.0)
    rim = dataclasses.replace(rim, pieces=(dataclasses.replace(rim.pieces[0], name="2"),))
    mesh = piece_mesh(window)
    found = check_scan(scan_of(transformed(mesh, somewhere(9))), (rim, window))
    assert found.piece.name == "1"


@pytest.mark.slow
def test_wrong_piece_is_refused(window):
    other = cylinder_hole(wide_deg=60.0, n=120)
    scan = scan_of(transformed(piece_mesh(other), somewhere(10)))
    with pytest.raises(InputError, match=r"does not lie on piece 1 .* limit 0\.50 mm"):
        check_scan(scan, (window,))


def test_mirror_image_is_named(window):
    mesh = transformed(piece_mesh(window), np.diag([-1.0, 1.0, 1.0, 1.0]))
    with pytest.raises(InputError, match="mirror image of piece 1"):
        check_scan(scan_of(transformed(mesh, somewhere(11))), (window,))


def test_other_things_are_refused_in_one_line(window, tmp_path):
    vessel = scan_of(mesh_from_solid(window.body))
    with pytest.raises(InputError, match=r"as the whole vessel is.*the piece alone"):
        check_scan(vessel, (window,))
    mesh = piece_mesh(window)
    inches = scan_of(Mesh(mesh.vertices / 25.4, mesh.faces))
    with pytest.raises(InputError, match="--units"):
        check_scan(inches, (window,))
    with pytest.raises(InputError, match="no piece 7: it holds 1"):
        check_scan(scan_of(mesh), (window,), name="7")
    with pytest.raises(InputError, match="holds no design"):
        check_piece_scan(tmp_path / "piece.stl", tmp_path)
    with pytest.raises(InputError, match="must be above 0"):
        CheckSettings(tolerance_mm=0.0)


def test_metres_are_told_by_the_size(window):
    mesh = piece_mesh(window)
    metres = scan_of(Mesh(mesh.vertices / 1000.0, mesh.faces), unit_source="inferred")
    found = check_scan(metres, (window,))
    assert found.lie.larger_percent == pytest.approx(0.0, abs=0.01)
    assert any("in metres" in warning for warning in found.warnings)


def test_symmetric_piece_is_warned_about():
    brief = cylinder_hole(n=120)
    found = check_scan(scan_of(piece_mesh(brief)), (brief,))
    assert any("another way round" in warning for warning in found.warnings)


def test_record_and_picture_are_the_same_twice(window, lumped):
    again, once_more = (check_with_picture(lumped.scan, (window,)) for _ in range(2))
    assert record_bytes(again) == record_bytes(once_more)
    assert again.picture == once_more.picture
    assert again.picture.startswith(b"\x89PNG")
    record = CheckRecord.model_validate_json(record_bytes(lumped))
    assert record.goes_in.verdict == "file first"
    assert record.places[0].side == "seat"
