"""Small designs of known shape: a turned bowl and pieces cut out of its rim, in an odd pose."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

import manifold3d
import numpy as np

from lossfill.body.body import Body, Repair
from lossfill.fill.fill import Fill
from lossfill.fit.fitted import Entry, Fitted, FittedPiece, SweepProof
from lossfill.fit.order import Order
from lossfill.frame.frame import Frame, Roundness
from lossfill.frame.profile import Profile
from lossfill.loss.loss import Loss, LossKind
from lossfill.mesh import FloatArray, Mesh
from lossfill.road import Design, Settings
from lossfill.scan.scan import Scan, Unit
from lossfill.solids import Solid

RADIUS_MM = 60.0
WALL_MM = 5.0
CLEARANCE_MM = 0.15


def rounded32(solid: manifold3d.Manifold) -> Mesh:
    """Triangles of a solid with coordinates exact in float32, as a Fill promises."""
    raw = solid.to_mesh64()
    vertices = raw.vert_properties[:, :3].astype(np.float32).astype(np.float64)
    return Mesh(vertices, raw.tri_verts.astype(np.int32))


def stand_in(kind: type[Any], /, **known: Any) -> Any:
    """Make a stage's result with None for what this stage never reads."""
    required = {
        field.name: None
        for field in dataclasses.fields(kind)
        if field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING
    }
    return kind(**{**required, **known})


def pose() -> FloatArray:
    """(4, 4) vessel_from_scan of an awkward pose."""
    tilt, turn = np.deg2rad(35.0), np.deg2rad(50.0)
    about_x = np.array(
        [[1, 0, 0], [0, np.cos(tilt), -np.sin(tilt)], [0, np.sin(tilt), np.cos(tilt)]]
    )
    about_z = np.array(
        [[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1]]
    )
    matrix = np.eye(4)
    matrix[:3, :3] = about_z @ about_x
    matrix[:3, 3] = (40.0, -25.0, 12.0)
    return matrix


def bowl_profile(n: int = 60) -> Profile:
    """A bowl with a foot ring: outer and inner quarter of an oval, round lip."""
    t = np.linspace(0.0, 1.0, n)
    inner = np.column_stack([(RADIUS_MM - WALL_MM) * np.sin(t * np.pi / 2), 0 * t])
    inner[:, 1] = 12.0 + 48.0 * (1.0 - np.cos(t * np.pi / 2))
    lip_angle = np.linspace(np.pi, 0.0, 9)[1:-1]
    lip = np.column_stack(
        [
            RADIUS_MM - WALL_MM / 2 + WALL_MM / 2 * np.cos(lip_angle),
            60.0 + WALL_MM / 2 * np.sin(lip_angle),
        ]
    )
    s = np.linspace(1.0, 0.33, n)
    outer = np.column_stack([RADIUS_MM * np.sin(s * np.pi / 2), 0 * s])
    outer[:, 1] = 6.0 + 54.0 * (1.0 - np.cos(s * np.pi / 2))
    foot = np.array([[29.0, 0.0], [25.0, 0.0], [24.0, 6.0], [0.0, 6.0]])
    points = np.vstack([inner, lip, outer, foot])
    tangents = np.gradient(points, axis=0)
    normals = np.column_stack([-tangents[:, 1], tangents[:, 0]])
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    return Profile(points, normals, lip=int(np.argmax(points[:, 1])))


def bowl(segments: int = 256, *, n: int = 60) -> manifold3d.Manifold:
    """The whole bowl, in vessel coordinates."""
    section = manifold3d.CrossSection([bowl_profile(n).points[::-1]])
    return manifold3d.Manifold.revolve(section, segments)


