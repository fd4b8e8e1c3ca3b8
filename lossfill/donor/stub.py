"""What is left of a broken bar: the break at its end, and the sound sections behind it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.sparse import coo_array, csr_array, diags_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from lossfill import tolerances as tol
from lossfill.body.topology import edges_of
from lossfill.donor.section import Section, cut_section, radii
from lossfill.mesh import BoolArray, FloatArray, Mesh, centres, face_vectors, unit


@dataclass(frozen=True, slots=True, eq=False)
class Stub:
    """The sound end of a broken bar, just behind its break.

    Parameters
    ----------
    point : (3,) middle of the last section that the break does not touch, scan coordinates, mm
    tangent : (3,) unit, out of the stub into the gap
    end : (3,) middle of the break
    area_mm2 : of the sections
    length_mm : of sound bar behind `point` that was measured
    line : (3, 3) rows c₀, c₁, c₂ of the middle line c₀ + c₁ s + c₂ s², s in mm along the tangent,
        negative into the stub
    side : (3,) unit, perpendicular to the tangent: angle 0 of the radii
    radius_mm : (A,) of the section at `point`, angles right-handed about the tangent
    taper : (A,) change of the radius per mm along the tangent
    scatter_mm : of single sections' radii about these
    round_share : how much of the section its radii describe, 1 for all
    """

    point: FloatArray
    tangent: FloatArray
    end: FloatArray
    area_mm2: float
    length_mm: float
    line: FloatArray = field(repr=False)
    side: FloatArray = field(repr=False)
    radius_mm: FloatArray = field(repr=False)
    taper: FloatArray = field(repr=False)
    scatter_mm: float
    round_share: float

    @property
    def width_mm(self) -> float:
        """Square root of the section's area: the measure of all that is judged about a bar."""
        return float(np.sqrt(self.area_mm2))


@dataclass(frozen=True, slots=True, eq=False)
class March:
    """Sections cut one after another from the root of a bar to its end."""

    sections: tuple[Section, ...] = field(repr=False)
    hollow: bool

    @property
    def area_mm2(self) -> float:
        """The usual section's area past the root's flare and before the end."""
        return float(np.median([s.area_mm2 for s in self.sections]))


