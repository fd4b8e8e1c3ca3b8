"""The whole road in one call: scan file in, a fill for every loss out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import numpy as np
from threadpoolctl import threadpool_limits

from lossfill.body import Body, make_body
from lossfill.body.onebody import check_wall
from lossfill.donor.attached import stands_off
from lossfill.donor.stand import Stand, TwinBody, find_stand
from lossfill.errors import AlignmentError, BooleanError, InputError, LossfillError, NoAxisError
from lossfill.fill import Fill, FillSettings, make_fill
from lossfill.fill.settings import Edge, Process
from lossfill.fit.fit import Obstacle, fit_fill
from lossfill.fit.fitted import Fitted
from lossfill.fit.order import NO_ORDER, Order, find_order
from lossfill.form import Form, fit_form
from lossfill.form.pointed import pointed_places
from lossfill.frame import Frame, find_frame
from lossfill.frame.refusals import no_donor
from lossfill.loss import Crack, Loss, WayRule, find_cracks, find_losses
from lossfill.loss.pointed import NOT_POINTED, nothing_there
from lossfill.loss.sides import sides_of
from lossfill.nearest import Surface
from lossfill.scan import Scan, Unit, read_scan
from lossfill.scan.scale import check_rim, scaled
from lossfill.tolerances import RIM_ROUNDS, RIM_SCALE_ROUNDING

if TYPE_CHECKING:
    from lossfill.donor.form import DonorForm

Progress = Callable[[str, float], None]
"""Called with the stage's name in plain words and the fraction of the whole job done, 0–1."""


@dataclass(frozen=True, slots=True)
class Settings:
    """What a repairer may choose.

    Parameters
    ----------
    clearance_mm : gap left along the break for adhesive, 0–1 mm; 0.15 suits thin lacquer paste
        or slow epoxy (common practice)
    units : unit of the file's numbers; None lets the file or its size decide
    seed : of every random choice; the same seed gives the same files
    form : one of `form.sources.NAMES`; None chooses for each loss what predicts best
    repeats : how often the shape comes again around the turn; None looks for it
    twin : scan of another vessel of the set, in the same unit or one that its file states
    way_rule : up to where paste and putty are recommended
    wall_mm : thickness of the wall, for a scan that shows one skin only; None borrows it from the
        scan where that shows it
    rim_diameter_mm : diameter of the rim as measured on the pot, over the outside of the lip; the
        scan is scaled to it, whatever its unit. None leaves the scan's own scale
    twin_scaled : bring the twin to this vessel's size before it is laid on; else it keeps its own,
        and by how much it is larger or smaller is only stated
    split : part a piece in two where too much of its seat would have to go for it to slide in
    setback_outside_mm, setback_inside_mm : how far the piece's skin lies below the vessel's, for
        coats that go on top, 0–1 mm
    setback_edge : "fade" runs the setback out to flush towards the join, "step" keeps it
    process : what the piece is made by, whose least thickness its edges are trimmed to: one of
        `fill.settings.LEAST_THICKNESS_MM`; None trims nothing
    fillet_mm : radius to which the seat's sharp ridges are rounded, 0–1 mm
    pointed_mm : places of losses that the search missed, vessel coordinates: a click on the edge of
        one. A loss there is kept from 2 mm³
    pointed_at : the same by angle about the axis (degrees counter-clockwise from above) and height
        above the foot, mm, on the outside
    """

    clearance_mm: float = 0.15
    units: Unit | None = None
    seed: int = 1
    form: str | None = None
    repeats: int | None = None
    twin: Path | None = None
    way_rule: WayRule = field(default_factory=WayRule)
    wall_mm: float | None = None
    rim_diameter_mm: float | None = None
    twin_scaled: bool = False
    split: bool = False
    setback_outside_mm: float = 0.0
    setback_inside_mm: float = 0.0
    setback_edge: Edge = "fade"
    process: Process | None = None
    fillet_mm: float = 0.0
    pointed_mm: tuple[tuple[float, float, float], ...] = ()
    pointed_at: tuple[tuple[float, float], ...] = ()

    @property
    def fill_settings(self) -> FillSettings:
        """What of this shapes the piece."""
        return FillSettings(
            clearance_mm=self.clearance_mm,
            setback_outside_mm=self.setback_outside_mm,
            setback_inside_mm=self.setback_inside_mm,
            setback_edge=self.setback_edge,
            process=self.process,
            fillet_mm=self.fillet_mm,
        )


@dataclass(frozen=True, slots=True, eq=False)
class Inspection:
    """The first three stages: what is there."""

    settings: Settings
    scan: Scan
    body: Body
    frame: Frame | Stand

    @property
    def warnings(self) -> tuple[str, ...]:
        """All that the stages want a person to know."""
        return _all_warnings(self.scan, self.body, self.frame)


