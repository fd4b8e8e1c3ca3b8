"""A smooth bar between the two stubs of a broken handle.

stub ═══╗~~~ break ~~~╔═══ stub      the bar's line: the fairest curve that leaves both stubs as
   ┌────╨─────────────╨────┐         they run; its section: from one's to the other's, by angle,
   └────╥─────────────╥────┘         in a frame that does not turn about the line. It reaches
════════╝             ╚════════      back over both stubs, lying on their own skins
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from lossfill import tolerances as tol
from lossfill.donor.attached import Attached, core_of
from lossfill.donor.donor import Donor
from lossfill.donor.line import Ends, Line, fair_line
from lossfill.donor.stub import Stub
from lossfill.errors import AmbiguousShapeError
from lossfill.form.form import Form
from lossfill.frame.frame import Frame
from lossfill.mesh import FloatArray, Mesh, unit
from lossfill.nearest import Surface
from lossfill.solids import solid_from_mesh


@dataclass(frozen=True, slots=True, eq=False)
class Bar:
    """A span as rings of points, from inside the first stub to inside the second.

    Parameters
    ----------
    centres : (N, 3) mm
    rings : (N, A, 3) mm
    first, last : rings at the two stubs' last sound sections; the gap lies between
    """

    centres: FloatArray
    rings: FloatArray
    first: int
    last: int


def spans_between(parts: tuple[Attached, ...], frame: Frame, form: Form) -> tuple[Donor, ...]:
    """Bridge every pair of stubs that one bar ran between, the shortest gap first.

    Raises
    ------
    BooleanError
        Where the solid modeller fails.
    """
    pairs = pair_stubs(parts)
    if not pairs:
        return ()
    core = Surface(core_of(form))
    found = []
    for a, b in pairs:
        try:
            donor, bar = span(a, b, noise_mm=frame.noise_mm)
        except AmbiguousShapeError:
            continue
        # A bar that ran through the wall is none.
        if (core.signed_distance(bar.centres[bar.first : bar.last + 1]) > 0.0).all():
            found.append(donor)
    return tuple(found)


def pair_stubs(parts: tuple[Attached, ...]) -> list[tuple[Stub, Stub]]:
    """Stubs that belong together: alike, facing each other, not too far apart; nearest first."""
    stubs = [part.stub for part in parts if part.stub is not None]
    # A section that angles cannot describe cannot be carried along.
    stubs = [stub for stub in stubs if stub.round_share > tol.STUB_ROUND]
    ranked = []
    for i, j in combinations(range(len(stubs)), 2):
        cost = _apart(stubs[i], stubs[j])
        if np.isfinite(cost):
            ranked.append((cost, i, j))
    taken: set[int] = set()
    pairs = []
    for _, i, j in sorted(ranked):
        if not taken & {i, j}:
            taken |= {i, j}
            pairs.append((stubs[i], stubs[j]))
    return pairs


def _apart(a: Stub, b: Stub) -> float:
    """Length of the arc that joins two stubs, over their width; infinite where none does."""
    width = 0.5 * (a.width_mm + b.width_mm)
    ratio = a.area_mm2 / b.area_mm2
    between = b.point - a.point
    chord = float(np.linalg.norm(between))
    if max(ratio, 1 / ratio) > tol.SPAN_SECTIONS_ALIKE or chord < 1e-9:
        return np.inf
    off = [
        np.arccos(np.clip(c / chord, -1, 1)) for c in (a.tangent @ between, -b.tangent @ between)
    ]
    turn = float(off[0] + off[1])
    if np.degrees(turn) > tol.SPAN_TURN_MAX_DEG or max(off) > np.radians(110.0):
        return np.inf
    half = min(0.5 * turn, 0.6 * np.pi)
    length = chord / width * (half / np.sin(half) if half > 1e-6 else 1.0)
    return float(length * (1.0 + turn)) if length < tol.SPAN_LONGEST else np.inf


def span(a: Stub, b: Stub, *, noise_mm: float) -> tuple[Donor, Bar]:
    """Build the bar between two stubs, and say how far it may be off.

    Parameters
    ----------
    noise_mm : of the scan, texture included

    Raises
    ------
    AmbiguousShapeError
        Where no smooth line joins them.
    BooleanError
        Where the bar crosses itself.
    """
    ends = _ends(a, b)
    line = fair_line(ends)
    bar = _loft(a, b, line)
    other = fair_line(ends, rod=True)
    doubt = _between(line, other)
    width = 0.5 * (a.width_mm + b.width_mm)
    error = float(
        np.linalg.norm(
            [
                tol.SPAN_DOUBT * doubt,
                tol.SPAN_BY_LENGTH * line.length_mm**2 / width,
                tol.SPAN_BY_NOISE * noise_mm,
            ]
        )
    )
    turn = np.degrees(np.arccos(np.clip(a.tangent @ -b.tangent, -1.0, 1.0)))
    says = (
        f"a smooth bar over a gap of {np.linalg.norm(b.end - a.end):.0f} mm between two stubs that "
        f"turns by {turn:.0f}°; expected to lie within {error:.2f} mm RMS of the lost one, by "
        "trials on made-up handles of smooth run (true of two in three)"
    )
    residual = float(np.hypot(a.scatter_mm, b.scatter_mm) / np.sqrt(2.0))
    return Donor("bridge", solid_from_mesh(_closed(bar)), residual, says, error), bar


def _ends(a: Stub, b: Stub) -> Ends:
    return Ends(
        np.stack([a.point, b.point]),
        np.stack([a.tangent, -b.tangent]),
    )


def _between(line: Line, other: Line) -> float:
    """RMS distance between two lines, each place against the same share of the other, mm."""
    share = line.along_mm / line.length_mm
    at = other.along_mm / other.length_mm
    there = np.stack([np.interp(share, at, other.points[:, k]) for k in range(3)], axis=1)
    apart = there - line.points
    apart -= (apart * line.tangents).sum(axis=1)[:, None] * line.tangents
    return float(np.sqrt((apart**2).sum(axis=1).mean()))


def _loft(a: Stub, b: Stub, line: Line) -> Bar:
    """Carry the section from one stub's to the other's along the line, and back over both."""
    width = 0.5 * (a.width_mm + b.width_mm)
    step = 0.1 * width
    over = np.arange(step, min(tol.SPAN_OVER * width, min(a.length_mm, b.length_mm)) + 1e-9, step)
    n = max(6, round(line.length_mm / step))
    along = np.linspace(0.0, line.length_mm, n + 1)
    points, tangents, sides = (
        np.stack([np.interp(along, line.along_mm, v[:, k]) for k in range(3)], axis=1)
        for v in (line.points, line.tangents, line.sides)
    )
    tangents = unit(tangents)
    sides = unit(sides - (sides * tangents).sum(axis=1)[:, None] * tangents)
    first, first_taper = _turned(a, tangents[0], sides[0], forward=True)
    last, last_taper = _turned(b, tangents[-1], sides[-1], forward=False)
    twist = _twist(first, last, scatter_mm=float(np.hypot(a.scatter_mm, b.scatter_mm)))
    # The far section is blended as it lies in the near one's turn, and turned on evenly.
    share = along / line.length_mm
    radius = _blend(
        first, _rolled(last, twist), first_taper, _rolled(last_taper, twist), share, line.length_mm
    )
    gap = _rings(points, tangents, sides, radius, twist * share)
    back_a = _over(a, tangents[0], sides[0], first, first_taper, -over[::-1], forward=True)
    back_b = _over(b, tangents[-1], sides[-1], last, last_taper, over, forward=False)
    # Where the far end was turned, its rings keep the points of the turned section.
    back_b = np.stack([_resampled(ring, twist) for ring in back_b]) if twist else back_b
    rings = np.concatenate([back_a, gap, back_b])
    centres = rings.mean(axis=1)
    return Bar(centres, rings, len(back_a), len(back_a) + n)


def _turned(
    stub: Stub, tangent: FloatArray, side: FloatArray, *, forward: bool
) -> tuple[FloatArray, FloatArray]:
    """A stub's section and taper by angle about the line, as the line runs."""
    third = np.cross(tangent, side)
    mine = np.cross(stub.tangent, stub.side)
    angle = 2 * np.pi * np.arange(tol.SECTION_ANGLES) / tol.SECTION_ANGLES
    rays = np.cos(angle)[:, None] * side + np.sin(angle)[:, None] * third
    place = np.arctan2(rays @ mine, rays @ stub.side)
    return _at(stub.radius_mm, place), _at(stub.taper, place) * (1.0 if forward else -1.0)