def rough_wedge(angle_deg: float, width_deg: float, low_mm: float, shrink_mm: float, seed: int):
    """A cutter with rough sides that takes a chunk out of the rim, down to `low_mm`."""
    rng = np.random.default_rng(seed)
    half = np.deg2rad(width_deg / 2)
    top = np.array([[65.0 * np.tan(half), 72.0], [-65.0 * np.tan(half), 72.0]])
    down = np.linspace(0.0, 1.0, 14)
    left = np.column_stack(
        [
            -65.0 * np.tan(half) * np.cos(down * np.pi / 2),
            72.0 - (72.0 - low_mm) * np.sin(down * np.pi / 2),
        ]
    )[1:]
    right = left[::-1][1:] * [-1.0, 1.0]
    outline = np.vstack(
        [top, left + rng.normal(0, 0.7, left.shape), right + rng.normal(0, 0.7, right.shape)]
    )
    flat = manifold3d.CrossSection([outline])
    if shrink_mm:
        flat = flat.offset(-shrink_mm, manifold3d.JoinType.Miter)
    cutter = manifold3d.Manifold.extrude(flat, 80.0)
    # Out along +x: the drawing's x becomes -y, its y becomes z.
    return cutter.rotate([90.0, 0.0, 90.0]).rotate([0.0, 0.0, angle_deg])


class IntactForm:
    """Stands in for a Form: the misfit of a bowl that is a little oval."""

    warnings: tuple[str, ...] = ()

    def __init__(self, matrix: FloatArray, mesh: Mesh) -> None:
        self.matrix, self.mesh = matrix, mesh

    def misfit(self, points_scan: FloatArray, normals_scan: FloatArray) -> FloatArray:
        assert normals_scan.shape == points_scan.shape
        p = points_scan @ self.matrix[:3, :3].T + self.matrix[:3, 3]
        angle = np.arctan2(p[:, 1], p[:, 0])
        values = 0.35 * np.cos(2 * angle) * np.clip(p[:, 2] / 60.0, 0, 1)
        return np.where(p[:, 2] < 3.0, np.nan, values)

    def mesh_in_scan(self) -> Mesh:
        return self.mesh

    def summary(self) -> dict[str, object]:
        return {"way": "revolve", "spread_mm": 0.0812345678, "harmonics": np.int64(3)}