def march(mesh: Mesh, root: BoolArray, point: FloatArray, out: FloatArray) -> March | None:
    """Follow a bar from its root, starting across the wall.

    Parameters
    ----------
    root : (F,) triangles in which the bar was cut from the wall
    point, out : middle of the root and the direction away from the wall
    """
    first = None
    reach = float(np.linalg.norm(mesh.vertices - point, axis=1).max())
    for way in np.linspace(0.02, 0.5, 13) * reach:
        first = cut_section(mesh, point + way * out, out)
        if first is not None and not root[first.faces].any():
            break
    if first is None:
        return None
    width = float(np.sqrt(max(first.area_mm2, 1e-12)))
    step = 2.0 * tol.STUB_STEP * width
    found, tangent = [first], out
    for _ in range(int(4.0 * reach / step) + 1):
        section = cut_section(mesh, found[-1].centre + step * tangent, tangent)
        if section is None or np.linalg.norm(section.centre - found[-1].centre) > 2.5 * step:
            break
        found.append(section)
        if section.area_mm2 < 0.15 * found[len(found) // 2].area_mm2:
            break
        back = found[max(len(found) - 6, 0)]
        # As far ahead again as the chord lies behind: a bend is followed without lagging.
        chord = unit(section.centre - back.centre)
        before = found[max(len(found) - 11, 0)]
        lag = chord - unit(back.centre - before.centre) if before is not back else 0.0
        tangent = unit(chord + 0.6 * lag)
    hollow = float(np.mean([s.hollow for s in found])) > 0.3
    return March(tuple(found), hollow)


def find_stub(mesh: Mesh, root: BoolArray, path: March) -> Stub | None:
    """Judge whether a bar ends in a break, and measure it behind it.

    Returns None where it ends as it was made, or too little of it is sound.
    """
    face = _break_face(mesh, root, path)
    if face is None:
        return None
    patch, end, normal, area = face
    width = float(np.sqrt(area))
    touched = _beside(mesh, patch)
    rooted = _beside(mesh, root)
    step = tol.STUB_STEP * width
    centres = np.array([s.centre for s in path.sections])
    sound = [not (touched[s.faces].any() or rooted[s.faces].any()) for s in path.sections]
    near = [k for k in np.flatnonzero(sound) if path.sections[int(k)].area_mm2 > 0.5 * area]
    if not near:
        return None
    # Cut again, square to a line fitted to the middles, and finer; twice settles it.
    last = int(near[-1])
    point = centres[last]
    tangent = unit(point - centres[max(last - 4, 0)]) if last else normal
    line = np.array([point, tangent, np.zeros(3)])
    for _ in range(3):
        cuts = _sound_cuts(
            mesh, line, (-tol.STUB_WINDOW * width, width), step, touched, rooted, area
        )
        if len(cuts) < 4:
            return None
        ways = np.array([way for way, _ in cuts])
        middles = np.array([section.centre for _, section in cuts])
        line = _fit_line(ways, middles)
    length = float(-ways.min())
    if length < tol.STUB_SHORTEST * width:
        return None
    return _measured(cuts, line, end, length)


def _fit_line(ways: FloatArray, middles: FloatArray) -> FloatArray:
    """Parabola through sections' middles, its way counted from the first cut on."""
    found, *_ = np.linalg.lstsq((ways - ways.max())[:, None] ** np.arange(3), middles, rcond=None)
    return np.asarray(found)


def _sound_cuts(
    mesh: Mesh,
    line: FloatArray,
    span: tuple[float, float],
    step: float,
    touched: BoolArray,
    rooted: BoolArray,
    area: float,
) -> list[tuple[float, Section]]:
    """Sections square to a line, from the last that the break leaves alone back to the root."""
    cuts: list[tuple[float, Section]] = []
    for way in np.arange(span[1], span[0] - step, -step):
        tangent = unit(line[1] + 2 * way * line[2])
        section = cut_section(mesh, line[0] + way * line[1] + way**2 * line[2], tangent)
        bad = (
            section is None
            or touched[section.faces].any()
            or rooted[section.faces].any()
            or not 0.5 * area < section.area_mm2 < 2.0 * area
        )
        if bad:
            if cuts:
                break
        elif section is not None:
            cuts.append((float(way), section))
            if cuts[0][0] - way > -span[0]:
                break
    return cuts


def _measured(
    cuts: list[tuple[float, Section]],
    line: FloatArray,
    end: FloatArray,
    length: float,
) -> Stub:
    speed = float(np.linalg.norm(line[1]))
    tangent = line[1] / speed
    side = np.eye(3)[np.argmin(np.abs(tangent))]
    side = unit(side - (side @ tangent) * tangent)
    ways = np.array([way for way, _ in cuts])
    ways = (ways - ways.max()) * speed
    found, shares = [], []
    for way, (_, section) in zip(ways, cuts, strict=True):
        here = unit(line[1] + 2 * way / speed * line[2])
        # Carried from the end without a turn about the line.
        my_side = side - (side @ here) / (1.0 + tangent @ here) * (tangent + here)
        centre = line[0] + way / speed * line[1] + (way / speed) ** 2 * line[2]
        radius, share = radii(section, centre, my_side, np.cross(here, my_side))
        found.append(radius)
        shares.append(share)
    radius, taper, scatter = _tapered(ways, np.array(found))
    return Stub(
        point=line[0],
        tangent=tangent,
        end=end,
        area_mm2=float(np.median([section.area_mm2 for _, section in cuts])),
        length_mm=length * speed,
        line=np.stack([line[0], line[1] / speed, line[2] / speed**2]),
        side=side,
        radius_mm=radius,
        taper=taper,
        scatter_mm=scatter,
        round_share=float(np.median(shares)),
    )


def _tapered(ways: FloatArray, found: FloatArray) -> tuple[FloatArray, FloatArray, float]:
    """Section at the end and its taper: of low harmonics a slope, of all others the mean."""
    waves = np.fft.rfft(found, axis=1)
    s = ways - ways.mean()
    slope = (s[:, None] * waves).sum(axis=0) / max(float((s**2).sum()), 1e-300)
    slope[tol.SECTION_TAPER_ORDER + 1 :] = 0.0
    mean = waves.mean(axis=0)
    n = found.shape[1]
    scatter = float(np.std(found - np.fft.irfft(mean + s[:, None] * slope, n, axis=1)))
    return np.fft.irfft(mean - ways.mean() * slope, n), np.fft.irfft(slope, n), scatter


def _break_face(
    mesh: Mesh, root: BoolArray, path: March
) -> tuple[BoolArray, FloatArray, FloatArray, float] | None:
    """Triangles of the break, its middle and normal, and the bar's section; None for no break."""
    areas = np.array([s.area_mm2 for s in path.sections])
    full = np.flatnonzero(areas > 0.7 * path.area_mm2)
    if len(full) < 3:
        return None
    last = path.sections[full[-1]]
    area = float(np.median(areas[full[-min(len(full), 3) :]]))
    width = float(np.sqrt(area))
    normal = unit(last.centre - path.sections[full[max(len(full) - 4, 0)]].centre)
    along = normal
    vectors = face_vectors(mesh)
    middles = centres(mesh)
    calm = _calm_normals(mesh, vectors, width)
    here = np.linalg.norm(middles - last.centre, axis=1) < 2.0 * width
    here &= ((middles - last.centre) @ along > -1.5 * width) & ~root
    # Along a bent bar the skin, too, may face as an oblique break does, but never ahead.
    ahead = (calm * _tangents_by(path.sections[: full[-1] + 1], middles)).sum(
        axis=1
    ) > tol.STUB_AHEAD
    patch = np.zeros(len(vectors), dtype=np.bool_)
    for _ in range(3):
        patch = _largest(mesh, here & ahead & (calm @ normal > tol.STUB_FACING), vectors)
        if not patch.any():
            return None
        normal = unit(vectors[patch].sum(axis=0))
    # A closed end's area vectors add up to the section's, whatever its shape.
    cover = float((vectors[patch] @ along).sum()) / area
    rim = _beside(mesh, patch, rings=2) & ~patch & here
    if cover < tol.STUB_COVER or normal @ along < tol.STUB_SQUARE or not rim.any():
        return None
    if float(np.median((calm @ normal)[rim])) > tol.STUB_EDGE:
        return None
    weight = np.linalg.norm(vectors[patch], axis=1)
    end = (middles[patch] * weight[:, None]).sum(axis=0) / weight.sum()
    return patch, end, normal, area


def _tangents_by(sections: tuple[Section, ...], places: FloatArray) -> FloatArray:
    """Direction of the bar at the whole section nearest to each place, (N, 3)."""
    centres = np.array([section.centre for section in sections])
    # The last of them may already be cut into by the break, and its middle lie askew.
    inner = centres[: max(len(centres) - 1, 2)]
    tangents = unit(np.gradient(inner, axis=0))
    return np.asarray(tangents[cKDTree(inner).query(places)[1]])


def _calm_normals(mesh: Mesh, vectors: FloatArray, width: float) -> FloatArray:
    """Normals averaged over about a tenth of the bar's width, so that noise does not tilt them."""
    graph = neighbours(mesh)
    edge = float(np.sqrt(np.linalg.norm(vectors, axis=1).mean() * 4 / np.sqrt(3)))
    rounds = int(np.clip(round((0.1 * width / edge) ** 2), 0, 12))
    calm = vectors
    for _ in range(rounds):
        calm = calm + graph @ calm
    return unit(calm)


def neighbours(mesh: Mesh) -> csr_array:
    """Adjacency of triangles over their edges, (F, F)."""
    n = len(mesh.faces)
    one, other, _ = edges_of(mesh.faces).pairs()
    both = np.concatenate([one, other]), np.concatenate([other, one])
    return coo_array((np.ones(2 * len(one)), both), shape=(n, n)).tocsr()


def _largest(mesh: Mesh, chosen: BoolArray, vectors: FloatArray) -> BoolArray:
    """Largest connected part of the chosen triangles, by area."""
    if not chosen.any():
        return chosen
    keep = diags_array(chosen.astype(float))
    label = connected_components(keep @ neighbours(mesh) @ keep, directed=False)[1]
    size = np.bincount(label, np.linalg.norm(vectors, axis=1) * chosen)
    result: BoolArray = (label == int(size.argmax())) & chosen
    return result


def _beside(mesh: Mesh, chosen: BoolArray, *, rings: int = 1) -> BoolArray:
    """Triangles chosen, and those that share a corner with them."""
    result = chosen
    for _ in range(rings):
        touched = np.zeros(len(mesh.vertices), dtype=np.bool_)
        touched[mesh.faces[result]] = True
        result = np.asarray(touched[mesh.faces].any(axis=1))
    return result