def _at(values: FloatArray, angle: FloatArray) -> FloatArray:
    """Values kept at even angles, read at others by their harmonics."""
    waves = np.fft.rfft(values) / len(values)
    waves[1:] *= 2.0
    if len(values) % 2 == 0:
        waves[-1] *= 0.5
    k = np.arange(len(waves))
    return np.asarray((np.exp(1j * np.outer(angle, k)) @ waves).real, dtype=np.float64)


def _rolled(values: FloatArray, twist: float) -> FloatArray:
    """Values by angle from a side that is turned by the twist."""
    angle = 2 * np.pi * np.arange(len(values)) / len(values)
    return values if twist == 0.0 else _at(values, angle + twist)


def _twist(first: FloatArray, last: FloatArray, *, scatter_mm: float) -> float:
    """Turn about the line by which the far section matches the near one best, radians.

    0 where a turn explains little: a round bar has none to show, and one that merely changes its
    section has not turned.
    """
    tried = np.radians(np.arange(-60.0, 60.1, 1.0))
    a, b = first / first.mean(), last / last.mean()
    off = np.array([float(np.sqrt(((_rolled(b, t) - a) ** 2).mean())) for t in tried])
    straight = float(np.sqrt(((b - a) ** 2).mean()))
    best = int(off.argmin())
    clear = straight - off[best] > max(0.5 * straight, scatter_mm / float(first.mean()))
    return float(tried[best]) if clear and 0 < best < len(tried) - 1 else 0.0


