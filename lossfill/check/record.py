"""The record of a check for other programs, `check_1.json`: its models are its documentation.

It holds no time and no path, so the same scan and settings give the same bytes.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

import lossfill
from lossfill.check.checked import SIDE_WORDS, Checked, GoesIn, Place
from lossfill.mesh import FloatArray
from lossfill.pack.folder import CHECK_FORMAT, added_to_folder, listed_files
from lossfill.pack.record import Measure, RecordPart

Point = Annotated[
    tuple[Measure, Measure, Measure], Field(description="x, y, z in vessel coordinates, mm")
]
Row = tuple[Measure, Measure, Measure, Measure]
Matrix = tuple[Row, Row, Row, Row]


class PlacePart(RecordPart):
    """One place of too much or too little."""

    side: str = Field(description="outer skin, inner skin or seat")
    depth_mm: Measure = Field(description="how far off it is at most; positive is too much")
    area_mm2: Measure
    volume_mm3: Measure
    at: Point
    where: str = Field(description="in words")


class SidePart(RecordPart):
    """How far one side stands off the design; positive is too much."""

    side: str
    area_mm2: Measure
    p05_mm: Measure
    p50_mm: Measure
    p95_mm: Measure
    too_much_mm2: Measure
    too_little_mm2: Measure


class GoesInPart(RecordPart):
    """Whether it slides home."""

    verdict: Literal["goes in", "may rub", "file first", "not known"]
    why: str
    shared_mm3: Measure = Field(description="volume shared with the body when home")
    relief_mm3: Measure = Field(description="volume to be filed off")
    file_mm: Measure = Field(description="how deep to file at the deepest")
    places: tuple[PlacePart, ...]
    moved_mm: Measure = Field(description="how far it is set off its best fit to clear the body")
    proved_after_filing: bool | None = Field(description="null where it is not known")


class GapPart(RecordPart):
    """The gap that remains for the adhesive."""

    p05_mm: Measure
    p50_mm: Measure
    p95_mm: Measure
    mean_mm: Measure
    touching: Measure = Field(description="share of the break, 0 to 1")
    wide: Measure = Field(description="share of the break, 0 to 1")
    break_mm2: Measure
    adhesive_ml: Measure


class CheckRecord(RecordPart):
    """All that was found of one made piece."""

    format: Literal["lossfill check"] = Field(description="marks the file as written by lossfill")
    version: Literal[1] = Field(description="of this format")
    program: str = Field(description="program and version that wrote it")
    files: tuple[str, ...] = Field(description="the files of this check, this one included")
    file: str = Field(description="name of the piece's scan, without its folder")
    sha256: str
    unit: str
    piece: str
    loss: int
    rms_mm: Measure = Field(description="trimmed RMS of scan on design")
    covered: Measure = Field(description="share of the design that the scan shows, 0 to 1")
    larger_percent: Measure
    larger_error_percent: Measure = Field(description="standard error")
    scaled_rms_mm: Measure = Field(description="trimmed RMS at the size that fits best")
    vessel_from_piece_scan: Matrix = Field(description="rigid, best fit")
    home_from_piece_scan: Matrix = Field(description="rigid, to vessel coordinates, as it seats")
    sides: tuple[SidePart, ...]
    places: tuple[PlacePart, ...]
    goes_in: GoesInPart
    gap: GapPart
    step_mm: Measure | None
    warnings: tuple[str, ...]


def check_files(checked: Checked) -> tuple[str, ...]:
    """Names of the files of a check: its record, and its picture where one was drawn."""
    stem = f"check_{checked.piece.name}"
    return (f"{stem}.json", *([f"{stem}.png"] if checked.picture else []))


def record_of(checked: Checked) -> CheckRecord:
    """Put a check into its record."""
    lie, gap = checked.lie, checked.gap
    return CheckRecord(
        format=CHECK_FORMAT,
        version=1,
        program=f"lossfill {lossfill.__version__}",
        files=check_files(checked),
        file=checked.scan.path.name,
        sha256=checked.scan.sha256,
        unit=checked.scan.unit.name.lower(),
        piece=checked.piece.name,
        loss=checked.brief.number,
        rms_mm=lie.rms_mm,
        covered=lie.covered,
        larger_percent=lie.larger_percent,
        larger_error_percent=lie.larger_error_percent,
        scaled_rms_mm=lie.scaled_rms_mm,
        vessel_from_piece_scan=_matrix(checked.vessel_from_piece_scan),
        home_from_piece_scan=_matrix(checked.home_from_piece_scan),
        sides=tuple(
            SidePart(
                side=SIDE_WORDS[one.side],
                area_mm2=one.area_mm2,
                p05_mm=one.p05_mm,
                p50_mm=one.p50_mm,
                p95_mm=one.p95_mm,
                too_much_mm2=one.too_much_mm2,
                too_little_mm2=one.too_little_mm2,
            )
            for one in checked.sides
        ),
        places=tuple(_place(one) for one in checked.places),
        goes_in=_goes_in(checked.goes_in),
        gap=GapPart(**{name: getattr(gap, name) for name in GapPart.model_fields}),
        step_mm=checked.step_mm,
        warnings=checked.warnings,
    )


def record_bytes(checked: Checked) -> bytes:
    """The record as a JSON file."""
    return (record_of(checked).model_dump_json(indent=1) + "\n").encode()


def _goes_in(goes: GoesIn) -> GoesInPart:
    return GoesInPart(
        verdict=goes.verdict,
        why=goes.why,
        shared_mm3=goes.shared_mm3,
        relief_mm3=goes.relief_mm3,
        file_mm=goes.file_mm,
        places=tuple(_place(one) for one in goes.places),
        moved_mm=goes.moved_mm,
        proved_after_filing=None if goes.proof is None else goes.proof.passed,
    )


def _place(place: Place) -> PlacePart:
    return PlacePart(
        side=SIDE_WORDS[place.side],
        depth_mm=place.depth_mm,
        area_mm2=place.area_mm2,
        volume_mm3=place.volume_mm3,
        at=(float(place.at[0]), float(place.at[1]), float(place.at[2])),
        where=place.where,
    )


def _matrix(matrix: FloatArray) -> Matrix:
    a, b, c, d = ((float(r[0]), float(r[1]), float(r[2]), float(r[3])) for r in matrix)
    return a, b, c, d


def write_check(checked: Checked, folder: Path) -> tuple[str, ...]:
    """Add the record and the picture of a check to a design's folder, at once or not at all.

    Those of an earlier check of the same piece go.

    Returns
    -------
    Names of the files.

    Raises
    ------
    ExportError
        Where the folder cannot be written, or holds a file of someone else under such a name.
    """
    stem = f"check_{checked.piece.name}"
    earlier = listed_files(folder / f"{stem}.json", CHECK_FORMAT) or set()
    with added_to_folder(folder, frozenset(earlier)) as fresh:
        names = check_files(checked)
        (fresh / names[0]).write_bytes(record_bytes(checked))
        if checked.picture:
            (fresh / names[1]).write_bytes(checked.picture)
    return names
