"""The intact vessel: a revolved profile, moved by its out-of-round field to lie on the skin."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from lossfill import tolerances as tol
from lossfill.form.cells import Cells, Skin
from lossfill.form.choice import Choice
from lossfill.form.close import close_turn
from lossfill.form.flakes import Flakes
from lossfill.form.join import JoinSkin
from lossfill.form.twin import Twin
from lossfill.frame.outline import Outline
from lossfill.frame.profile import Profile, Projection, at, project
from lossfill.frame.samples import Samples
from lossfill.mesh import BoolArray, FloatArray, Mesh


@dataclass(frozen=True, slots=True, eq=False)
class Form:
    """The whole vessel as it was, in vessel coordinates, and the evidence for it.

    Parameters
    ----------
    profile : the revolved profile that the field moves
    outline : what takes the round vessel to an oval or lobed one, or None
    cells : the grid on which the field is kept
    field_mm : (R, C) offset of the intact skin from the profile along its normal
    skin : what the samples show of each cell
    gap : (R, C) True where the vessel shows no skin: lost, or covered by a handle
    scan_from_vessel : (4, 4) rigid
    stiffness : of the elastic field, chosen or given; infinite means plainly revolved
    repeats : number of flutes or lobes found round the vessel, or None
    noise_mm : scatter of single samples about the skin
    row_scatter_mm : (R,) the same row by row; large where the profile turns sharply
    choices : the source chosen for each of the largest gaps; the first serves all others too
    choice : (R, C) which of them a cell follows
    round_error_mm : the same for the plain revolved profile, for comparison
    patches : how many patches were hidden and predicted
    join : the skin right beside the gaps, or None for a form that follows its cells alone
    twin : the other vessel of the set, where its scan was given
    flakes : gaps that may be shallow spalls, or None where none was looked for
    drop : where the frame's samples fall on the profile, or None where it was not kept
    warnings : sentences that every front end must show
    """

    profile: Profile
    outline: Outline | None
    cells: Cells
    field_mm: FloatArray = field(repr=False)
    skin: Skin = field(repr=False)
    gap: BoolArray = field(repr=False)
    scan_from_vessel: FloatArray
    stiffness: float
    repeats: int | None
    noise_mm: float
    row_scatter_mm: FloatArray = field(repr=False)
    choices: tuple[Choice, ...] = field(repr=False)
    choice: NDArray[np.intp] = field(repr=False)
    round_error_mm: float
    patches: int
    join: JoinSkin | None = field(default=None, repr=False)
    twin: Twin | None = None
    flakes: Flakes | None = field(default=None, repr=False)
    drop: Projection | None = field(default=None, repr=False)
    warnings: tuple[str, ...] = ()

    @property
    def expected_error_mm(self) -> float:
        """RMS error to expect in the largest gap, from predicting hidden patches like it."""
        return self.choices[0].error_mm

    def offset_mm(self, along: FloatArray, angle: FloatArray) -> FloatArray:
        """Offset of the intact skin from the profile at places along it and around, mm."""
        return interpolate(self.cells, self.profile, self.field_mm, along, angle)

    def locate(self, points: FloatArray, normals: FloatArray) -> tuple[Projection, FloatArray]:
        """Drop points of the vessel on the profile, with its outline allowed for.

        Parameters
        ----------
        points, normals : (N, 3) vessel coordinates

        Returns
        -------
        Where they fall, and (N,) the angle of each around the round vessel, 0 to 2π, by which
        the cells go.
        """
        here = Samples(points, normals, normals, 0.0)
        if self.outline is not None:
            here = self.outline.to_round(here)
        angle = np.mod(np.arctan2(here.points[:, 1], here.points[:, 0]), 2 * np.pi)
        return project(self.profile, here.points, here.normals), angle

    def misfit(self, points_scan: FloatArray, normals_scan: FloatArray) -> FloatArray:
        """Signed distance of skin points from the intact form, mm, positive outside.

        Parameters
        ----------
        points_scan, normals_scan : (N, 3) scan coordinates

        Returns
        -------
        (N,) mm; NaN where the point does not face as the form does (breaks, handles).
        """
        vessel_from_scan = np.linalg.inv(self.scan_from_vessel)
        p = points_scan @ vessel_from_scan[:3, :3].T + vessel_from_scan[:3, 3]
        n = normals_scan @ vessel_from_scan[:3, :3].T
        drop, angle = self.locate(p, n)
        misfit = drop.offset_mm - self.offset_mm(drop.along, angle)
        facing = drop.agreement > tol.SKIN_AGREEMENT
        return np.where(facing & (np.abs(misfit) < tol.MISFIT_SHOWN_MM), misfit, np.nan)

    def mesh_in_scan(self) -> Mesh:
        """The intact vessel as closed triangles in scan coordinates, for pictures."""
        rows = np.linspace(0, len(self.profile.points) - 1, 2 * self.cells.shape[0] + 1)
        mesh = close_turn(place_on_form(self, rows[:, None], self.cells.angles[None, :]))
        vertices = mesh.vertices @ self.scan_from_vessel[:3, :3].T + self.scan_from_vessel[:3, 3]
        return Mesh(vertices, mesh.faces)

    def summary(self) -> dict[str, float | int | str | None]:
        """Numbers for the record."""
        told: dict[str, float | int | str | None] = {}
        if self.twin is not None:
            larger = self.twin.larger
            told = {
                "twin_larger_percent": None if larger is None else 100 * larger,
                "twin_larger_error_percent": None
                if larger is None
                else 100 * self.twin.larger_error,
                "twin_size": self.twin.size_says,
            }
        return told | {
            "source": self.choices[0].source,
            "stiffness": self.stiffness if np.isfinite(self.stiffness) else "infinite",
            "repeats": self.repeats,
            "noise_mm": self.noise_mm,
            "expected_error_mm": self.expected_error_mm,
            "round_error_mm": self.round_error_mm,
            "hidden_patches": self.patches,
        }


def interpolate(
    cells: Cells, profile: Profile, values: FloatArray, along: FloatArray, angle: FloatArray
) -> FloatArray:
    """Cubic interpolation of a cell image at places along the profile and around, any shape."""
    row = along * cells.shape[0] / (len(profile.points) - 1) - 0.5
    column = np.mod(angle / cells.column_rad, cells.shape[1])
    # Eight columns from across the seam give the spline its periodicity, to 1e-3 of its range.
    wrapped = np.hstack([values[:, -8:], values, values[:, :8]])
    padded = np.vstack([wrapped[:1]] * 4 + [wrapped] + [wrapped[-1:]] * 4)
    result: FloatArray = map_coordinates(
        padded, [np.maximum(row, -0.5) + 4, column + 8], order=3, mode="nearest"
    )
    return result


def place_on_form(
    form: Form, along: FloatArray, angle: FloatArray, *, shift_mm: FloatArray | float = 0.0
) -> FloatArray:
    """Points of the intact skin, moved outwards by `shift_mm`; (..., 3) vessel coordinates.

    `along` and `angle` broadcast against each other.
    """
    along, angle = np.broadcast_arrays(along, angle)
    points, normals = at(form.profile, along.ravel())
    offset = (form.offset_mm(along, angle) + shift_mm).ravel()
    r, z = (points + offset[:, None] * normals).T
    r = np.maximum(r, 0.0)
    flat = np.stack([r * np.cos(angle.ravel()), r * np.sin(angle.ravel()), z], axis=1)
    if form.outline is not None:
        flat = form.outline.from_round(flat, along.ravel())
    return flat.reshape(*along.shape, 3)
