"""The record `fill.json`: what was read, what was found, what was made and how it was checked.

The models below are its documentation: `schema` gives them as a JSON Schema. It holds no time and
no path outside its own folder, so the same scan and settings give the same bytes.
"""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal, Self

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    ValidationError,
    model_validator,
)

from lossfill.errors import ExportError

FORMAT_VERSION: Final = 1
"""Raised when a field changes its meaning or goes; new fields alone do not raise it."""

SIGNIFICANT_DIGITS = 6
"""Of every measure: 0.1 µm on a 100 mm vessel, finer than any scan."""


def rounded(value: float) -> float:
    """Round a measure to what the record keeps of it."""
    return float(f"{value:.{SIGNIFICANT_DIGITS}g}")


Measure = Annotated[float, AfterValidator(rounded)]
Point = Annotated[
    tuple[Measure, Measure, Measure], Field(description="x, y, z in scan coordinates, mm")
]
Row = tuple[float, float, float, float]


class RecordPart(BaseModel):
    """Part of a record: nothing that is not described, and no number that is none."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class InputPart(RecordPart):
    """The scan file as read; it was not changed."""

    file: str = Field(description="name of the file, without its folder")
    sha256: str = Field(description="hash of the file's bytes, hexadecimal")
    format: str = Field(description='format in words, such as "PLY (binary)"')
    unit: str = Field(description="unit that the file's numbers were taken to be in, lower case")
    unit_mm: Measure = Field(description="size of that unit, mm")
    unit_source: Literal["file", "asked", "inferred"] = Field(
        description="file: the format states it; asked: the caller said so; inferred: from the size"
    )
    triangles: int = Field(
        ge=1, description="number of triangles in the file, or made from its points"
    )
    scale: float = Field(
        default=1.0,
        gt=0,
        description="what the file's lengths were multiplied by, besides the unit, to meet the rim "
        "diameter that was given, not rounded; all coordinates are those of the scan so scaled",
    )


class WayRulePart(RecordPart):
    """The rule by which a way to fill each loss was recommended."""

    paste_depth_mm: Measure = Field(description="deepest loss on one side for paste, mm")
    paste_volume_ml: Measure = Field(description="largest loss on one side for paste, ml")
    putty_span_mm: Measure = Field(description="widest loss through the wall for putty, mm")
    putty_volume_ml: Measure = Field(description="largest loss through the wall for putty, ml")


class SettingsPart(RecordPart):
    """What the repairer chose."""

    clearance_mm: Measure = Field(ge=0, description="gap left along the break for adhesive, mm")
    units: str | None = Field(description="unit asked for, or null where the file decided")
    seed: int = Field(description="seed of every random choice")
    form: str | None = Field(description="how the form was to be found, or null: by what fits best")
    repeats: int | None = Field(description="repeats around the turn asked for, or null")
    twin: str | None = Field(description="file name of the twin's scan, or null")
    wall_mm: Measure | None = Field(
        default=None, description="wall thickness given for a scan of one skin, or null"
    )
    rim_diameter_mm: Measure | None = Field(
        default=None, description="rim diameter given to scale the scan by, or null"
    )
    twin_scaled: bool = Field(
        default=False, description="whether the twin was brought to this vessel's size"
    )
    setback_outside_mm: Measure = Field(
        default=0.0, description="how far the outer skin was set back for coats, mm"
    )
    setback_inside_mm: Measure = Field(default=0.0, description="the same for the inner skin")
    setback_edge: Literal["fade", "step"] = Field(
        default="fade", description="whether a setback fades to flush at the join or steps"
    )
    process: Literal["nozzle", "resin", "wood", "clay"] | None = Field(
        default=None, description="what the piece is made by, or null where nothing was trimmed"
    )
    fillet_mm: Measure = Field(default=0.0, description="radius of the seat's ridges, mm")
    split: bool = Field(
        default=False, description="whether pieces that lose much of their seat were to be split"
    )
    pointed_mm: tuple[tuple[Measure, Measure, Measure], ...] = Field(
        default=(), description="places where a loss was pointed at, vessel coordinates, mm"
    )
    pointed_at: tuple[tuple[Measure, Measure], ...] = Field(
        default=(), description="the same by angle, degrees, and height above the foot, mm"
    )
    way_rule: WayRulePart | None = Field(
        default=None, description="rule of the ways recommended; null in records that kept none"
    )


class RepairPart(RecordPart):
    """One kind of mending done to a copy of the scan."""

    what: str = Field(description="what was done, in words")
    count: int = Field(description="how many places or elements it touched")
    place_mm: Point | None = Field(description="where, or null where it is everywhere")
    size_mm: Measure = Field(description="largest extent of one place, mm")


class RoundnessPart(RecordPart):
    """How far the outer wall is from round at one height."""

    height_mm: Measure = Field(description="above the foot")
    radius_mm: Measure = Field(description="mean radius there")
    amplitudes_mm: tuple[Measure, Measure, Measure] = Field(
        description="amplitude of the 2nd, 3rd and 4th angular harmonic of the radius, mm"
    )


class FramePart(RecordPart):
    """The vessel's own coordinates (axis +z, foot on z = 0) and its plain dimensions."""

    vessel_from_scan: tuple[Row, Row, Row, Row] = Field(
        description="rows of the rigid 4 × 4 transform from scan mm to vessel mm, not rounded"
    )
    height_mm: Measure = Field(description="height of the whole vessel")
    length_mm: Measure | None = Field(
        default=None, description="of a thing without an axis: its longest level side"
    )
    width_mm: Measure | None = Field(
        default=None, description="of a thing without an axis: its other level side"
    )
    rim_diameter_mm: Measure | None = Field(
        description="over the outside of the lip at its widest; this and the rest but the wall "
        "are null for a thing without an axis"
    )
    foot_diameter_mm: Measure | None = Field(description="diameter of the foot")
    wall_mm: Measure = Field(description="median thickness of the wall")
    capacity_ml: Measure | None = Field(
        description="what the whole vessel held, filled to the brim"
    )
    residual_mm: Measure | None = Field(description="spread of the skin about the revolved profile")
    noise_mm: Measure | None = Field(
        description="the same with low out-of-round harmonics allowed for"
    )
    coverage: Measure | None = Field(
        description="fraction of the skin that the revolved profile explains"
    )
    roundness: tuple[RoundnessPart, ...] = Field(description="from foot to rim")


