"""The check of a made piece: its scan against its design, and against the body it is to fill."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.spatial import cKDTree

from lossfill import tolerances as tol
from lossfill.body import Body, make_body
from lossfill.check.checked import Checked, GoesIn, Lie
from lossfill.check.gap import find_gap, find_step
from lossfill.check.goes import Way, how_it_goes_in
from lossfill.check.misfit import by_side, find_misfit, find_places
from lossfill.check.nudge import Points, moved, pulls_to, scale_error, settled
from lossfill.check.picture import draw_check
from lossfill.check.place import standing_of
from lossfill.check.register import rms_both_ways, trimmed_rms
from lossfill.check.settings import CheckSettings
from lossfill.check.sides import PieceSides, sides_of_piece
from lossfill.check.which import Found, candidates, find_piece, in_its_unit
from lossfill.errors import InputError
from lossfill.make.brief import Brief
from lossfill.make.store import read_briefs
from lossfill.mesh import BoolArray, FloatArray, Mesh, signed_volume_mm3, transformed
from lossfill.scan.read import read_scan
from lossfill.scan.scan import Scan, Unit
from lossfill.solids import Solid, solid_from_mesh


def check_piece_scan(
    scan_path: str | Path,
    folder: str | Path,
    *,
    name: str | None = None,
    units: Unit | None = None,
    settings: CheckSettings | None = None,
    picture: bool = True,
) -> Checked:
    """Check the scan of a piece that was printed, cast or carved against its design.

    Parameters
    ----------
    scan_path : the scan of the piece alone
    folder : that `lossfill fill` wrote
    name : of the piece, such as "1" or "2b"; None takes the one on which the scan lies best
    units : unit of the file's numbers; None lets the file, or else its size, decide
    picture : draw the misfit; else its picture is empty

    Raises
    ------
    InputError
        Where the file or the folder cannot be used, or the scan lies on no piece of it.
    ExportError
        Where the folder's record cannot be read.
    """
    briefs = read_briefs(Path(folder))
    scan = read_scan(scan_path, units=units, any_size=True)
    return check_scan(scan, briefs, name=name, settings=settings, picture=picture)


def check_scan(
    scan: Scan,
    briefs: tuple[Brief, ...],
    *,
    name: str | None = None,
    settings: CheckSettings | None = None,
    picture: bool = True,
) -> Checked:
    """The same for a scan and briefs in memory.

    Raises
    ------
    InputError
        As `check_piece_scan`.
    """
    settings = CheckSettings() if settings is None else settings
    pieces = candidates(briefs, name)
    scan = in_its_unit(scan, pieces)
    body, why = _closed(scan)
    mesh, left_out = (body.mesh, body.patched) if body is not None else (_outward(scan.mesh), None)
    found = find_piece(scan, mesh, left_out, pieces, settings)
    matrix, lie = _lie(found)
    warnings = [*scan.warnings, *(() if body is None else body.warnings)]
    warnings += _warnings(found)
    placed = _Placed(transformed(mesh, matrix), left_out, matrix, lie, why)
    sides = sides_of_piece(found.brief, found.piece)
    checked = _checked(scan, found, placed, sides, settings, tuple(warnings))
    if not picture:
        return checked
    drawn = draw_check(
        placed.mesh,
        sides,
        standing_of(sides.design),
        checked.places,
        left_out=left_out,
        title=f"Piece {found.piece.name} of {found.brief.part}",
    )
    return replace(checked, picture=drawn)


@dataclass(frozen=True, slots=True, eq=False)
class _Placed:
    """The scan at its best fit, (F,) what of it was not measured, and why it is not closed."""

    mesh: Mesh
    left_out: BoolArray | None
    matrix: FloatArray
    lie: Lie
    why: str


def _checked(
    scan: Scan,
    found: Found,
    placed: _Placed,
    sides: PieceSides,
    settings: CheckSettings,
    warnings: tuple[str, ...],
) -> Checked:
    brief, piece = found.brief, found.piece
    mesh, matrix, why = placed.mesh, placed.matrix, placed.why
    standing = standing_of(sides.design)
    misfit = find_misfit(mesh, sides, seed=settings.seed, left_out=placed.left_out)
    places = find_places(misfit, standing, settings, clearance_mm=brief.clearance_mm)
    home = np.eye(4)
    if why:
        goes = GoesIn("not known", why, 0.0, 0.0, 0.0, (), 0.0, None)
    else:
        solid: Solid = solid_from_mesh(mesh)
        points = Points(misfit.points, misfit.normals)
        goes, home = how_it_goes_in(solid, points, Way.of(brief, piece), standing, sides)
    return Checked(
        scan=scan,
        brief=brief,
        piece=piece,
        vessel_from_piece_scan=matrix,
        home_from_piece_scan=home @ matrix,
        lie=placed.lie,
        sides=by_side(misfit, settings.tolerance_mm),
        places=places,
        goes_in=goes,
        gap=find_gap(brief, piece, transformed(mesh, home), closed=not why, settings=settings),
        step_mm=find_step(misfit, brief, sides, home),
        mesh=mesh,
        picture=b"",
        warnings=warnings,
    )


def _closed(scan: Scan) -> tuple[Body | None, str]:
    """The scan's solid, or why there is none."""
    try:
        body = make_body(scan)
    except InputError as error:
        return None, f"the scan cannot be made a closed solid: {error}"
    if body.assumed is not None:
        return None, "the scan shows one side of the piece only: scan it from both sides"
    return body, ""


