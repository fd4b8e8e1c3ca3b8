"""Brings a design, and what was written of it, into the shape of the record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from pydantic import ValidationError

from lossfill.cautions import Work, cautions_for
from lossfill.errors import ExportError
from lossfill.fit.words import entry_words
from lossfill.loss.way import WayRule, way_to_fill
from lossfill.mix.hazards import caution_keys_of, works_of
from lossfill.mix.usual import usual_quantities
from lossfill.pack.folder import FORMAT_NAME
from lossfill.pack.record import (
    FORMAT_VERSION,
    CheckPart,
    CrackPart,
    EntryPart,
    FillRecord,
    FramePart,
    InputPart,
    LossPart,
    PiecePart,
    ProofPart,
    RepairPart,
    SettingsPart,
    TrialPart,
    TrimmedPart,
    WayRulePart,
    rounded,
)

if TYPE_CHECKING:
    from lossfill.donor.stand import Stand
    from lossfill.fill.fill import Check, Fill
    from lossfill.fit.fitted import FittedPiece
    from lossfill.frame.frame import Frame
    from lossfill.loss.cracks import Crack
    from lossfill.loss.loss import Loss
    from lossfill.mesh import FloatArray
    from lossfill.road import Design


@dataclass(frozen=True, slots=True, eq=False)
class Written:
    """The files of one piece.

    Parameters
    ----------
    stl, threemf : their names
    check, check_3mf : the gate's findings on them
    fitted : the piece and its way in, or None where none was looked for
    """

    stl: str
    threemf: str
    check: Check
    check_3mf: Check
    fitted: FittedPiece | None = None

    @property
    def volume_ml(self) -> float:
        """Volume of the piece as read back."""
        return self.check.volume_mm3 / 1000.0


def make_record(
    design: Design,
    *,
    pieces: Mapping[int, Sequence[Written]],
    files: Sequence[str],
) -> FillRecord:
    """Bring a design and what was written of it into the record's shape.

    Parameters
    ----------
    design : every stage's result
    pieces : loss number to what was written of it, for each loss with a piece
    files : names of all files of the run

    Raises
    ------
    ExportError
        Where a stage hands over a value that the record cannot hold, such as NaN.
    """
    scan, frame, settings = design.scan, design.frame, design.settings
    fills = {fill.loss.number: fill for fill in design.fills}
    try:
        record = FillRecord(
            format=FORMAT_NAME,
            version=FORMAT_VERSION,
            program=f"lossfill {_program_version()}",
            input=InputPart(
                file=scan.path.name,
                sha256=scan.sha256,
                format=scan.format,
                unit=scan.unit.name.lower(),
                unit_mm=scan.unit.mm,
                unit_source=scan.unit_source,
                triangles=len(scan.mesh.faces),
                scale=scan.scale,
            ),
            settings=SettingsPart(
                clearance_mm=settings.clearance_mm,
                units=None if settings.units is None else settings.units.name.lower(),
                seed=settings.seed,
                form=settings.form,
                repeats=settings.repeats,
                twin=None if settings.twin is None else settings.twin.name,
                twin_scaled=settings.twin_scaled,
                split=settings.split,
                setback_outside_mm=settings.setback_outside_mm,
                setback_inside_mm=settings.setback_inside_mm,
                setback_edge=settings.setback_edge,
                process=settings.process,
                fillet_mm=settings.fillet_mm,
                pointed_mm=settings.pointed_mm,
                pointed_at=settings.pointed_at,
                wall_mm=settings.wall_mm,
                rim_diameter_mm=settings.rim_diameter_mm,
                way_rule=WayRulePart(
                    paste_depth_mm=settings.way_rule.paste_depth_mm,
                    paste_volume_ml=settings.way_rule.paste_volume_ml,
                    putty_span_mm=settings.way_rule.putty_span_mm,
                    putty_volume_ml=settings.way_rule.putty_volume_ml,
                ),
            ),
            repairs=tuple(
                RepairPart(
                    what=repair.what,
                    count=repair.count,
                    place_mm=None if repair.place_mm is None else _point(repair.place_mm),
                    size_mm=repair.size_mm,
                )
                for repair in design.body.repairs
            ),
            frame=FramePart(**frame_measures(frame)),
            form=form_summary(design.form),
            losses=tuple(
                _loss_part(
                    loss,
                    fills.get(loss.number),
                    pieces.get(loss.number, ()),
                    frame.vessel_from_scan,
                    settings.way_rule,
                )
                for loss in sorted(design.losses, key=lambda loss: loss.number)
            ),
            cracks=tuple(_crack_part(crack) for crack in design.cracks),
            order=design.order.sequence,
            files=tuple(files),
            warnings=design.warnings,
            cautions=(),
        )
    except ValidationError as error:
        first = error.errors()[0]
        place = " → ".join(str(step) for step in first["loc"])
        raise ExportError(
            f"the record cannot be written: {place} is {first['input']!r} ({first['msg']}); "
            "please report this with the scan"
        ) from error
    return record.model_copy(update={"cautions": _cautions(record)})


def _cautions(record: FillRecord) -> tuple[str, ...]:
    """What to take care of where each loss is filled as recommended, with usual materials."""
    quantities = usual_quantities(record)
    works = (Work.HANDLE, *works_of(quantities), Work.LEVEL, Work.USE)
    return cautions_for(works, caution_keys_of(quantities))


def frame_measures(frame: Frame | Stand) -> dict[str, Any]:
    """What is told of a frame; null for what only one with an axis has, or only one without."""
    names = (
        "height_mm",
        "length_mm",
        "width_mm",
        "rim_diameter_mm",
        "foot_diameter_mm",
        "wall_mm",
        "capacity_ml",
        "residual_mm",
        "noise_mm",
        "coverage",
    )
    measures = {name: getattr(frame, name, None) for name in names}
    rings = [asdict(ring) for ring in getattr(frame, "roundness", ())]
    return {"vessel_from_scan": frame.vessel_from_scan.tolist()} | measures | {"roundness": rings}


def _loss_part(
    loss: Loss,
    fill: Fill | None,
    pieces: Sequence[Written],
    vessel_from_scan: FloatArray,
    rule: WayRule,
) -> LossPart:
    advice = way_to_fill(loss, rule)
    first = pieces[0] if pieces else None
    return LossPart(
        number=loss.number,
        kind=loss.kind.value,
        clock=loss.clock,
        angle_deg=loss.angle_deg,
        height_mm=loss.height_mm,
        centre_mm=loss.centre_mm,
        volume_ml=loss.volume_ml,
        outer_area_mm2=loss.outer_area_mm2,
        inner_area_mm2=loss.inner_area_mm2,
        break_area_mm2=loss.break_area_mm2,
        join_length_mm=loss.join_length_mm,
        thickness_mm=loss.thickness_mm,
        depth_mm=loss.depth_mm,
        extent_along_mm=loss.extent_along_mm,
        extent_around_mm=loss.extent_around_mm,
        on_wall=loss.on_wall,
        way=advice.way.value,
        way_reason=advice.reason,
        source=loss.source,
        expected_error_mm=loss.expected_error_mm,
        bound_mm=loss.bound_mm,
        trials=tuple(
            TrialPart(
                source=trial.source,
                expected_error_mm=trial.error_mm,
                bound_mm=trial.bound_mm,
                says=trial.says,
            )
            for trial in loss.trials
        ),
        piece=None if first is None else first.stl,
        piece_3mf=None if first is None else first.threemf,
        piece_volume_ml=None if first is None else sum(one.volume_ml for one in pieces),
        clearance_mm=None if fill is None or first is None else fill.clearance_mm,
        check=None if first is None else _check_part(first.check),
        check_3mf=None if first is None else _check_part(first.check_3mf),
        trimmed=tuple(
            TrimmedPart(
                place_mm=_point(one.place_mm), length_mm=one.length_mm, volume_mm3=one.volume_mm3
            )
            for one in (() if fill is None else fill.trimmed)
        ),
        pieces=tuple(
            _piece_part(one, one.fitted, vessel_from_scan, loss)
            for one in pieces
            if one.fitted is not None
        ),
    )


def _piece_part(
    one: Written, fitted: FittedPiece, vessel_from_scan: FloatArray, loss: Loss
) -> PiecePart:
    entry, proof = fitted.entry, fitted.proof
    return PiecePart(
        name=fitted.name,
        stl=one.stl,
        threemf=one.threemf,
        volume_ml=one.volume_ml,
        check=_check_part(one.check),
        check_3mf=_check_part(one.check_3mf),
        entry=EntryPart(
            direction=_point((entry.direction[0], entry.direction[1], entry.direction[2])),
            words=entry_words(entry, vessel_from_scan, np.array(loss.centre_mm)),
            lean_deg=entry.free_deg,
            free_share=entry.free_share,
            travel_mm=entry.travel_mm,
            from_outside=entry.from_outside,
        ),
        proof=ProofPart(
            stations=proof.stations,
            shared_mm3=proof.shared_mm3,
            shared_limit_mm3=proof.shared_limit_mm3,
            doubtful_mm2=proof.doubtful_mm2,
            cell_mm=proof.cell_mm,
            rub_mm=proof.rub_mm,
            passed=proof.passed,
        ),
        relieved_mm3=fitted.relieved_mm3,
        seat_mm2=fitted.seat_mm2,
        seat_lost_mm2=fitted.seat_lost_mm2,
    )


def _crack_part(crack: Crack) -> CrackPart:
    return CrackPart(
        length_mm=crack.length_mm,
        width_mm=crack.width_mm,
        inside=crack.inside,
        clock=crack.clock,
        angle_deg=crack.angle_deg,
        height_mm=crack.height_mm,
        path_mm=tuple((float(x), float(y), float(z)) for x, y, z in crack.path_mm),
    )


def _check_part(check: Check) -> CheckPart:
    return CheckPart(
        watertight=check.watertight,
        outward=check.outward,
        one_part=check.one_part,
        clash_mm3=check.clash_mm3,
        clash_limit_mm3=check.clash_limit_mm3,
        passed=check.passed,
    )


def form_summary(form: object) -> dict[str, Any] | None:
    """Figures of the intact form as the record keeps them, or None where it gives none."""
    summarise = getattr(form, "summary", None)
    return None if summarise is None else {key: _plain(value) for key, value in summarise().items()}


def _plain(value: Any) -> Any:
    """Bring numpy's numbers and nested groups to what JSON knows, measures rounded."""
    if hasattr(value, "tolist"):
        value = value.tolist()
    if isinstance(value, bool | int | str) or value is None:
        return value
    if isinstance(value, float):
        return rounded(value)
    if isinstance(value, dict):
        return {str(key): _plain(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(part) for part in value]
    return str(value)


def _point(place: tuple[float, float, float]) -> tuple[float, float, float]:
    return float(place[0]), float(place[1]), float(place[2])


def _program_version() -> str:
    import lossfill

    return str(getattr(lossfill, "__version__", "of unknown version"))
