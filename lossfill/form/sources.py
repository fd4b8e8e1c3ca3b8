"""Ways to find the missing form, behind one interface: each says what it would put into each cell.

revolve is the elastic revolved profile, and every other way falls back on it where it knows
nothing. Whatever the source, the fit at the join is the same.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter

from lossfill import tolerances as tol
from lossfill.form.cells import Cells, Skin, label_around
from lossfill.form.conform import bridge
from lossfill.form.copies import Copy, find_mirrors, find_turn, image, register, together, turns
from lossfill.form.hide import width_deg
from lossfill.form.twin import Twin
from lossfill.mesh import BoolArray, FloatArray

REVOLVE = "revolve"
NAMES = (REVOLVE, "mirror", "turn", "twin", "bridge")
"""Names that a person may ask for."""


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """A way to find the missing form.

    Parameters
    ----------
    name : one of `NAMES`
    show : given the cells to keep out of sight, what it puts into each; None for revolve, on
        which the others are built, and for one that does not apply
    says : how it was found, for the record; or why it does not apply
    copies : whether it shows another place, which is out of round in its own way
    """

    name: str
    show: Callable[[BoolArray], Skin] | None
    says: str
    copies: bool = False

    @property
    def applies(self) -> bool:
        """Whether there is anything to try."""
        return self.show is not None or self.name == REVOLVE


def make_sources(
    cells: Cells,
    skin: Skin,
    gap: BoolArray,
    *,
    names: tuple[str, ...] = NAMES,
    low_mm: FloatArray,
    noise_mm: float,
    repeats: int | None = None,
    twin: Twin | None = None,
) -> tuple[Source, ...]:
    """Set up sources on what is left of the vessel.

    Parameters
    ----------
    skin : (R, C) what is left
    gap : (R, C) where nothing is
    names : those that are wanted
    low_mm : (R, C) how the vessel is out of round, without flutes or lobes
    repeats : how often the shape comes again around the turn, where a person knows
    twin : another vessel of the set, laid on this one
    """
    known = _hidden(skin, gap)
    makers: dict[str, Callable[[], Source]] = {
        REVOLVE: lambda: Source(REVOLVE, None, "the profile, bent to follow the vessel"),
        "mirror": lambda: _mirror(cells, known, gap),
        "turn": lambda: _turn(cells, known, low_mm, repeats),
        "twin": lambda: _twin(twin),
        "bridge": lambda: _bridge(cells, known, gap, noise_mm=noise_mm),
    }
    return tuple(make() for name, make in makers.items() if name in names)


def _bridge(cells: Cells, skin: Skin, gap: BoolArray, *, noise_mm: float) -> Source:
    def show(hidden: BoolArray) -> Skin:
        # A patch that is hidden is spanned alone; else all the gaps are that are narrow enough.
        wanted = hidden if hidden.any() else _narrow(gap)
        return bridge(cells, _hidden(skin, hidden), wanted, noise_mm=noise_mm)

    return Source("bridge", show, "the smoothest span between the edges")


def _narrow(gap: BoolArray) -> BoolArray:
    labels, n = label_around(gap)
    wide = [k for k in range(1, n + 1) if width_deg(labels == k) > tol.BRIDGE_WIDEST_DEG]
    return gap & ~np.isin(labels, wide)


def follow(cells: Cells, seen: Skin, base_mm: FloatArray) -> FloatArray:
    """Field that a source shows, led over to another field where it shows nothing, (R, C) mm."""
    there = seen.weight > 0
    apart = np.where(there, seen.offset_mm - base_mm, 0.0)
    sigma = (
        tol.FOLLOW_MM / cells.row_mm,
        tol.FOLLOW_MM / (float(cells.radius_mm.max()) * cells.column_rad),
    )
    known = gaussian_filter(there.astype(np.float64), sigma, mode=("nearest", "wrap"))
    total = gaussian_filter(apart, sigma, mode=("nearest", "wrap"))
    # The mean of what is near, fading out: half of the neighbourhood is known at a straight edge.
    beside = total / np.maximum(known, 1e-6) * np.clip(2 * known, 0.0, 1.0)
    result: FloatArray = base_mm + np.where(there, apart, beside)
    return result


def _hidden(skin: Skin, hidden: BoolArray) -> Skin:
    return Skin(skin.offset_mm, np.where(hidden, 0.0, skin.weight))


def _mirror(cells: Cells, skin: Skin, gap: BoolArray) -> Source:
    planes = [one for one in find_mirrors(cells, skin) if np.isfinite(one.residual_mm)]
    if not planes:
        return Source("mirror", None, "too little is left to find a plane of symmetry")
    # A residual set by most of the skin says nothing of a spout that has a handle for its image.
    odd = [_odd_share(cells, skin, one) for one in planes]
    planes = [
        one for one, share in zip(planes, odd, strict=True) if share <= min(odd) + tol.MIRROR_ODD
    ]
    # Of planes that are as good, the one that the loss cuts least has most to show.
    good = [one for one in planes if one.residual_mm <= tol.MIRROR_AS_GOOD * planes[0].residual_mm]
    plane = max(good, key=lambda one: int((image(cells, skin, one).weight > 0)[gap].sum()))
    angle = float(np.degrees(plane.turn_rad / 2) % 180.0)

    def show(hidden: BoolArray) -> Skin:
        left = _hidden(skin, hidden)
        return image(cells, left, _relaid(cells, left, plane, hidden))

    return Source(
        "mirror",
        show,
        f"plane at {angle:.1f}°, both sides alike to {plane.residual_mm:.2f} mm",
        copies=True,
    )


def _odd_share(cells: Cells, skin: Skin, copy: Copy) -> float:
    """Share of the skin that a copy shows quite otherwise than it is."""
    seen = image(cells, skin, copy)
    both = (skin.weight > 0) & (seen.weight > 0)
    apart = np.abs(skin.offset_mm - seen.offset_mm)[both]
    odd = apart > max(tol.COPY_ODD_SPREADS * copy.residual_mm, tol.COPY_ODD_MM)
    return float(odd.mean()) if len(odd) else 1.0


def _relaid(cells: Cells, skin: Skin, copy: Copy, hidden: BoolArray) -> Copy:
    """Lay a copy on again without what is hidden, which else would have had a say in it."""
    if not hidden.any():
        return copy
    again = register(cells, skin, copy, rounds=tol.COPY_ROUNDS_AGAIN)
    return again if np.isfinite(again.residual_mm) else copy


def _turn(cells: Cells, skin: Skin, low_mm: FloatArray, repeats: int | None) -> Source:
    # That a pot is oval or askew does not come again with its flutes.
    found = find_turn(cells, Skin(skin.offset_mm - low_mm, skin.weight), n=repeats)
    if found is None:
        return Source("turn", None, "nothing repeats around the turn")
    n, _ = found
    copies = [copy for copy in turns(cells, skin, n) if np.isfinite(copy.residual_mm)]
    if not copies:
        return Source("turn", None, "too little is left to lay the repeats over each other")

    def show(hidden: BoolArray) -> Skin:
        left = _hidden(skin, hidden)
        laid = [_relaid(cells, left, copy, hidden) for copy in copies]
        return together([(image(cells, left, copy), copy.residual_mm) for copy in laid])

    spread = float(np.median([copy.residual_mm for copy in copies]))
    return Source("turn", show, f"{n} repeats, alike to {spread:.2f} mm", copies=True)


def _twin(twin: Twin | None) -> Source:
    if twin is None:
        return Source("twin", None, "no scan of another vessel of the set was given")
    if not np.isfinite(twin.residual_mm):
        says = f"the twin's wall does not lie along this one's: it is {twin.size_says}"
        return Source("twin", None, says)
    seen = twin.skin
    says = f"the twin lies on it to {twin.residual_mm:.2f} mm; it is {twin.size_says}"
    return Source("twin", lambda _: seen, says, copies=True)