@dataclass(frozen=True, slots=True, eq=False)
class Measurement:
    """The first five stages: what is missing, and what is cracked."""

    settings: Settings
    scan: Scan
    body: Body
    frame: Frame | Stand
    form: Form | DonorForm
    losses: tuple[Loss, ...]
    cracks: tuple[Crack, ...] = ()

    @property
    def warnings(self) -> tuple[str, ...]:
        """All that the stages want a person to know."""
        return _all_warnings(self.scan, self.body, self.frame, self.form)


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """Every stage's result, in the order of the road.

    Parameters
    ----------
    settings, scan, body, frame, form, losses : as the stages gave them
    fills : one for each loss, except those that `left_out` speaks of
    left_out : a sentence for each loss for which no sound piece could be made
    fitted : the same pieces made to slide in, in the order of `fills`
    order : in which the pieces go in, where one in place would bar another's way
    cracks : hairline cracks and open seams, which get no piece, the longest first
    """

    settings: Settings
    scan: Scan
    body: Body
    frame: Frame | Stand
    form: Form | DonorForm
    losses: tuple[Loss, ...]
    fills: tuple[Fill, ...]
    left_out: tuple[str, ...] = ()
    cracks: tuple[Crack, ...] = ()
    fitted: tuple[Fitted, ...] = ()
    order: Order = NO_ORDER

    @property
    def warnings(self) -> tuple[str, ...]:
        """All that the stages want a person to know."""
        stages = (self.scan, self.body, self.frame, self.form, *self.fills, *self.fitted)
        barred = (self.order.why_not,) if self.order.why_not else ()
        return _all_warnings(*stages) + self.left_out + barred


def inspect(
    scan: Scan | str | Path, settings: Settings = Settings(), *, progress: Progress | None = None
) -> Inspection:
    """Read a scan, mend it and stand it upright.

    Raises
    ------
    LossfillError
        With one line that says what is wrong and what to do.
    """
    tell = progress or _silent
    check_wall(settings.wall_mm)
    check_rim(settings.rim_diameter_mm)
    if not isinstance(scan, Scan):
        tell("reading the scan", 0.0)
        any_size = settings.rim_diameter_mm is not None
        scan = read_scan(scan, units=settings.units, any_size=any_size)
    if settings.rim_diameter_mm is not None:
        tell("measuring the rim", 0.05)
        scan = _scaled_to_rim(scan, settings, settings.rim_diameter_mm)
    tell("mending a copy of the scan", 0.1)
    body, frame = _stood_up(scan, settings, tell)
    return Inspection(settings, scan, body, frame)


def measure(
    scan: Scan | str | Path, settings: Settings = Settings(), *, progress: Progress | None = None
) -> Measurement:
    """Find and measure every loss, and list the cracks.

    Raises
    ------
    LossfillError
        With one line that says what is wrong and what to do.
    """
    tell = progress or _silent
    return measure_inspected(inspect(scan, settings, progress=tell), progress=tell)


def measure_inspected(seen: Inspection, *, progress: Progress | None = None) -> Measurement:
    """Go on from what was inspected; the form is found as its settings ask.

    Raises
    ------
    LossfillError
        With one line that says what is wrong and what to do.
    """
    tell = progress or _silent
    tell("working out the intact form", 0.45)
    form, losses = _in_one_thread(lambda: _missing(seen, tell))
    cracks: tuple[Crack, ...] = ()
    if isinstance(form, Form) and isinstance(seen.frame, Frame):
        cracks = find_cracks(seen.frame, form, losses)
    return Measurement(seen.settings, seen.scan, seen.body, seen.frame, form, losses, cracks)


def design(
    scan: Scan | str | Path, settings: Settings = Settings(), *, progress: Progress | None = None
) -> Design:
    """Design a piece for every loss of a scanned vessel.

    A loss for which no sound piece comes out is left without one, and `Design.left_out` says why:
    it must not cost the pieces of the others.

    Parameters
    ----------
    scan : a scan already read, or the path of a scan file, which is never written to
    settings : what a repairer may choose
    progress : told of each stage as it begins

    Raises
    ------
    LossfillError
        With one line that says what is wrong and what to do.
    """
    tell = progress or _silent
    _ = settings.fill_settings  # refuses what is out of range before minutes are spent
    return design_measured(measure(scan, settings, progress=tell), progress=tell)


def design_measured(found: Measurement, *, progress: Progress | None = None) -> Design:
    """Go on from what was measured; the pieces are shaped as its settings ask.

    Raises
    ------
    InputError
        Where a setting is out of its range.
    """
    tell = progress or _silent
    settings, shape = found.settings, found.settings.fill_settings
    fills: list[Fill] = []
    fitted: list[Fitted] = []
    left_out: list[str] = []
    body = Obstacle(found.body.solid, Surface(found.body.mesh))
    for k, loss in enumerate(found.losses):
        tell(f"making piece {loss.number}", 0.75 + 0.25 * k / len(found.losses))
        try:
            side = None
            if shape.has_setback:
                side = sides_of(loss, found.frame.vessel_from_scan, found.form)
            fill = make_fill(loss, shape, side=side)
            fitted.append(fit_fill(fill, body, split=settings.split, seed=settings.seed))
            fills.append(fill)
        except BooleanError as error:
            left_out.append(f"no piece was made for loss {loss.number}: {error}")
    order = find_order([piece for one in fitted for piece in one.pieces])
    tell("done", 1.0)
    return Design(
        settings=settings,
        scan=found.scan,
        body=found.body,
        frame=found.frame,
        form=found.form,
        losses=found.losses,
        fills=tuple(fills),
        left_out=tuple(left_out),
        cracks=found.cracks,
        fitted=tuple(fitted),
        order=order,
    )


