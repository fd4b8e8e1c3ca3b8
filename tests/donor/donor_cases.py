"""Broken boxes, tiles and handled vessels, designed once, and what to hold their pieces against."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
import vessels
from breaking import break_vessel
from make_meshes import write_ply
from manifold3d import Manifold
from rays import Surface
from scanning import as_scanned, random_pose, smooth_noise
from scoring import sample
from shapes import as_scan
from tiles import box, break_sheet, cut_box, cut_tile, saddle_tile

from lossfill.body import Body, make_body
from lossfill.mesh import FloatArray, Mesh, transformed
from lossfill.road import Design, Settings, design
from lossfill.scan import Unit
from lossfill.solids import Solid, mesh_from_solid, solid_from_mesh

NOISE_MM = 0.05
"""Standard deviation of the noise of every scan here."""
SKIN_MM = 2 * NOISE_MM + 0.05
"""RMS distance by which a piece may miss the skin: twice the noise, and 0.05 mm for the form."""
CLEARANCE_MM = 0.15


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """A thing broken, scanned and given its pieces.

    Parameters
    ----------
    whole, chunk : as made, upright; the chunk is what broke off
    scan : as scanned, mm
    pose : (4, 4) scan mm from upright mm
    made : what the road gives
    """

    whole: Mesh
    chunk: Mesh
    scan: Mesh
    pose: FloatArray
    made: Design

    @property
    def lost(self) -> Solid:
        """The one missing solid, upright."""
        (loss,) = self.made.losses
        return loss.solid.transform(np.linalg.inv(self.pose)[:3])

    @property
    def skin_rms_mm(self) -> float:
        """RMS distance of the chunk's true skin from what was found missing."""
        points = sample(self.chunk, 8000, np.random.default_rng(8))
        skin = points[Surface(self.whole).distance(points) < 1e-3]
        apart = Surface(mesh_from_solid(self.lost)).distance(skin)
        return float(np.sqrt(np.mean(apart**2)))

    @property
    def volume_ratio(self) -> float:
        """Volume found missing over the true one."""
        return float(self.lost.volume() / solid_from_mesh(self.chunk).volume())


@cache
def whole_box(seed: int = 3) -> Mesh:
    # Its corners of 1.5 mm radius need no more than this, and it is made in a second.
    return box(edge_mm=2.2, seed=seed)


@cache
def whole_tile() -> Mesh:
    return saddle_tile(edge_mm=1.8, seed=2)


def designed(
    whole: Mesh,
    body: Mesh,
    chunks: Sequence[Mesh],
    *,
    seed: int,
    form: str | None = None,
    twin: Mesh | None = None,
    twin_scaled: bool = False,
) -> Case:
    """Scan a body with noise, in a pose of its own, and run the road on it."""
    rng = np.random.default_rng(seed)
    scan, pose = as_scanned(body, noise_mm=NOISE_MM, rng=rng)
    with TemporaryDirectory() as folder:
        path = None
        if twin is not None:
            other, _ = as_scanned(twin, noise_mm=NOISE_MM, rng=rng)
            path = write_ply(other, Path(folder) / "twin.ply")
        settings = Settings(
            clearance_mm=CLEARANCE_MM,
            units=Unit.MILLIMETRE,
            form=form,
            twin=path,
            twin_scaled=twin_scaled,
        )
        made = design(as_scan(scan), settings)
    return Case(whole, chunks[0] if chunks else whole, scan, pose, made)


def box_in_parts(kind: str) -> tuple[Mesh, list[Mesh]]:
    """The box with its rim or a corner broken, and the chunk."""
    body, chunks = break_sheet(whole_box(), [cut_box(kind, rng=np.random.default_rng(3))])
    return body, list(chunks)


def box_scan() -> Mesh:
    """The scan that `broken_box("rim")` designs on, without the design."""
    rng = np.random.default_rng(3)
    return as_scanned(box_in_parts("rim")[0], noise_mm=NOISE_MM, rng=rng)[0]


@cache
def broken_box(kind: str, by: str | None = None) -> Case:
    """The box with its rim or a corner broken; by twin, the twin is another of its kind."""
    whole = whole_box()
    body, chunks = box_in_parts(kind)
    twin = whole_box(103) if by == "twin" else None
    return designed(whole, body, chunks, seed=3, form=by, twin=twin)


@cache
def broken_tile(kind: str) -> Case:
    """The saddle tile with a hole or a bite gone."""
    whole = whole_tile()
    body, chunks = break_sheet(whole, [cut_tile(kind, rng=np.random.default_rng(2))])
    return designed(whole, body, chunks, seed=2, form="bridge")


@cache
def whole_vessel(name: str) -> Mesh:
    """A vessel with handles, by its name in `vessels`."""
    mesh: Mesh = getattr(vessels, name)(edge_mm=2.0, seed=2)
    return mesh


@cache
def broken_handle(name: str, kind: str, *, with_twin: bool = False) -> Case:
    """A vessel with a handle at 0 degrees that lost a piece; its twin is what it was before."""
    whole = whole_vessel(name)
    found = break_vessel(whole, kind, rng=np.random.default_rng(2), angle_deg=0.0)
    twin = whole if with_twin else None
    return designed(whole, found.body, found.chunks, seed=2, twin=twin)


def assert_made_good(case: Case, *, skin_mm: float = SKIN_MM) -> None:
    """One loss, as large as the chunk and where it was, whose piece fits."""
    (loss,) = case.made.losses
    assert case.skin_rms_mm < skin_mm
    assert case.volume_ratio == pytest.approx(1.0, abs=0.02)
    # What the tool says of its own error must hold, with the noise that no form can know of.
    assert case.skin_rms_mm < loss.bound_mm + NOISE_MM
    (fill,) = case.made.fills
    assert fill.volume_ml < loss.volume_ml
    assert len(fill.solid.decompose()) == 1
    # Doubles: 1e-12 of 10⁵ mm³.
    assert float((fill.solid ^ case.made.body.solid).volume()) < 1e-6


def body_of(mesh: Mesh) -> Body:
    """A mesh in mm, mended."""
    return make_body(as_scan(mesh))


def without_a_third(whole: Mesh) -> Mesh:
    """The box with about three tenths of it cut off by a slanting plane."""
    solid = solid_from_mesh(whole)
    normal = np.array([0.5, 0.8, 0.35])
    normal /= np.linalg.norm(normal)
    return mesh_from_solid(solid.trim_by_plane(-normal, -18.0))


def lump() -> Mesh:
    """An irregular lump, about 70 mm across, with no plane of symmetry and no hollow."""
    swell = smooth_noise(np.random.default_rng(7), scales_mm=(30.0, 60.0), rms_mm=0.28)

    def swollen(points: FloatArray) -> FloatArray:
        return points * np.exp(swell(points))[:, None]

    return mesh_from_solid(Manifold.sphere(35.0, 96).warp_batch(swollen))


def knobbed(whole: Mesh) -> Mesh:
    """The box with a knob on one of its short walls."""
    knob = Manifold.sphere(7.0, 64).translate((46.5, 8.0, 22.0))
    # Nothing of it may stand inside.
    inside = Manifold.cube((80.0, 50.0, 60.0), True).translate((0.0, 0.0, 35.0))
    return mesh_from_solid(solid_from_mesh(whole) + (knob - inside))


def moved(mesh: Mesh, seed: int) -> tuple[Mesh, FloatArray]:
    """The mesh in a random pose, and that pose, (4, 4)."""
    pose = random_pose(np.random.default_rng(seed))
    return transformed(mesh, pose), pose
