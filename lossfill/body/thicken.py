r"""A solid out of a scan that shows one skin: the wall is given, the inner skin is laid.

Nobody sees the inside of a bottle. What its outer skin bounds, with a pan sunk into each edge where
the skin ends, is a lump; what lies deeper in it than the wall is thick is hollow:

        outer skin    edge of a loss
      ═══════════════╗                ╔═══   pan: its sides run into the material square to the
      ///// wall //// ╲______________╱       skin, deeper than the wall is thick
      - - - - - - - - - - - - - - - - - - -  the hollow's border, `wall_mm` from the skin

Lump less hollow is the wall. The hollow's border is where the distance from the skin is `wall_mm`,
so that tight curves and close walls (a foot ring) stay solid instead of folding over, and its
sides end on the scan's own edge.
"""

from __future__ import annotations

from dataclasses import dataclass

import manifold3d
import numpy as np

from lossfill import tolerances as tol
from lossfill.body.flatmesh import make_delaunay
from lossfill.body.oneskin import OpenSkin, fan
from lossfill.body.patch import Rim
from lossfill.errors import InputError
from lossfill.isosurface import closed_parts, isosurface
from lossfill.mesh import BoolArray, FloatArray, IntArray, Mesh, points_over
from lossfill.nearest import Surface
from lossfill.solids import Solid, checked, from_original, solid_from_mesh


@dataclass(frozen=True, slots=True, eq=False)
class Thickened:
    """A closed wall about an open skin.

    Parameters
    ----------
    mesh : closed, outward triangles
    patched : (F,) True where a patch closed the skin itself (a pinhole, the bottom)
    assumed : (F,) True on the laid inner skin and its stitches
    solid : the same triangles as a solid
    inner_extent_mm : extent of the laid skin
    """

    mesh: Mesh
    patched: BoolArray
    assumed: BoolArray
    solid: Solid
    inner_extent_mm: float


def thicken(skin: OpenSkin, *, wall_mm: float) -> Thickened:
    """Lay an inner skin `wall_mm` inside an open skin and stitch it to every edge.

    Raises
    ------
    InputError
        Where the wall is thicker than the vessel has room for.
    """
    least = float(np.ptp(skin.vertices[np.unique(skin.faces)], axis=0).min())
    if 2.0 * wall_mm >= least:
        raise InputError(
            f"a wall of {wall_mm:g} mm leaves no hollow inside a scan {least:.0f} mm across: give "
            "a smaller --wall"
        )
    lump, is_patch, is_pan = _lump(skin, wall_mm)
    hollow = _hollow(skin, lump, wall_mm)
    # Numbered, so that each triangle of the wall tells what it was cut from; as an original of the
    # modeller's own making it would number them anew.
    name = int(manifold3d.Manifold.reserve_ids(1))
    whole = checked(
        manifold3d.Manifold(
            manifold3d.Mesh64(
                np.array(lump.vertices),
                lump.faces.astype(np.uint64),
                run_index=np.array([0, 3 * len(lump.faces)], dtype=np.uint64),
                run_original_id=np.array([name], dtype=np.uint32),
                face_id=np.arange(len(lump.faces), dtype=np.uint64),
            )
        ),
        "an edge of the open scan could not be closed",
    )
    wall = checked(whole - hollow, "the inner skin could not be laid")
    wall = max(wall.decompose(), key=lambda part: float(part.volume()))
    raw = wall.to_mesh64()
    faces = raw.tri_verts.astype(np.int32)
    from_lump = from_original(raw, name, len(faces))
    source = np.where(from_lump, np.asarray(raw.face_id, dtype=np.int64), 0)
    # A pinhole beside an edge belongs to the break: taken for a closed hole in the skin, it would
    # make the loss there none.
    beside = is_patch & _beside_edges(skin, lump)
    patched = from_lump & (is_patch & ~beside)[source]
    assumed = ~from_lump | (is_pan | beside)[source]
    laid = raw.vert_properties[faces[~from_lump].ravel(), :3]
    if len(laid) == 0:
        raise InputError(
            f"a wall of {wall_mm:g} mm leaves no hollow inside this scan: give a smaller --wall"
        )
    return Thickened(
        mesh=Mesh(np.ascontiguousarray(raw.vert_properties[:, :3]), faces),
        patched=patched,
        assumed=assumed,
        solid=wall,
        inner_extent_mm=float(np.linalg.norm(np.ptp(laid, axis=0))),
    )