def _missing(seen: Inspection, tell: Progress) -> tuple[Form | DonorForm, tuple[Loss, ...]]:
    """Work out the intact form and what is missing of it, with an axis or without."""
    body, frame, settings = seen.body, seen.frame, seen.settings
    if isinstance(frame, Stand):
        from lossfill.donor.form import find_donors
        from lossfill.donor.losses import find_donor_losses

        lent = find_donors(
            body,
            frame,
            source=settings.form,
            twin=_twin_stood(settings),
            twin_scaled=settings.twin_scaled,
            seed=settings.seed,
        )
        if not lent.donors:
            raise no_donor(frame.why, lent.reasons)
        if settings.pointed_mm or settings.pointed_at:
            lent = replace(lent, warnings=(*lent.warnings, NOT_POINTED))
        tell("looking for losses", 0.7)
        return lent, find_donor_losses(body, frame, lent, seed=settings.seed)
    twin = _twin_stood(settings)
    other = None if twin is None else twin.frame
    if isinstance(other, Stand):
        raise InputError(
            f"the twin: {other.why}, while this vessel has an axis: is it of the same set?"
        )
    pointed = pointed_places(frame, settings.pointed_mm, settings.pointed_at)
    form = fit_form(
        frame,
        source=settings.form,
        repeats=settings.repeats,
        twin=other,
        twin_scaled=settings.twin_scaled,
        pointed=pointed,
    )
    tell("looking for losses", 0.7)
    in_wall = find_losses(body, frame, form, pointed=pointed)
    form = replace(form, warnings=form.warnings + nothing_there(in_wall, frame, pointed))
    if twin is None and not stands_off(frame, form):
        return form, in_wall
    from lossfill.donor.handles import find_handle_losses

    losses, told = find_handle_losses(
        body, frame, form, in_wall, source=settings.form, twin=twin, seed=settings.seed
    )
    return replace(form, warnings=form.warnings + told), losses


def _twin_stood(settings: Settings) -> TwinBody | None:
    """Stand the twin up, where there is one."""
    if settings.twin is None:
        return None
    try:
        twin = read_scan(settings.twin, units=settings.units)
        return TwinBody(*_stood_up(twin, settings, _silent))
    except LossfillError as error:
        raise type(error)(f"the twin: {error}") from error


def _stood_up(scan: Scan, settings: Settings, tell: Progress) -> tuple[Body, Frame | Stand]:
    body = make_body(scan, wall_mm=settings.wall_mm)
    tell("finding the axis", 0.3)
    rng = np.random.default_rng(settings.seed)
    try:
        return body, _in_one_thread(lambda: find_frame(body, rng=rng))
    except AlignmentError as error:
        from lossfill.donor.sheets import is_sheet

        # What has no hollow or no floor may be half a scan, unless it is plainly a sheet.
        if isinstance(error, NoAxisError) or is_sheet(body.mesh):
            return body, find_stand(body, rng=rng, why=str(error))
        raise


def _scaled_to_rim(scan: Scan, settings: Settings, rim_diameter_mm: float) -> Scan:
    """Scale a scan until its rim measures what the pot's does.

    The rim shows only once the vessel stands upright, and how its wall is laid and how fine its
    skin is looked at depend on its size. So it is stood up at a first scale, by its longest side,
    and again at the scale that this gives, until the rim is met.
    """
    factor = rim_diameter_mm / float(np.ptp(scan.mesh.bounds, axis=0).max())
    for _ in range(RIM_ROUNDS):
        _, frame = _stood_up(scaled(scan, factor), settings, _silent)
        if isinstance(frame, Stand):
            raise InputError(f"{frame.why}, so there is no rim to measure: leave the rim out")
        change = rim_diameter_mm / frame.rim_diameter_mm
        factor *= change
        if abs(change - 1.0) < RIM_SCALE_ROUNDING:
            break
    return scaled(scan, factor, told=f"the rim diameter of {rim_diameter_mm:g} mm that you gave")


_Answer = TypeVar("_Answer")


def _in_one_thread(work: Callable[[], _Answer]) -> _Answer:
    """Run a stage with linear algebra in one thread.

    Its matrices are small: more threads gain nothing, stall on a busy machine, and would let the
    last digits depend on their number.
    """
    with threadpool_limits(limits=1, user_api="blas"):
        return work()


def _silent(stage: str, fraction: float) -> None:
    """Report to nobody."""


def _all_warnings(
    *stages: Scan | Body | Frame | Stand | Form | DonorForm | Fill | Fitted,
) -> tuple[str, ...]:
    return tuple(warning for stage in stages for warning in stage.warnings)