def _blend(
    first: FloatArray,
    last: FloatArray,
    first_taper: FloatArray,
    last_taper: FloatArray,
    share: FloatArray,
    length_mm: float,
) -> FloatArray:
    """Radii along the gap, (N, A): from one to the other, leaving each with its taper.

    The taper dies out within half a width: it tells of the flare at a root, which the bar's middle
    does not share. Carried on over the whole gap it spoils the section of flared handles threefold.
    """
    s, most = share[:, None], tol.SECTION_SLOPE_MAX
    fade = min(length_mm, tol.SECTION_TAPER_FADES * float(np.sqrt(np.pi) * first.mean()))
    left, right = s * length_mm, (1 - s) * length_mm
    smooth = (1 + 2 * s) * (1 - s) ** 2
    return np.asarray(
        smooth * first
        + (1 - smooth) * last
        + np.clip(first_taper, -most, most) * left * np.clip(1 - left / fade, 0, 1) ** 2
        - np.clip(last_taper, -most, most) * right * np.clip(1 - right / fade, 0, 1) ** 2
    )


def _over(
    stub: Stub,
    tangent: FloatArray,
    side: FloatArray,
    radius: FloatArray,
    taper: FloatArray,
    ways: FloatArray,
    *,
    forward: bool,
) -> FloatArray:
    """Rings over a stub, at ways along the line from its end."""
    out = ways if forward else -ways
    points = stub.line[0] + out[:, None] * stub.line[1] + out[:, None] ** 2 * stub.line[2]
    heads = unit(stub.line[1] + 2 * out[:, None] * stub.line[2]) * (1.0 if forward else -1.0)
    share = (heads @ side) / (1.0 + heads @ tangent)
    sides = side - share[:, None] * (tangent + heads)
    radii = radius + ways[:, None] * taper
    return _rings(points, heads, sides, radii, np.zeros(len(ways)))


def _rings(
    points: FloatArray,
    tangents: FloatArray,
    sides: FloatArray,
    radius: FloatArray,
    twist: FloatArray,
) -> FloatArray:
    """Places on the skin, (N, A, 3)."""
    angle = 2 * np.pi * np.arange(radius.shape[1]) / radius.shape[1] + twist[:, None]
    thirds = np.cross(tangents, sides)
    rays = np.cos(angle)[..., None] * sides[:, None] + np.sin(angle)[..., None] * thirds[:, None]
    return np.asarray(points[:, None] + radius[..., None] * rays)


def _resampled(ring: FloatArray, twist: float) -> FloatArray:
    """A closed ring's points moved on by an angle."""
    n = len(ring)
    place = np.arange(n) + twist * n / (2 * np.pi)
    wrapped = np.concatenate([ring[-n:], ring, ring, ring[:1]])
    at = np.arange(-n, 2 * n + 1)
    moved: FloatArray = np.stack([np.interp(place, at, wrapped[:, k]) for k in range(3)], axis=1)
    return moved


def _closed(bar: Bar) -> Mesh:
    """Close the rings with caps that dive inside either stub."""
    rings, m = bar.rings, bar.rings.shape[1]
    inner = []
    for end, before in ((0, 1), (-1, -2)):
        middle = bar.centres[end]
        on = middle - bar.centres[before]
        inner.append(middle + on + 0.6 * (rings[end] - middle))
    rings = np.concatenate([inner[0][None], rings, inner[1][None]])
    n = len(rings)
    poles = rings[[0, -1]].mean(axis=1)
    i, j = np.meshgrid(np.arange(n - 1), np.arange(m), indexing="ij")
    a, b = (i * m + j).ravel(), (i * m + (j + 1) % m).ravel()
    k, after = np.arange(m), (np.arange(m) + 1) % m
    faces = [
        np.stack([a, b, b + m], 1),
        np.stack([a, b + m, a + m], 1),
        np.stack([np.full(m, n * m), after, k], 1),
        np.stack([np.full(m, n * m + 1), (n - 1) * m + k, (n - 1) * m + after], 1),
    ]
    vertices = np.vstack([rings.reshape(-1, 3), poles])
    return Mesh(vertices, np.vstack(faces).astype(np.int32))
