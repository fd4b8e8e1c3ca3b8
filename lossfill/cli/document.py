"""The same results for programs: one JSON document on standard output.

Field names and units are those of the record that ``lossfill fill`` writes (see
`lossfill.pack.record`); a command that makes no pieces gives the part of it that it knows.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from lossfill import __version__

if TYPE_CHECKING:
    from lossfill.body.body import Body
    from lossfill.donor.stand import Stand
    from lossfill.frame.frame import Frame
    from lossfill.loss.cracks import Crack
    from lossfill.loss.loss import Loss
    from lossfill.scan.scan import Scan

Document = dict[str, Any]


def to_json(document: Document) -> str:
    """Write a document as plain ASCII; a number that is not finite is an error, not a NaN."""
    return json.dumps(document, indent=2, allow_nan=False)


def vessel_document(
    scan: Scan, body: Body, frame: Frame | Stand, warnings: tuple[str, ...]
) -> Document:
    """What was read, what was mended and what vessel it is."""
    from lossfill.pack.entries import frame_measures

    return {
        "program": f"lossfill {__version__}",
        "input": {
            "file": scan.path.name,
            "sha256": scan.sha256,
            "format": scan.format,
            "unit": scan.unit.name.lower(),
            "unit_mm": scan.unit.mm,
            "unit_source": scan.unit_source,
            "triangles": len(scan.mesh.faces),
            "scale": scan.scale,
        },
        "repairs": [asdict(repair) for repair in body.repairs],
        "frame": frame_measures(frame),
        "warnings": list(dict.fromkeys(warnings)),
    }


def loss_document(loss: Loss) -> Document:
    """Measures of one loss; its solid is left out."""
    return {
        "number": loss.number,
        "kind": loss.kind.value,
        "clock": loss.clock,
        "angle_deg": loss.angle_deg,
        "height_mm": loss.height_mm,
        "centre_mm": list(loss.centre_mm),
        "volume_ml": loss.volume_ml,
        "outer_area_mm2": loss.outer_area_mm2,
        "inner_area_mm2": loss.inner_area_mm2,
        "break_area_mm2": loss.break_area_mm2,
        "join_length_mm": loss.join_length_mm,
        "thickness_mm": list(loss.thickness_mm),
        "depth_mm": loss.depth_mm,
        "extent_along_mm": loss.extent_along_mm,
        "extent_around_mm": loss.extent_around_mm,
        "on_wall": loss.on_wall,
        "source": loss.source,
        "expected_error_mm": loss.expected_error_mm,
        "bound_mm": loss.bound_mm,
        "trials": [asdict(trial) for trial in loss.trials],
    }


def crack_document(crack: Crack) -> Document:
    """Measures of one crack."""
    return {
        "length_mm": crack.length_mm,
        "width_mm": crack.width_mm,
        "inside": crack.inside,
        "clock": crack.clock,
        "angle_deg": crack.angle_deg,
        "height_mm": crack.height_mm,
        "path_mm": crack.path_mm.tolist(),
    }
