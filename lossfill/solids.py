"""The one door to the solid modeller: meshes in, proved solids out.

Everything that cuts, joins or measures solids goes through here, so that statuses of the library
become errors of ours and no unchecked result travels on.
"""

from __future__ import annotations

from typing import TypeAlias

import manifold3d
import numpy as np

from lossfill.errors import BooleanError
from lossfill.mesh import BoolArray, FloatArray, Mesh

Solid: TypeAlias = manifold3d.Manifold


def solid_from_mesh(mesh: Mesh) -> Solid:
    """Build a solid from closed, outward triangles.

    Raises
    ------
    BooleanError
        Where the triangles are not an oriented 2-manifold.
    """
    solid = manifold3d.Manifold(
        manifold3d.Mesh64(
            np.array(mesh.vertices), np.array(mesh.faces).astype(np.uint64, copy=False)
        )
    )
    return checked(solid, "the surface is not closed and consistently wound")


def mesh_from_solid(solid: Solid) -> Mesh:
    """Triangles of a solid, (V, 3) mm in double precision."""
    raw = solid.to_mesh64()
    return Mesh(raw.vert_properties[:, :3], raw.tri_verts.astype(np.int32))


def box_between(low: FloatArray, high: FloatArray) -> Solid:
    """The box between two corners, (3,) mm each."""
    return manifold3d.Manifold.cube(tuple(high - low)).translate(tuple(low))


def turned(solid: Solid, turn: FloatArray) -> Solid:
    """A solid seen in other axes, the rows of a rotation (3, 3)."""
    return solid.transform(np.column_stack([turn, np.zeros(3)]))


def from_original(raw: manifold3d.Mesh64, original: int, n: int) -> BoolArray:
    """Triangles that come from one original solid, (n,); the modeller keeps them in runs."""
    result = np.zeros(n, dtype=np.bool_)
    starts = np.asarray(raw.run_index) // 3
    for k, name in enumerate(np.asarray(raw.run_original_id)):
        result[starts[k] : starts[k + 1]] = name == original
    return result


def checked(solid: Solid, what_failed: str) -> Solid:
    """Return the solid where the library reports no error, else raise BooleanError."""
    status = solid.status()
    if status != manifold3d.Error.NoError:
        raise BooleanError(f"{what_failed} ({status.name})")
    return solid
