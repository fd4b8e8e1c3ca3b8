"""How to read the record, what the object is, and how it was before."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from lossfill.figures import rounded, whole_mm
from lossfill.mesh import FloatArray
from lossfill.pack.record import CrackPart, FillRecord, RepairPart
from lossfill.record.document import (
    Block,
    Column,
    Entries,
    Entry,
    Paragraph,
    Pictures,
    Section,
    Subheading,
    Table,
)
from lossfill.record.fields import ObjectFields
from lossfill.record.pictures import letter_of
from lossfill.record.sources import Sources

TERMS: tuple[tuple[str, str], ...] = (
    ("loss", "a place where material is missing. Losses are numbered from the largest."),
    (
        "place, such as 9:00",
        "seen from above, as on a clock face; 12:00 is the direction in which the scan's x axis "
        "points, or along a thing that has no axis. A height counts from the foot's lowest point.",
    ),
    ("break", "the rough surface that was left where a piece went."),
    ("join", "the line on the skin where a fill and the old surface meet."),
    ("step", "how far one surface stands above or below the other at the join."),
    (
        "expected error",
        "how far the new skin is likely to lie from the lost one, as a root mean square. It is "
        "measured, not assumed: patches of sound wall beside the loss are hidden, formed again in "
        "the same way, and compared.",
    ),
    ("bound", "in nine of ten cases the error is smaller than this."),
    ("clearance", "the gap left all along the break, in which the adhesive lies."),
    (
        "setback",
        "how far the skin of a piece lies below the old surface, so that coats on top of it end "
        "flush.",
    ),
    ("seat", "that side of a piece which lies against the break."),
    (
        "entry",
        "the direction in which a piece is brought home, as seen by someone who stands before the "
        "loss.",
    ),
    (
        "proof",
        "the piece was moved home by computer, in steps, and at each step the space that it shares "
        "with the vessel was measured.",
    ),
    ("true to scale", "lengths on a printed picture are those of the object times its scale, if "
     "the paper is printed at 100 %. Check a scale bar with a ruler before you measure."),
)  # fmt: skip


def how_to_read(_: Sources) -> Section:
    """The terms of the record."""
    return Section(
        "How to read this",
        (
            Paragraph(
                "This record tells how the object was before, what is missing, what was designed "
                "and made to fill it, and of which materials. Lines are left where only a person "
                "can tell; please fill them in by hand. Figures come from a scan, and are as good "
                "as that scan."
            ),
            Entries(tuple(Entry(name, words) for name, words in TERMS)),
        ),
    )


def object_and_people(sources: Sources) -> Section:
    """What it is, whose, and who worked on it and when."""
    fields = sources.fields
    return Section(
        "Object and people",
        (
            Paragraph(
                "Empty lines are for what only a person can tell. Terms are explained under "
                '"How to read this", near the end.',
                "quiet",
            ),
            Subheading("Object"),
            Entries(told_by(fields, "object")),
            Subheading("People: all who took part"),
            Entries(told_by(fields, "people")),
            Subheading("Dates"),
            Entries(told_by(fields, "dates")),
        ),
    )


def told_by(fields: ObjectFields, part: str) -> tuple[Entry, ...]:
    """The fields of one part, as they were filled in."""
    from dataclasses import fields as fields_of

    held = getattr(fields, part)
    return tuple(
        Entry(
            one.metadata["label"],
            "" if getattr(held, one.name) is None else str(getattr(held, one.name)),
            one.metadata["lines"],
        )
        for one in fields_of(held)
    )


def condition_before(sources: Sources) -> Section:
    """How it was, in words, figures and pictures."""
    record = sources.record
    blocks: list[Block] = [
        Entries(told_by(sources.fields, "condition")),
        Subheading("Dimensions, from the scan"),
        Entries(tuple(_dimensions(record))),
        *_roundness(record),
        Subheading("Cracks and open seams"),
        *_cracks(record),
        Subheading("The vessel before treatment"),
        Paragraph(
            "Drawn from the scan, level and without perspective, true to scale. What is missing is "
            "hatched and carries the number of its loss."
            + (" Cracks are thin black lines with letters." if record.cracks else "")
        ),
        Pictures(sources.drawn.whole),
        Subheading("Thickness of the wall"),
        _thickness_words(record),
        Pictures(sources.drawn.thickness),
        Pictures((sources.drawn.key,)),
        Subheading("Misfit from the intact form"),
        *_misfit(sources),
    ]
    return Section("Condition before treatment", tuple(blocks))


def _dimensions(record: FillRecord) -> Iterator[Entry]:
    frame = record.frame
    yield Entry("Height", _tenths(frame.height_mm))
    if frame.length_mm is not None and frame.width_mm is not None:
        yield Entry(
            "Length and width",
            f"{_tenths(frame.length_mm)} × {_tenths(frame.width_mm)}",
        )
    if frame.rim_diameter_mm is not None:
        yield Entry(
            "Diameter of the rim", f"{_tenths(frame.rim_diameter_mm)}, over the lip's outside"
        )
    if frame.foot_diameter_mm is not None:
        yield Entry("Diameter of the foot", _tenths(frame.foot_diameter_mm))
    how = "median" if record.settings.wall_mm is None else "as told; not measured"
    yield Entry("Thickness of the wall", f"{_tenths(frame.wall_mm)} ({how})")
    if frame.capacity_ml is not None:
        yield Entry(
            "It held", f"about {rounded(frame.capacity_ml, 2)} ml to the brim when it was whole"
        )
    if frame.coverage is not None and frame.residual_mm is not None:
        yield Entry(
            "Turned form",
            f"{100 * frame.coverage:.0f} % of the skin follows one turned shape within about "
            f"{rounded(max(frame.residual_mm, 0.01), 2)} mm",
        )


def _thickness_words(record: FillRecord) -> Paragraph:
    """What the maps of thickness show; an inside that was assumed was not measured."""
    wall_mm = record.settings.wall_mm
    if wall_mm is not None:
        return Paragraph(
            f"Only the outside was scanned. The inside was taken to lie {wall_mm:g} mm within it, "
            "as was told, so that these maps show what was assumed and measure nothing."
        )
    return Paragraph(
        "Measured on the scan straight through the wall, with what is missing put back in its "
        "designed form. Near edges and under the foot the way through is longer than the wall "
        "is thick. Where the scan had holes the thickness is that of the mended copy (see the "
        "repairs of the scan, in the section on provenance)."
    )


def _tenths(length_mm: float) -> str:
    """A dimension as a calliper reads it, the same for all."""
    return f"{length_mm:.1f} mm"


def _roundness(record: FillRecord) -> Iterator[Block]:
    if not record.frame.roundness:
        return
    yield Table(
        "How far the outside is from round: half the height of each wave of the radius, mm",
        (
            Column("height above the foot, mm", 1.4, "right"),
            Column("mean radius, mm", 1.2, "right"),
            Column("oval", 1, "right"),
            Column("three-sided", 1, "right"),
            Column("four-sided", 1, "right"),
        ),
        tuple(
            (
                f"{one.height_mm:.0f}",
                f"{one.radius_mm:.1f}",
                *(f"{wave:.2f}" for wave in one.amplitudes_mm),
            )
            for one in record.frame.roundness
        ),
    )


def _cracks(record: FillRecord) -> Iterator[Block]:
    if not record.cracks:
        yield Paragraph(
            "The scan shows none open. Mended cracks stand out in the pictures as fine lines where "
            "adhesive left a seam; hairlines below the scan's resolution are not seen by it."
        )
        yield Entries((Entry("Cracks seen by eye", "", 2),))
        return
    yield Table(
        "No piece is made for these; letters are those of the pictures",
        (
            Column("crack", 0.6),
            Column("length, mm", 1, "right"),
            Column("width of its mouth, mm", 1.2, "right"),
            Column("side", 1),
            Column("middle at", 0.8),
            Column("height above the foot, mm", 1.2, "right"),
        ),
        tuple(_crack_row(n, crack) for n, crack in enumerate(record.cracks)),
    )


def _crack_row(index: int, crack: CrackPart) -> tuple[str, ...]:
    return (
        letter_of(index),
        whole_mm(crack.length_mm),
        rounded(crack.width_mm, 2),
        "inside" if crack.inside else "outside",
        crack.clock,
        f"{crack.height_mm:.0f}",
    )


def _misfit(sources: Sources) -> Iterator[Block]:
    picture = sources.drawn.misfit
    if picture is None:
        yield Paragraph(
            "There is no map of it in the folder (misfit.png): the design was made without "
            "pictures, or its form gives no misfit. Fill the scan again with pictures to have it "
            "here."
        )
        return
    yield Paragraph(
        "How far the scanned body stands off the intact form that was found for it. Purple stands "
        "proud, orange lies inside; in a grey print both darken away from nought, and what lies "
        "inside is hatched. This picture is not to one of the scales above: use its own bar."
    )
    yield Pictures((picture,))


def repair_rows(record: FillRecord) -> tuple[tuple[str, ...], ...]:
    """Each repair of the scan's copy: what, how many, how large, and where on the vessel."""
    matrix = np.array(record.frame.vessel_from_scan)
    return tuple(
        (
            repair.what,
            str(repair.count),
            whole_mm(repair.size_mm) if repair.size_mm > 0 else "–",
            _repair_place(repair, matrix, axis=record.frame.rim_diameter_mm is not None),
        )
        for repair in record.repairs
    )


def _repair_place(repair: RepairPart, matrix: FloatArray, *, axis: bool) -> str:
    from lossfill.loss.measure import clock

    if repair.place_mm is None:
        return "everywhere"
    x, y, z = matrix[:3, :3] @ np.array(repair.place_mm) + matrix[:3, 3]
    away_mm = float(np.hypot(x, y))
    if not axis:
        return f"x {x:.0f}, y {y:.0f}, z {z:.0f} mm of the standing thing"
    if away_mm < 1.0:
        return f"on the axis, {z:.0f} mm up"
    at = clock(float(np.degrees(np.arctan2(y, x))))
    return f"{at}, {away_mm:.0f} mm from the axis, {z:.0f} mm up"