def _lump(skin: OpenSkin, wall_mm: float) -> tuple[Mesh, BoolArray, BoolArray]:
    """Close the skin with its patches and a pan at each edge: triangles, patches, pans."""
    vertices, faces = [skin.vertices], [skin.faces]
    n_vertices = len(skin.vertices)
    n_pan = 0
    direction = skin.inward(wall_mm)
    for rim in skin.edges:
        n = len(rim.loop)
        sunk = rim.points + tol.WALL_PAN * wall_mm * direction[rim.loop]
        below = n_vertices + np.arange(n, dtype=np.int32)
        ahead, below_ahead = np.roll(rim.loop, -1), np.roll(below, -1)
        sides = np.concatenate(
            [
                np.stack([rim.loop, ahead, below_ahead], 1),
                np.stack([rim.loop, below_ahead, below], 1),
            ]
        )
        middle, floor = _floor(rim, sunk)
        # The last number stands for the middle point, where there is one.
        floor = np.append(below, n_vertices + n)[floor]
        vertices += [sunk, middle]
        n_vertices += n + len(middle)
        faces += [sides.astype(np.int32), floor.astype(np.int32)]
        n_pan += len(sides) + len(floor)
    lump = Mesh(np.concatenate(vertices), np.concatenate(faces))
    count = len(lump.faces)
    is_pan = np.arange(count) >= count - n_pan
    is_patch = np.zeros(count, dtype=np.bool_)
    is_patch[len(skin.faces) - skin.n_patched : len(skin.faces)] = True
    return lump, is_patch, is_pan


def _floor(rim: Rim, sunk: FloatArray) -> tuple[FloatArray, IntArray]:
    """Close the sunk edge: a middle point or none, and triangles that name edge and middle."""
    if rim.simple:
        flat = rim.laid_out(sunk)[:, :2]
        return np.empty((0, 3)), make_delaunay(flat, rim.flat)
    return sunk.mean(axis=0)[None], fan(len(sunk))


def _hollow(skin: OpenSkin, lump: Mesh, wall_mm: float) -> Solid:
    """All of the lump that lies deeper below its skin than the wall is thick, and a bit beyond."""
    least, most = tol.WALL_CELLS
    finest, coarsest = skin.diagonal_mm / most, skin.diagonal_mm / least
    cell_mm = min(max(tol.WALL_CELL * wall_mm, finest), coarsest)
    # Broken edges end the wall; distance from them says nothing of it.
    measured = Surface(Mesh(skin.calm_vertices(), skin.faces[~skin.is_break]))
    bound = Surface(lump)
    # Past the lump's own border, or both would lie in one plane on the floor of a pan.
    beyond_mm = 1.5 * cell_mm

    def value(points: FloatArray) -> FloatArray:
        in_wall = wall_mm - measured.distance(points)
        outside = bound.distance(points)
        # On which side of the border a place lies takes rays: near the skin it makes no odds.
        asked = outside - beyond_mm > in_wall
        outside[asked] *= np.where(bound.inside(points[asked]), -1.0, 1.0)
        return np.asarray(np.maximum(in_wall, outside - beyond_mm))

    near = points_over(lump, spacing_mm=4.0 * cell_mm)
    surface = isosurface(near, value, cell_mm=cell_mm, reach_mm=wall_mm + beyond_mm + 4.0 * cell_mm)
    if surface is None:
        raise InputError(
            f"a wall of {wall_mm:g} mm leaves no hollow inside this scan: give a smaller --wall"
        )
    surface = closed_parts(surface)
    if surface is None:
        raise InputError(
            f"the inside of this scan cannot be told from its outside at a wall of {wall_mm:g} mm: "
            "remesh the scan in the scanner's program"
        )
    parts = solid_from_mesh(surface).decompose()
    # Outside the lump nothing is deep; what is apart from the main hollow is the inside of a thick
    # foot or a knob, which stays solid.
    return max(parts, key=lambda part: float(part.volume())).simplify(tol.WALL_COLLAPSE_MM)


def _beside_edges(skin: OpenSkin, lump: Mesh) -> BoolArray:
    """Triangles of the lump with a corner so near an edge that form would call it guessed, (F,)."""
    from scipy.spatial import cKDTree

    if not skin.edges or skin.n_patched == 0:
        return np.zeros(len(lump.faces), dtype=np.bool_)
    reach = 2.0 * tol.GUESSED_MARGIN_MM
    tree = cKDTree(np.concatenate([rim.points for rim in skin.edges]))
    near = np.isfinite(tree.query(lump.vertices, distance_upper_bound=reach)[0])
    return np.asarray(near[lump.faces].any(axis=1))
