"""From a frame to the intact form: elastic field, its stiffness, and the fit at the joins."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lossfill import tolerances as tol
from lossfill.errors import InputError
from lossfill.form.cells import (
    Cells,
    Skin,
    angles_of,
    grow,
    make_cells,
    place,
)
from lossfill.form.choice import Choice
from lossfill.form.choose import choose_elastic, low_field
from lossfill.form.conform import conform
from lossfill.form.flakes import find_flakes
from lossfill.form.form import Form, interpolate
from lossfill.form.gaps import find_gaps, with_shallows
from lossfill.form.hide import choose_patches, wider_than_patches, width_deg
from lossfill.form.join import JoinSkin, join_places
from lossfill.form.pointed import bare_about, cells_about
from lossfill.form.skin import (
    Seen,
    sharp_agreement,
    skin_alone,
    without_edges,
    without_flakes,
)
from lossfill.form.sources import NAMES, REVOLVE, Source, make_sources
from lossfill.form.trust import choose_sources, chosen_field
from lossfill.form.twin import lay_twin
from lossfill.frame.frame import Frame
from lossfill.frame.profile import Projection, project
from lossfill.mesh import BoolArray, FloatArray
from lossfill.robust import spread_of


def fit_form(
    frame: Frame,
    *,
    stiffness: float | None = None,
    source: str | None = None,
    repeats: int | None = None,
    twin: Frame | None = None,
    twin_scaled: bool = False,
    pointed: FloatArray | None = None,
) -> Form:
    """Find the intact vessel's shape from what is left of it.

    Parameters
    ----------
    frame : the vessel upright, with its profile and samples
    stiffness : of the elastic field; None chooses it by hiding patches that exist and predicting
        them. Infinity is the plain revolved profile, with rings and the fit at the joins added.
    source : one of `sources.NAMES`; None chooses for each gap what predicts hidden patches best
    repeats : how often the shape comes again around the turn, where a person knows
    twin : another vessel of the set, upright
    twin_scaled : bring the twin to this vessel's size before it is laid on
    pointed : (N, 3) vessel coordinates of places where a person says that something is missing:
        what lies low about them is no skin to take the form from

    Raises
    ------
    AmbiguousShapeError
        Where too little skin is left to fit anything to.
    InputError
        Where the source asked for is none, or does not apply to this vessel.
    """
    if source is not None and source not in NAMES:
        raise InputError(f"the form cannot be found by {source!r}: use one of {', '.join(NAMES)}")
    if repeats is not None and not 2 <= repeats <= tol.REPEAT_MAX:
        raise InputError(
            f"{repeats} repeats around the turn are outside 2 to {tol.REPEAT_MAX}: count the "
            "flutes or lobes"
        )
    if source == "turn" and repeats is None and frame.outline is not None:
        # Once the outline has taken the lobes out, what is left need not show them.
        repeats = frame.outline.repeats
    cells = make_cells(frame.profile, sample_mm2=frame.samples.area_mm2)
    size = max(frame.height_mm, frame.rim_diameter_mm)
    drop = project(frame.profile, frame.samples.points, frame.samples.calm_normals)
    where = place(cells, frame.profile, drop, frame.samples)
    seen = skin_alone(frame, cells, drop, where, size_mm=size)
    gap = find_gaps(cells, seen.present, sample_mm2=frame.samples.area_mm2)
    flakes = find_flakes(cells, frame.profile, seen.facing, gap)
    bare = np.zeros_like(gap)
    if pointed is not None and len(pointed):
        near = cells_about(frame, cells, pointed)
        bare = bare_about(cells, seen, near, gap | flakes.whole, drop.offset_mm, where)
    plain_gap, gap = gap | bare, gap | bare | flakes.whole
    seen = without_flakes(cells, seen, bare | flakes.whole, drop.offset_mm, where)
    seen = without_edges(cells, seen, gap, drop.offset_mm, where)
    skin, noise = seen.skin, seen.noise_mm
    shallow = (skin.weight == 0) & seen.sagged
    gap = with_shallows(cells, gap, shallow)
    flakes = flakes.without(with_shallows(cells, plain_gap, shallow), gap)
    patches = choose_patches(cells, skin, gap)
    tries: tuple[float, ...] = tol.STIFFNESSES
    if frame.outline is not None:
        tries = (*tol.STIFFNESSES_OUTLINED, *tries)
    elastic = choose_elastic(
        cells, skin, patches, size_mm=size, tries=tries if stiffness is None else (stiffness,)
    )
    if source is None and stiffness is not None:
        # Only a revolved form is stiff.
        source = REVOLVE
    known = Skin(skin.offset_mm, np.where(gap, 0.0, skin.weight))
    laid = None
    if twin is not None:
        laid = lay_twin(cells, frame.profile, known, twin, scaled=twin_scaled)
    sources = make_sources(
        cells,
        skin,
        gap,
        names=NAMES if source is None else (REVOLVE, source),
        low_mm=low_field(elastic),
        noise_mm=noise,
        repeats=repeats,
        twin=laid,
    )
    if source is not None:
        _refuse_unless_applies(sources, source)
    lobed = frame.outline is not None and frame.outline.lobes is not None
    choices = choose_sources(
        cells, skin, gap, elastic, sources, noise_mm=noise, asked=source, lobed=lobed
    )
    expected = choices[0].error_mm
    warnings: tuple[str, ...] = ()
    if not patches:
        warnings = ("too little of the vessel is left to test the form on: its error is a guess",)
    elif lobed and wider_than_patches(choices[0].gap):
        warnings = (
            f"the vessel is lobed and {width_deg(choices[0].gap):.0f}° of the turn is gone, wider "
            "than any part that is left could be tried for: the lobes there are an estimate, look "
            "at them in misfit.png before you make anything",
        )
    elif expected > tol.FORM_DOUBT_MM:
        warnings = (
            f"where the wall is there, the form misses it by {expected:.2f} mm (RMS): look at "
            "misfit.png and at each piece before you make anything",
        )
    if source is not None:
        warnings += _told_of_refusals(choices, source)
    field, choice = chosen_field(cells, skin, gap, elastic, sources, choices)
    field = conform(cells, skin, field, gap=gap, noise_mm=noise)
    return Form(
        profile=frame.profile,
        outline=frame.outline,
        cells=cells,
        field_mm=field,
        skin=skin,
        gap=gap,
        flakes=flakes,
        drop=drop,
        scan_from_vessel=np.asarray(np.linalg.inv(frame.vessel_from_scan), dtype=np.float64),
        stiffness=elastic.stiffness,
        repeats=elastic.repeats,
        noise_mm=noise,
        row_scatter_mm=seen.row_scatter_mm,
        choices=choices,
        choice=choice,
        round_error_mm=elastic.round_error_mm,
        patches=len(patches),
        join=_skin_at_joins(frame, cells, drop, where, seen, gap, field),
        twin=laid,
        warnings=warnings,
    )


def _refuse_unless_applies(sources: tuple[Source, ...], name: str) -> None:
    chosen = next(one for one in sources if one.name == name)
    if not chosen.applies:
        raise InputError(f"the form cannot be found by {name}: {chosen.says}")


def _told_of_refusals(choices: tuple[Choice, ...], name: str) -> tuple[str, ...]:
    """Where a source that a person asked for knew too little of a gap, and so was not followed."""
    reasons = [
        trial.says
        for choice in choices
        for trial in choice.trials
        if trial.source == name and choice.source != name
    ]
    return tuple(
        f"a gap in the skin could not be filled by {name} ({reason}): it was revolved instead"
        for reason in dict.fromkeys(reasons)
    )


def _skin_at_joins(
    frame: Frame,
    cells: Cells,
    drop: Projection,
    where: NDArray[np.intp],
    seen: Seen,
    gap: BoolArray,
    field_mm: FloatArray,
) -> JoinSkin:
    """Pick the samples of skin beside the gaps, with what they lie off the form."""
    near = grow(cells, gap, tol.JOIN_REACH_MM).ravel()[where] & seen.kept
    # Where a cell holds the break's edge too, only a triangle's own normal tells them apart.
    beside = grow(cells, gap, tol.CELL_MM).ravel()[where]
    near &= ~beside | (sharp_agreement(frame, drop) > tol.SKIN_AGREEMENT_SHARP)
    along, angle = drop.along[near], angles_of(frame.samples)[near]
    residual = drop.offset_mm[near] - interpolate(cells, frame.profile, field_mm, along, angle)
    # What lies this far under the form beside a gap is the break's own edge.
    spread = spread_of(residual) if len(residual) else 0.0
    skin = residual > -max(2 * tol.SAG_MM, tol.SAG_SPREADS * spread)
    length = max(tol.JOIN_LENGTH_MM, tol.JOIN_SPACINGS * float(np.sqrt(frame.samples.area_mm2)))
    places = join_places(frame.profile, along[skin], angle[skin])
    return JoinSkin(places, residual[skin], length, seen.noise_mm)
