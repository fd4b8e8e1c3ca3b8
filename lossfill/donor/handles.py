"""Losses of what stands off a turned wall: handles, lugs and the like.

The wall's own form knows nothing of them. What does are the vessel's mirror image, where it has a
handle on either side, a twin, and a span between two stubs.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from lossfill import tolerances as tol
from lossfill.body.body import Body
from lossfill.donor.attached import Attached, attached_parts, core_of
from lossfill.donor.donor import Donor
from lossfill.donor.find import Lacking, find_lacking
from lossfill.donor.form import mirror_donor, twin_donors
from lossfill.donor.lay import find_mirrors, turn_starts
from lossfill.donor.measure import measure_lacking
from lossfill.donor.span import spans_between
from lossfill.donor.stand import Stand, TwinBody
from lossfill.form.form import Form
from lossfill.frame.frame import Frame
from lossfill.frame.samples import Samples, sample_body
from lossfill.loss.loss import Loss, LossKind
from lossfill.loss.measure import clock
from lossfill.mesh import FloatArray
from lossfill.nearest import Surface
from lossfill.solids import mesh_from_solid


def find_handle_losses(
    body: Body,
    frame: Frame,
    form: Form,
    in_wall: tuple[Loss, ...],
    *,
    source: str | None = None,
    twin: TwinBody | None = None,
    seed: int = 1,
) -> tuple[tuple[Loss, ...], tuple[str, ...]]:
    """Add to the losses of the wall those of what stands off it; the largest first.

    The second answer tells of stubs whose handle nothing could show.

    A loss of the wall that a handle's loss takes in, as at a handle's root, becomes part of it.

    Parameters
    ----------
    in_wall : the losses of the wall
    source : one of `form.sources.NAMES`; None takes all that apply
    twin : another vessel of the set

    Raises
    ------
    BooleanError
        Where the solid modeller fails.
    """
    parts = attached_parts(body, form)
    # Where all that stands off is whole, nothing of it is known to be missing; but a twin may have
    # more. A knob beside other things may be a stub whose break runs out thin.
    kinds = [part.kind for part in parts]
    if twin is None and "stub" not in kinds and not ("knob" in kinds and len(kinds) > 1):
        return in_wall, ()
    rng = np.random.default_rng(seed)
    samples = sample_body(body, n=tol.DONOR_SAMPLES, rng=rng)
    donors, reasons = _donors(body, frame, form, parts, samples, source=source, twin=twin, rng=rng)
    core = Surface(core_of(form))
    lacking = find_lacking(
        body,
        samples,
        donors,
        wall_mm=frame.wall_mm,
        reasons=reasons,
        wanted=lambda points: _stands_off(points, core),
        rng=rng,
    )
    kept = tuple(loss for loss in in_wall if not any(_takes_in(one, loss) for one in lacking))
    lacking = [_without(one, kept) for one in lacking]
    found = [
        measure_lacking(
            one,
            frame.vessel_from_scan,
            number=0,
            height_mm=frame.height_mm,
            kind=LossKind.HANDLE,
        )
        for one in lacking
        if one.solid.volume() >= tol.LOSS_VOLUME_MM3
    ]
    ordered = sorted((*kept, *found), key=lambda loss: -loss.volume_ml)
    numbered = tuple(replace(loss, number=k) for k, loss in enumerate(ordered, start=1))
    return numbered, _told_of_stubs(parts, found, why_no_twin=reasons["twin"])


def _told_of_stubs(
    parts: tuple[Attached, ...], found: list[Loss], *, why_no_twin: str
) -> tuple[str, ...]:
    """A sentence for each stub of a handle that no piece carries on."""
    pieces = [Surface(mesh_from_solid(loss.solid)) for loss in found]
    told = []
    for part in parts:
        if part.stub is None:
            continue
        end = part.stub.end[None]
        if any(float(piece.distance(end)[0]) < part.stub.width_mm for piece in pieces):
            continue
        told.append(
            f"a handle is broken off at {clock(part.angle_deg)}, {part.height_mm:.0f} mm up, and "
            f"nothing shows how it went on ({why_no_twin}): no piece was made for it; give a scan "
            "of a whole one of the set with --twin"
        )
    return tuple(told)


def _donors(
    body: Body,
    frame: Frame,
    form: Form,
    parts: tuple[Attached, ...],
    samples: Samples,
    *,
    source: str | None,
    twin: TwinBody | None,
    rng: np.random.Generator,
) -> tuple[tuple[Donor, ...], dict[str, str]]:
    """What can show a handle, and why what cannot does not."""
    reasons = {
        "revolve": "a handle is no part of the turned wall",
        "mirror": "no plane through the axis has a handle on either side",
        "turn": "a handle is no part of the turned wall",
        "twin": "no scan of another vessel of the set was given",
        "bridge": "no two stubs face each other",
    }
    donors: list[Donor] = []
    scan_from_vessel = np.linalg.inv(frame.vessel_from_scan)
    if source in (None, "mirror", "revolve", "turn"):
        axis = np.stack([scan_from_vessel[:3, 3], scan_from_vessel[:3, 2]])
        donors += [mirror_donor(body.solid, laid) for laid in find_mirrors(samples, axis=axis)]
    if twin is not None and not isinstance(twin.frame, Stand) and source in (None, "twin"):
        others = sample_body(twin.body, n=tol.DONOR_SAMPLES, rng=rng)
        starts = turn_starts(frame.vessel_from_scan, twin.frame.vessel_from_scan)
        scaled = form.twin is not None and form.twin.scaled
        twins, reasons["twin"] = twin_donors(
            twin.body.solid, samples, others, starts, scaled=scaled
        )
        donors += twins
    if source in (None, "bridge", "revolve", "turn"):
        donors += spans_between(parts, frame, form)
    return tuple(donors), reasons


def _stands_off(points: FloatArray, core: Surface) -> bool:
    """Whether a gap's points lie off the wall, enough of them to be more than misfit."""
    off = core.signed_distance(points) > tol.ATTACHED_SHIFT_MM
    return bool(off.sum() > max(20, tol.ATTACHED_GAP_SHARE * len(points)))


def _takes_in(lacking: Lacking, loss: Loss) -> bool:
    """Whether a handle's loss holds most of a loss of the wall."""
    return bool((lacking.solid ^ loss.solid).volume() > 0.5 * loss.solid.volume())


def _without(lacking: Lacking, in_wall: tuple[Loss, ...]) -> Lacking:
    """Leave to the wall's losses what is theirs."""
    solid = lacking.solid
    for loss in in_wall:
        if (solid ^ loss.solid).volume() > 0.0:
            solid = max((solid - loss.solid).decompose(), key=lambda part: part.volume())
    return replace(lacking, solid=solid)