def make_design(
    cuts: tuple[tuple[float, float, float], ...] = ((-75.0, 48.0, 28.0), (60.0, 12.0, 55.0)),
    *,
    segments: int = 256,
    colours: bool = False,
    clearance_mm: float = CLEARANCE_MM,
    subdivide_mm: float | None = None,
) -> Design:
    """A bowl with rim losses at (angle, width in degrees, lowest height in mm)."""
    matrix = pose()
    back = np.linalg.inv(matrix)[:3]
    whole = bowl(segments)
    cutters = [rough_wedge(a, w, low, 0.0, seed=k) for k, (a, w, low) in enumerate(cuts)]
    broken = whole
    for cutter in cutters:
        broken = broken - cutter
    if subdivide_mm:
        broken = broken.refine_to_length(subdivide_mm)
    body_solid = broken.transform(back)
    mesh = rounded32(body_solid)
    if colours:
        height = (mesh.vertices @ matrix[:3, :3].T + matrix[:3, 3])[:, 2]
        glaze = np.where((height > 30)[:, None], (126, 150, 138), (150, 108, 84))
        mesh = Mesh(mesh.vertices, mesh.faces, glaze.astype(np.uint8))
    # An original solid, so that skin and break of what is missing can be told apart.
    form_here = whole.transform(back).as_original()
    losses, fills = [], []
    for k, (angle, width, low) in enumerate(cuts):
        chunk = form_here ^ cutters[k].transform(back)
        small = rough_wedge(angle, width, low, clearance_mm, seed=k)
        piece = rounded32((whole ^ small).transform(back))
        solid = manifold3d.Manifold(
            manifold3d.Mesh64(np.array(piece.vertices), piece.faces.astype(np.uint64))
        )
        points = chunk.to_mesh64().vert_properties[:, :3]
        loss = stand_in(
            Loss,
            number=k + 1,
            kind=LossKind.RIM,
            solid=chunk,
            form_here=form_here,
            body_here=body_solid,
            volume_ml=chunk.volume() / 1000,
            outer_area_mm2=1500.0,
            inner_area_mm2=1200.0,
            break_area_mm2=400.0,
            join_length_mm=130.0,
            thickness_mm=(4.9, 6.1),
            depth_mm=30.0,
            extent_along_mm=70.0 - low,
            extent_around_mm=RADIUS_MM * np.deg2rad(width),
            angle_deg=angle % 360.0,
            clock="2:30" if k == 0 else "10:00",
            height_mm=(60.0 + low) / 2,
            centre_mm=tuple(points.mean(axis=0)),
            expected_error_mm=0.0712345678,
            bound_mm=0.1424691356,
            source="revolve",
            trials=(),
        )
        losses.append(loss)
        fills.append(
            stand_in(
                Fill,
                loss=loss,
                mesh=piece,
                solid=solid,
                body_nearby=body_solid,
                clearance_mm=clearance_mm,
                volume_ml=solid.volume() / 1000,
            )
        )
    frame = stand_in(
        Frame,
        vessel_from_scan=matrix,
        profile=bowl_profile(),
        noise_mm=0.05,
        residual_mm=0.2123456789,
        coverage=0.93,
        height_mm=62.5,
        rim_diameter_mm=120.0,
        foot_diameter_mm=58.0,
        wall_mm=5.2,
        capacity_ml=251.0,
        roundness=(Roundness(50.0, 59.0, (0.4, 0.1, 0.02)),),
    )
    scan = stand_in(
        Scan,
        mesh=mesh,
        path=Path("somewhere/tea_bowl.ply"),
        format="PLY (binary)",
        unit=Unit.MILLIMETRE,
        unit_source="asked",
        sha256="0" * 64,
        warnings=("the unit was asked for",),
    )
    body = stand_in(
        Body,
        mesh=mesh,
        patched=np.zeros(len(mesh.faces), dtype=bool),
        solid=body_solid,
        repairs=(Repair("closed a scan hole", 1, (1.0, 2.0, 3.0), 4.5),),
    )
    return Design(
        settings=Settings(clearance_mm=clearance_mm),
        scan=scan,
        body=body,
        frame=frame,
        form=IntactForm(matrix, rounded32(whole.transform(back))),
        losses=tuple(losses),
        fills=tuple(fills),
    )


def fitted_design(design: Design, *, split_first: bool = False) -> Design:
    """The same design with a way in for each piece, as stage 6 gives it; from above.

    Parameters
    ----------
    split_first : the first piece in two, parted along the middle of its rim
    """
    down = -design.frame.vessel_from_scan[2, :3]
    fitted = []
    for fill in design.fills:
        solids, names = [fill.solid], [str(fill.loss.number)]
        if split_first and fill is design.fills[0]:
            across = np.cross(down, fill.mesh.vertices.mean(axis=0) - _foot(design))
            across /= np.linalg.norm(across)
            at = float(np.mean(fill.mesh.vertices @ across))
            solids = list(fill.solid.split_by_plane(tuple(across), at))
            names = [f"{names[0]}{letter}" for letter in "ab"]
        pieces = tuple(_piece(name, solid, down) for name, solid in zip(names, solids, strict=True))
        fitted.append(Fitted(fill, pieces, 0.1))
    sequence = tuple(piece.name for one in fitted for piece in one.pieces)
    return dataclasses.replace(design, fitted=tuple(fitted), order=Order(sequence, ()))


def _foot(design: Design) -> FloatArray:
    return np.asarray(np.linalg.inv(design.frame.vessel_from_scan))[:3, 3]


def _piece(name: str, solid: Solid, down: FloatArray) -> FittedPiece:
    return FittedPiece(
        name=name,
        mesh=rounded32(solid),
        solid=solid,
        entry=Entry(down, 8.0, 0.02, 0.0, 45.678901234, from_outside=True),
        proof=SweepProof(32, 0.0, 0.01, 0.0, 0.05, 0.0),
        relieved_mm3=1.23456789,
        seat_mm2=400.0,
        seat_lost_mm2=20.0,
    )
