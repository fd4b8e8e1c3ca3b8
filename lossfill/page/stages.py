"""What the worker does at each stage: call the road, keep its result, leave what is shown.

Results that later stages build on are kept in the worker's memory, so that a change of the
clearance does not read the scan again. After a restart they are made again from the scan as needed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from lossfill.page.choices import Choices, Stage
from lossfill.page.jobs import Job
from lossfill.page.leaving import Tell, bring_back_pack, fresh_pack, leave, remove_pack

if TYPE_CHECKING:
    from lossfill.mesh import FloatArray, Mesh
    from lossfill.road import Design, Inspection, Measurement, Settings


@dataclass(slots=True)
class Memory:
    """What the worker still knows of a job, with the choices that each was made with."""

    seen: tuple[str, Inspection] | None = None
    found: tuple[str, Measurement] | None = None
    made: tuple[str, Design] | None = None


def run_stage(job: Job, stage: Stage, choices: Choices, memory: Memory, tell: Tell) -> None:
    """Do one stage, and those before it whose results are not at hand, and leave its files.

    Raises
    ------
    LossfillError
        With one line that says what is wrong and what to do.
    """
    bring_back_pack(job)
    if stage is Stage.VESSEL:
        _leave_vessel(job, _inspected(job, choices, memory, tell))
    elif stage is Stage.LOSSES:
        _leave_losses(job, _measured(job, choices, memory, tell))
    elif stage is Stage.PIECES:
        _leave_pieces(job, _designed(job, choices, memory, tell), tell)
    elif stage is Stage.THINGS:
        from lossfill.page.making import leave_things

        leave_things(job, choices, tell)
    elif stage is Stage.MIX:
        from lossfill.page.mixing import leave_mix

        leave_mix(job, choices)
    else:
        from lossfill.page.recording import leave_record

        leave_record(job, choices, tell)
    tell("done", 1.0)


def settings_of(job: Job, choices: Choices) -> Settings:
    """The choices as the road takes them."""
    from lossfill.road import Settings
    from lossfill.scan.scan import Unit

    vessel, losses, pieces = choices.vessel, choices.losses, choices.pieces
    return Settings(
        units=None if vessel.units is None else Unit[vessel.units.upper()],
        wall_mm=vessel.wall_mm,
        rim_diameter_mm=vessel.rim_diameter_mm,
        form=losses.form,
        repeats=losses.repeats,
        twin=None if losses.twin_file is None else job.folder / losses.twin_file,
        twin_scaled=losses.twin_scaled,
        pointed_mm=losses.pointed_mm,
        pointed_at=losses.pointed_at,
        clearance_mm=pieces.clearance_mm,
        setback_outside_mm=pieces.setback_outside_mm,
        setback_inside_mm=pieces.setback_inside_mm,
        setback_edge=pieces.setback_edge,
        process=pieces.process,
        fillet_mm=pieces.fillet_mm,
        split=pieces.split,
    )


def _inspected(job: Job, choices: Choices, memory: Memory, tell: Tell) -> Inspection:
    from lossfill.road import inspect

    key = choices.fingerprint(Stage.VESSEL)
    if memory.seen is None or memory.seen[0] != key:
        scan = job.folder / job.read().scan
        memory.seen = (key, inspect(scan, settings_of(job, choices), progress=tell))
    return memory.seen[1]


def _measured(job: Job, choices: Choices, memory: Memory, tell: Tell) -> Measurement:
    from lossfill.road import measure_inspected

    key = choices.fingerprint(Stage.LOSSES)
    if memory.found is None or memory.found[0] != key:
        seen = _inspected(job, choices, memory, tell)
        seen = replace(seen, settings=settings_of(job, choices))
        memory.found = (key, measure_inspected(seen, progress=tell))
    return memory.found[1]


def _designed(job: Job, choices: Choices, memory: Memory, tell: Tell) -> Design:
    from lossfill.road import design_measured

    key = choices.fingerprint(Stage.PIECES)
    if memory.made is None or memory.made[0] != key:
        found = _measured(job, choices, memory, tell)
        gone = frozenset(choices.pieces.dismissed)
        found = replace(
            found,
            settings=settings_of(job, choices),
            losses=tuple(loss for loss in found.losses if loss.number not in gone),
        )
        memory.made = (key, design_measured(found, progress=tell))
    return memory.made[1]


def _leave_vessel(job: Job, seen: Inspection) -> None:
    from lossfill.cli.document import vessel_document
    from lossfill.mesh import transformed
    from lossfill.page.shown import thinned, view_bytes

    content = vessel_document(seen.scan, seen.body, seen.frame, seen.warnings)
    matrix = seen.frame.vessel_from_scan
    for repair in content["repairs"]:
        if repair["place_mm"] is not None:
            repair["place_mm"] = _upright(repair["place_mm"], matrix)
    mesh = transformed(thinned(seen.body.mesh), matrix)
    content["box_mm"] = mesh.bounds.tolist()
    content["reading"] = list(seen.scan.warnings)
    leave(job, Stage.VESSEL, content, {"vessel.mesh": view_bytes(mesh)})


def _leave_losses(job: Job, found: Measurement) -> None:
    from lossfill.cli.document import crack_document, loss_document
    from lossfill.loss.way import way_to_fill
    from lossfill.mesh import transformed
    from lossfill.page.shown import thinned, view_bytes
    from lossfill.solids import mesh_from_solid

    matrix = found.frame.vessel_from_scan
    losses, meshes = [], {}
    for loss in found.losses:
        advice = way_to_fill(loss, found.settings.way_rule)
        document = loss_document(loss) | {"way": advice.way.value, "way_reason": advice.reason}
        document["centre_mm"] = _upright(loss.centre_mm, matrix)
        losses.append(document)
        meshes[f"loss_{loss.number}.mesh"] = view_bytes(
            transformed(mesh_from_solid(loss.solid), matrix)
        )
    cracks = [crack_document(crack) for crack in found.cracks]
    for crack in cracks:
        crack["path_mm"] = [_upright(point, matrix) for point in crack["path_mm"]]
    mesh = thinned(found.body.mesh)
    meshes["misfit.mesh"] = view_bytes(transformed(mesh, matrix), _misfit(found, mesh))
    content = {
        "losses": losses,
        "cracks": cracks,
        "warnings": list(dict.fromkeys(found.warnings)),
    }
    leave(job, Stage.LOSSES, content, meshes)


def _misfit(found: Measurement, mesh: Mesh) -> FloatArray:
    """How far the skin stands off the intact form, (V,) mm; NaN where it is no skin."""
    from lossfill.mesh import vertex_normals

    return found.form.misfit(mesh.vertices, vertex_normals(mesh))


def _leave_pieces(job: Job, made: Design, tell: Tell) -> None:
    from lossfill.mesh import transformed
    from lossfill.pack import write_pack
    from lossfill.pack.record import read_record
    from lossfill.page.shown import view_bytes

    tell("writing the files", 0.97)
    matrix = made.frame.vessel_from_scan
    meshes = {
        f"piece_{piece.name}.mesh": view_bytes(transformed(piece.mesh, matrix))
        for one in made.fitted
        for piece in one.pieces
    }
    content: dict[str, Any] = {"pieces": [], "order": [], "warnings": list(made.warnings)}
    if made.losses:
        with fresh_pack(job) as fresh:
            pack = write_pack(made, fresh)
            record = read_record(pack.record.read_bytes())
        joins = _joins(made)
        content["order"] = list(record.order)
        for loss in record.losses:
            for piece in loss.pieces:
                # Beside the record's own, in scan coordinates, the way home as the view has it.
                entry = matrix[:3, :3] @ piece.entry.direction
                content["pieces"].append(
                    piece.model_dump(mode="json")
                    | {
                        "loss": loss.number,
                        "entry_vessel": entry.tolist(),
                        "trimmed": len(loss.trimmed),
                        "join": joins[piece.name],
                    }
                )
    else:
        # What was made for losses that are left alone now is not to be taken away.
        remove_pack(job)
    leave(job, Stage.PIECES, content, meshes)


def _joins(made: Design) -> dict[str, list[dict[str, Any]]]:
    """The step along the join of each piece, by its name, places in vessel coordinates."""
    import numpy as np

    from lossfill.fill.step import step_along_join
    from lossfill.solids import mesh_from_solid

    matrix = made.frame.vessel_from_scan
    joins: dict[str, list[dict[str, Any]]] = {}
    for one in made.fitted:
        fill = one.fill
        body = mesh_from_solid(fill.body_nearby)
        for piece in one.pieces:
            joins[piece.name] = []
            for run in step_along_join(fill.loss, piece.mesh, body, clearance_mm=fill.clearance_mm):
                places = run.places_mm @ matrix[:3, :3].T + matrix[:3, 3]
                up = run.up @ matrix[:3, :3].T
                outside = (up[:, :2] * places[:, :2]).sum(axis=1) >= 0
                joins[piece.name].append(
                    {
                        "along_mm": run.along_mm.round(2).tolist(),
                        "step_mm": [
                            round(value, 4) if np.isfinite(value) else None
                            for value in run.step_mm.tolist()
                        ],
                        "outside": outside.tolist(),
                        "places_mm": places.round(2).tolist(),
                    }
                )
    return joins


def _upright(place: Any, matrix: FloatArray) -> list[float]:
    """A place in vessel coordinates."""
    x, y, z = place
    return [float(v) for v in matrix[:3, :3] @ (x, y, z) + matrix[:3, 3]]
