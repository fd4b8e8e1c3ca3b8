"""Small results with plain numbers, to test what the command line says about them.

They hold no solids: one held by a module would outlive the modeller when the tests end.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import MISSING, dataclass, field, fields, replace
from pathlib import Path
from typing import Any

import numpy as np

from lossfill.body.body import Body, Repair
from lossfill.fill.fill import Check, Fill
from lossfill.fit.fitted import Entry, Fitted, FittedPiece, SweepProof
from lossfill.fit.order import Order
from lossfill.frame.frame import Frame, Roundness
from lossfill.loss.loss import Loss, LossKind
from lossfill.mesh import Mesh
from lossfill.pack.entries import Written, make_record
from lossfill.pack.folder import RECORD_NAME
from lossfill.pack.record import FillRecord, record_bytes
from lossfill.road import Design, Settings
from lossfill.scan.scan import Scan, Unit

MESH = Mesh(np.eye(4, 3), np.array([[0, 1, 2], [0, 3, 1], [1, 3, 2], [2, 3, 0]]))


def stand_in(result: Callable[..., Any], /, **known: object) -> Any:
    """Make a result from the fields that the command line looks at; the others are None."""
    parts = fields(result)  # type: ignore[arg-type]
    names = [part.name for part in parts if part.default is part.default_factory is MISSING]
    return result(**(dict.fromkeys(names) | known))


SCAN: Scan = stand_in(
    Scan,
    mesh=MESH,
    path=Path("tea_bowl_scan.ply"),
    format="PLY (binary)",
    unit=Unit.MILLIMETRE,
    unit_source="inferred",
    sha256="0" * 64,
    warnings=("the file states no unit: read as millimetres",),
)

BODY: Body = stand_in(
    Body,
    mesh=MESH,
    patched=np.zeros(len(MESH.faces), dtype=bool),
    repairs=(
        Repair("closed a scan hole", 1, (12.0, -3.14, 40.0), 13.8),
        Repair("merged points of split seams", 3012, None, 0.0),
    ),
)

FRAME: Frame = stand_in(
    Frame,
    vessel_from_scan=np.diag([1.0, -1.0, -1.0, 1.0]),
    residual_mm=0.31,
    noise_mm=0.05,
    coverage=0.93,
    height_mm=74.2,
    rim_diameter_mm=121.4,
    foot_diameter_mm=52.3,
    wall_mm=5.17,
    capacity_ml=412.0,
    roundness=(Roundness(20.0, 40.0, (0.1, 0.02, 0.01)), Roundness(70.0, 60.0, (0.4, 0.1, 0.05))),
)

LOSS: Loss = stand_in(
    Loss,
    number=1,
    kind=LossKind.RIM,
    volume_ml=9.428,
    outer_area_mm2=1500.0,
    inner_area_mm2=1400.0,
    break_area_mm2=420.0,
    join_length_mm=140.0,
    thickness_mm=(4.12, 5.58),
    depth_mm=31.0,
    extent_along_mm=31.2,
    extent_around_mm=62.4,
    angle_deg=285.0,
    clock="2:30",
    height_mm=54.3,
    centre_mm=(1.0, 2.0, 3.0),
    expected_error_mm=0.118,
    bound_mm=0.236,
    source="revolve",
    trials=(),
)

CHIP = replace(LOSS, number=2, kind=LossKind.CHIP, volume_ml=0.0412, depth_mm=1.94, clock="9:00")

CHECK = Check(
    watertight=True,
    outward=True,
    one_part=True,
    clash_mm3=0.0,
    clash_limit_mm3=0.01,
    volume_mm3=9213.0,
)

CHECKS = {1: CHECK, 2: replace(CHECK, volume_mm3=38.8)}

FILLS: tuple[Fill, ...] = (
    stand_in(
        Fill,
        loss=LOSS,
        clearance_mm=0.15,
        volume_ml=9.213,
        warnings=("the break is worn near the lip",),
    ),
    stand_in(
        Fill,
        loss=CHIP,
        clearance_mm=0.15,
        volume_ml=0.0388,
    ),
)

# The frame stands the scan on its head: home along the scan's +z is down in the vessel.
ENTRY = Entry(
    direction=np.array([0.0, 0.0, 1.0]),
    free_deg=12.4,
    free_share=0.031,
    bound_share=0.0,
    travel_mm=40.0,
    from_outside=True,
)

PROOF = SweepProof(
    stations=32,
    shared_mm3=0.0,
    shared_limit_mm3=0.01,
    doubtful_mm2=0.0,
    cell_mm=0.05,
    rub_mm=0.0,
)

PIECE: FittedPiece = stand_in(
    FittedPiece,
    name="1",
    mesh=MESH,
    entry=ENTRY,
    proof=PROOF,
    relieved_mm3=12.3,
    seat_mm2=420.0,
    seat_lost_mm2=42.0,
)

FITTED = (
    Fitted(FILLS[0], (PIECE,), 0.1, ("piece 1 is hard to hold",)),
    Fitted(FILLS[1], (replace(PIECE, name="2", relieved_mm3=0.0, seat_lost_mm2=0.0),), 0.0),
)

MADE: Design = stand_in(
    Design,
    settings=Settings(),
    scan=SCAN,
    body=BODY,
    frame=FRAME,
    losses=(LOSS, CHIP),
    fills=FILLS,
    cracks=(),
    fitted=FITTED,
    order=Order(("1", "2"), ()),
)

WARNINGS = (*SCAN.warnings, *FILLS[0].warnings, *FITTED[0].warnings)


@dataclass
class Road:
    """Stands in for the road: gives a fixed result, or raises, and keeps what it was asked."""

    made: Design = MADE
    warnings: tuple[str, ...] = WARNINGS
    error: BaseException | None = None
    calls: list[tuple[str, object, object, object]] = field(default_factory=list)

    def walk(self, name: str, path: object, settings: object, progress: object) -> Result:
        self.calls.append((name, path, settings, progress))
        if self.error is not None:
            raise self.error
        return Result(self.made, self.warnings)

    def function(self, name: str) -> Callable[..., Result]:
        return lambda path, settings, *, progress=None: self.walk(name, path, settings, progress)


class Result:
    """A result's fields, with warnings that need no form."""

    def __init__(self, made: Design, warnings: tuple[str, ...]) -> None:
        self.settings, self.scan, self.body = made.settings, made.scan, made.body
        self.frame, self.form, self.cracks = made.frame, made.form, made.cracks
        self.losses, self.fills, self.warnings = made.losses, made.fills, warnings
        self.fitted, self.order = made.fitted, made.order