class CheckPart(RecordPart):
    """Findings on one file as written and read back."""

    watertight: bool = Field(description="every edge is shared by exactly two triangles")
    outward: bool = Field(description="triangles face out of the material")
    one_part: bool = Field(description="the piece is one connected solid")
    clash_mm3: Measure = Field(description="volume shared with the body, mm³")
    clash_limit_mm3: Measure = Field(description="clash that rounding in the file can cause, mm³")
    passed: bool = Field(description="true where all of the above is as it should be")


class TrialPart(RecordPart):
    """What came of one way to find the form of one loss."""

    source: str = Field(description="revolve, mirror, turn, twin or bridge")
    expected_error_mm: Measure | None = Field(
        description="RMS error of the skin to expect of it; null where it does not apply"
    )
    bound_mm: Measure | None = Field(description="that error stays below this in 9 of 10 cases")
    says: str = Field(description="how the source was found, or why it does not apply")


class EntryPart(RecordPart):
    """The way in which a piece slides home."""

    direction: Point = Field(description="unit vector along which it moves home, scan coordinates")
    words: str = Field(description='the same in words, such as "from above and outside"')
    lean_deg: Measure = Field(description="how far it may be leaned, any way, before it binds more")
    free_share: Measure = Field(description="share of all directions that are as free, 0 to 1")
    travel_mm: Measure = Field(description="the straight way from where it is free to home")
    from_outside: bool = Field(
        description="whether that way begins outside the vessel; else it begins in its hollow"
    )


