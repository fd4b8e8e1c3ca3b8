"""Blocks with slots and grooves, and the pieces that fill them: every way in is known.

A slot runs along y through a block whose top lies at z = 0, and a piece stands off its walls by
the clearance.
"""

from __future__ import annotations

from dataclasses import dataclass

import manifold3d
import numpy as np

from lossfill.fit.entry import Ways
from lossfill.fit.fit import Obstacle, Seat, fit_along
from lossfill.fit.fitted import FittedPiece
from lossfill.mesh import FloatArray, Mesh
from lossfill.nearest import Surface
from lossfill.solids import Solid, mesh_from_solid

UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True, slots=True, eq=False)
class Slot:
    """A slot of straight sides along y, the same all along, and the piece in it.

    Parameters
    ----------
    top_mm, bottom_mm : half of its width there
    deep_mm, long_mm : its other sizes
    clearance_mm : by which the piece stands off
    """

    top_mm: float = 6.0
    bottom_mm: float = 8.0
    deep_mm: float = 4.0
    long_mm: float = 10.0
    clearance_mm: float = 0.15

    @property
    def lean(self) -> float:
        """By how much a side goes outward for each mm down."""
        return (self.bottom_mm - self.top_mm) / self.deep_mm

    @property
    def inset_mm(self) -> float:
        """Level distance between a side of the slot and that of the piece."""
        return self.clearance_mm * float(np.hypot(1.0, self.lean))

    @property
    def height_mm(self) -> float:
        """Height of the piece."""
        return self.deep_mm - self.clearance_mm

    @property
    def reach_mm(self) -> float:
        """How far the piece's lower corners lie past the slot's upper ones."""
        return self.lean * self.height_mm - self.inset_mm

    @property
    def body(self) -> Solid:
        a, b, h = self.top_mm, self.bottom_mm, self.deep_mm
        block = along_y([(-20, -15), (20, -15), (20, 0), (-20, 0)], self.long_mm)
        # Cut past the ends and the top, so that no skin of no thickness is left there.
        up = 1.0
        c = a - self.lean * up
        section = [(-b, -h), (b, -h), (c, up), (-c, up)]
        return block - along_y(section, self.long_mm + 2.0).translate((0.0, -1.0, 0.0))

    @property
    def piece(self) -> Solid:
        a = self.top_mm - self.inset_mm
        b = a + self.lean * self.height_mm
        h = self.height_mm
        return along_y([(-b, -h), (b, -h), (a, 0), (-a, 0)], self.long_mm)

    @property
    def seat(self) -> Seat:
        a, b, h, y = self.top_mm, self.bottom_mm, self.deep_mm, self.long_mm
        line = [(-a, 0.0), (-b, -h), (b, -h), (a, 0.0)]
        points = np.array([(x, t, z) for x, z in line for t in (0.0, y)])
        faces = [(2 * k + i, 2 * k + j, 2 * k + 2) for k in range(3) for i, j in ((0, 1),)]
        faces += [(2 * k + 1, 2 * k + 3, 2 * k + 2) for k in range(3)]
        return Seat(Surface(Mesh(points, np.array(faces))), self.clearance_mm)

    def fit(self, out: FloatArray = UP) -> FittedPiece:
        """Make the piece go in against a direction."""
        piece = self.piece
        return fit_along(
            "1",
            piece,
            mesh_from_solid(piece),
            Obstacle.of(self.body),
            self.seat,
            one_way(out),
            0,
            rub=piece,
        )


def one_way(out: FloatArray) -> Ways:
    """The one direction out, of which nothing is asked."""
    return Ways(out[None], np.zeros((1, 1), dtype=bool), np.inf)


def along_y(section: list[tuple[float, float]], long_mm: float) -> Solid:
    """A prism over a section in x and z, from y = 0 to its length."""
    flat = manifold3d.CrossSection([np.array(section, dtype=float)])
    return (
        manifold3d.Manifold.extrude(flat, long_mm)
        .rotate((90.0, 0.0, 0.0))
        .translate((0.0, long_mm, 0.0))
    )


def box(low: tuple[float, float, float], high: tuple[float, float, float]) -> Solid:
    """A box between two corners."""
    size = tuple(float(b) - float(a) for a, b in zip(low, high, strict=True))
    return manifold3d.Manifold.cube(size).translate(low)


def corners(solid: Solid) -> FloatArray:
    """Corners of a solid's triangles, (F, 3, 3)."""
    mesh = mesh_from_solid(solid)
    return np.asarray(mesh.vertices[mesh.faces])