def record_of(made: Design, *, pictures: bool = False) -> FillRecord:
    """The record as the packing stage writes it, of pieces whose files are empty."""
    pieces = {fill.loss.number: written_of(made, fill.loss.number) for fill in made.fills}
    names = [name for ones in pieces.values() for one in ones for name in (one.stl, one.threemf)]
    files = sorted({RECORD_NAME, *names})
    files += ["after.png"] if pictures else []
    shown: Any = Result(made, WARNINGS)
    return make_record(shown, pieces=pieces, files=files)


def written_of(made: Design, number: int) -> list[Written]:
    """What was written of one loss: each of its pieces, or the fill where none was fitted."""
    check = CHECKS[number]
    fitted = {one.fill.loss.number: one.pieces for one in made.fitted}
    if number not in fitted:
        return [Written(f"piece_{number}.stl", f"piece_{number}.3mf", check, check)]
    return [
        Written(f"piece_{piece.name}.stl", f"piece_{piece.name}.3mf", check, check, piece)
        for piece in fitted[number]
    ]


def write_stand_in(
    made: Design,
    out: Path,
    *,
    pictures: bool = True,
    order: object = None,
    treatment: object = None,
) -> None:
    """Write a folder with a true record and empty pieces."""
    out.mkdir(parents=True, exist_ok=True)
    record = record_of(made, pictures=pictures)
    for name in record.files:
        (out / name).write_bytes(b"")
    (out / RECORD_NAME).write_bytes(record_bytes(record))