def _outward(mesh: Mesh) -> Mesh:
    """The triangles facing outwards, as far as that can be told of an open scan."""
    if signed_volume_mm3(mesh) >= 0.0:
        return mesh
    return replace(mesh, faces=mesh.faces[:, ::-1])


def _lie(found: Found) -> tuple[FloatArray, Lie]:
    target, points = found.target, Points(found.samples.points, found.samples.normals)
    matrix = settled(points, target.surface, found.poses[0].matrix, scaled=False)
    sized = settled(points, target.surface, matrix, scaled=True)
    size = float(np.cbrt(np.linalg.det(sized[:3, :3])))
    error = scale_error(pulls_to(points.moved(sized), target.surface))
    if abs(size - 1.0) > max(3.0 * error, tol.CHECK_OFF_SIZE):
        matrix = _about_its_middle(sized, size, points.points)
    placed = moved(points.points, matrix)
    return matrix, Lie(
        rms_mm=rms_both_ways(placed, target),
        covered=_covered(placed, found),
        larger_percent=100.0 * (1.0 / size - 1.0),
        larger_error_percent=100.0 * error,
        scaled_rms_mm=rms_both_ways(moved(points.points, sized), target),
    )


def _about_its_middle(sized: FloatArray, size: float, points: FloatArray) -> FloatArray:
    """The rigid motion that leaves a piece of another size in the middle of its place, (4, 4).

    Laid at its own size it would lie on some of its sides and leave the whole gap at the others.
    """
    rigid = sized.copy()
    rigid[:3, :3] /= size
    rigid[:3, 3] += (sized[:3, :3] - rigid[:3, :3]) @ points.mean(axis=0)
    return rigid


def _covered(placed: FloatArray, found: Found) -> float:
    """Share of the design's surface that has something of the scan beside it."""
    away, _ = cKDTree(placed).query(found.target.samples.points)
    far = max(tol.CHECK_COVERED_MM, tol.CHECK_SPARSE * float(np.sqrt(found.samples.area_mm2)))
    return float((np.asarray(away) < far).mean())


def _warnings(found: Found) -> list[str]:
    """Say where the piece may as well be put in another way round."""
    if len(found.poses) < 2:
        return []
    # Nearly all must lie: a shell slid along itself lies on most of its design.
    away = [
        trimmed_rms(
            found.target.surface.distance(moved(found.samples.points, pose.matrix)),
            tol.CHECK_TWIN_SHARE,
        )
        for pose in found.poses
    ]
    second = min(away[1:])
    if second > tol.CHECK_TWIN_RMS * max(away[0], tol.CHECK_TWIN_MM):
        return []
    return [
        f"piece {found.piece.name} lies nearly as well another way round ({second:.2f} mm against "
        f"{away[0]:.2f} mm): mark which side is up before it is put in"
    ]