class ProofPart(RecordPart):
    """What was found when the piece was moved home by computer."""

    stations: int = Field(description="places on the way at which it was cut with the body")
    shared_mm3: Measure = Field(description="the most that they shared at one of them, mm³")
    shared_limit_mm3: Measure = Field(description="what rounding alone can make them share, mm³")
    doubtful_mm2: Measure = Field(
        description="area, seen along the way, over which it was not proved between the stations"
    )
    cell_mm: Measure = Field(description="finest cells in which that was looked at")
    rub_mm: Measure = Field(
        description="skin along the seat that the proof leaves aside; nought but for clearances "
        "too small to tell from touching"
    )
    passed: bool = Field(description="true where it is proved for the whole way")


class PiecePart(RecordPart):
    """One piece: the only one of its loss, or one of two."""

    name: str = Field(description='"1" for the piece of loss 1; "1a", "1b" in the order they go in')
    stl: str = Field(description="binary STL, scan coordinates, mm")
    threemf: str = Field(description="the same piece as 3MF")
    volume_ml: Measure = Field(description="volume of the piece")
    check: CheckPart = Field(description="the gate's findings on `stl`")
    check_3mf: CheckPart = Field(description="the gate's findings on `threemf`")
    entry: EntryPart
    proof: ProofPart
    relieved_mm3: Measure = Field(description="taken away so that it slides in, mm³")
    seat_mm2: Measure = Field(description="area of its seat before that")
    seat_lost_mm2: Measure = Field(description="how much of that seat is gone")


class TrimmedPart(RecordPart):
    """An edge that was too thin for the process, and was trimmed."""

    place_mm: Point = Field(description="its middle, scan coordinates")
    length_mm: Measure = Field(description="along the edge")
    volume_mm3: Measure = Field(description="how much was taken off, mm³")


class LossPart(RecordPart):
    """One loss, its measures, and the piece that fills it.

    All fields about the piece, from `piece` on, are null where no sound piece could be made; the
    record's warnings then say why.
    """

    number: int = Field(ge=1, description="1 for the largest by volume")
    kind: Literal["through", "rim", "foot", "chip", "spall", "handle"] = Field(
        description="what sort of loss"
    )
    clock: str = Field(description="place on a clock seen from above, 12 at angle 0")
    angle_deg: Measure = Field(description="place around the axis, counter-clockwise from above")
    height_mm: Measure = Field(description="height of its middle above the foot")
    centre_mm: Point = Field(description="its centroid")
    volume_ml: Measure = Field(description="volume of the missing material, without clearance")
    outer_area_mm2: Measure = Field(description="area of new skin outside")
    inner_area_mm2: Measure = Field(description="area of new skin inside")
    break_area_mm2: Measure = Field(description="area of the break")
    join_length_mm: Measure = Field(description="length of the line where fill and body skins meet")
    thickness_mm: tuple[Measure, Measure] = Field(
        description="smallest and largest thickness (2nd and 98th percentile)"
    )
    depth_mm: Measure = Field(description="deepest point below the intact skin")
    extent_along_mm: Measure = Field(description="extent along the wall, from foot towards rim")
    extent_around_mm: Measure = Field(description="extent around the wall, on the outside")
    on_wall: bool = Field(
        default=True,
        description="in a turned wall; else, as in a handle or a box, the extents are the longest "
        "(around) and the next (along)",
    )
    way: str = Field(description="recommended way to fill it (common practice)")
    way_reason: str = Field(description="the part of the rule that led to it")
    source: str = Field(description="how its form was found: one of those in `trials`")
    expected_error_mm: Measure = Field(description="expected RMS error of the fill's skin")
    bound_mm: Measure = Field(description="that error stays below this in 9 of 10 cases")
    trials: tuple[TrialPart, ...] = Field(description="every way that was tried on hidden patches")
    piece: str | None = Field(
        description="binary STL of the piece, path relative to this file's folder, in scan "
        "coordinates, mm; null where none was made"
    )
    piece_3mf: str | None = Field(description="the same piece as 3MF, in the same coordinates")
    piece_volume_ml: Measure | None = Field(description="volume of the piece, after the clearance")
    clearance_mm: Measure | None = Field(description="gap left along the break, mm")
    check: CheckPart | None = Field(description="the gate's findings on `piece`")
    check_3mf: CheckPart | None = Field(description="the gate's findings on `piece_3mf`")
    trimmed: tuple[TrimmedPart, ...] = Field(
        default=(), description="edges too thin for the process, which were trimmed"
    )
    pieces: tuple[PiecePart, ...] = Field(
        default=(),
        description="each piece with its way in; `piece` and what is said of it is the first, but "
        "`piece_volume_ml` that of all; none in records that kept no way in",
    )

    @property
    def noun(self) -> str:
        """Its kind as a person names it."""
        return self.kind if self.kind in ("chip", "spall") else f"{self.kind} loss"

    @model_validator(mode="after")
    def _whole_piece_or_none(self) -> Self:
        about_piece = (
            self.piece,
            self.piece_3mf,
            self.piece_volume_ml,
            self.clearance_mm,
            self.check,
            self.check_3mf,
        )
        if len({value is None for value in about_piece}) > 1:
            raise ValueError("a loss has all that is said of a piece, or nothing of it")
        return self


class CrackPart(RecordPart):
    """A hairline crack or an open seam; it gets no piece."""

    length_mm: Measure = Field(description="length along its mouth")
    width_mm: Measure = Field(description="width of its mouth, the median along it")
    inside: bool = Field(
        description="true where its mouth is in the inner skin alone, false outside and for both"
    )
    clock: str = Field(description="place of its middle on a clock seen from above, 12 at angle 0")
    angle_deg: Measure = Field(description="the same around the axis, counter-clockwise from above")
    height_mm: Measure = Field(description="height of its middle above the foot")
    path_mm: tuple[Point, ...] = Field(description="points along its mouth, from end to end")


class FillRecord(RecordPart):
    """The whole record; lengths are mm, volumes ml unless a name says otherwise."""

    format: Literal["lossfill fill"] = Field(description="marks the folder as written by lossfill")
    version: Literal[1] = Field(description="of this format")
    program: str = Field(description="program and version that wrote it")
    input: InputPart
    settings: SettingsPart
    repairs: tuple[RepairPart, ...] = Field(description="in the order in which they were done")
    frame: FramePart
    form: dict[str, Any] | None = Field(
        description="figures of the intact form: numbers and words, or null where it gives none"
    )
    losses: tuple[LossPart, ...] = Field(
        description="all that were found, from the largest, those that had to be pointed at last, "
        "with a piece or without"
    )
    cracks: tuple[CrackPart, ...] = Field(
        default=(), description="hairline cracks and open seams, the longest first"
    )
    order: tuple[str, ...] = Field(
        default=(), description="names of the pieces in the order in which they go in"
    )
    files: tuple[str, ...] = Field(
        description="all files of this run, this one included: a later run may replace them"
    )
    warnings: tuple[str, ...] = Field(description="what a person must know of this result")
    cautions: tuple[str, ...] = Field(description="reminders for the work that follows")


def record_bytes(record: FillRecord) -> bytes:
    """Write the record as UTF-8 JSON, keys in the order in which a person reads them."""
    return (record.model_dump_json(indent=2) + "\n").encode()


def read_record(content: bytes) -> FillRecord:
    """Read a record back, strictly.

    Raises
    ------
    ExportError
        Where it is not a record of this format and version.
    """
    try:
        return FillRecord.model_validate_json(content)
    except ValidationError as error:
        first = error.errors()[0]
        place = " → ".join(str(step) for step in first["loc"]) or "the file"
        raise ExportError(
            f"this is not a lossfill record of version {FORMAT_VERSION}: {place}: {first['msg']}; "
            "make it again from the scan"
        ) from error


def schema() -> dict[str, Any]:
    """JSON Schema of the record, with a description of every field."""
    return FillRecord.model_json_schema()
