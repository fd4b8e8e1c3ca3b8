"""What is missing, how its form was found and how sure that is, and the pieces that fill it."""

from __future__ import annotations

from collections.abc import Iterator

from lossfill import tolerances as tol
from lossfill.figures import millilitres, rounded, square_cm, whole_mm
from lossfill.pack.record import FillRecord, LossPart, PiecePart, SettingsPart, TrialPart
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
from lossfill.record.sources import Sources

SOURCES = {
    "revolve": "the vessel's own turned section, bent to follow the wall beside the loss",
    "mirror": "the vessel's other half, mirrored",
    "turn": "a part that comes again round the turn",
    "twin": "the scan of another vessel of the set",
    "bridge": "the smoothest span from edge to edge of the loss",
}
"""Where a form can come from, in words."""

ENDS = {"step": "steps at the join", "fade": "fades to flush at the join"}

SEAT_TOLD_SHARE = 0.005
"""Of a seat from which its loss is told as a share of the seat."""

LEAST_ERROR_MM = 0.01
"""Below this no error is told: no scanner measures it."""


def losses(sources: Sources) -> Section:
    """All losses in one table, then each by itself."""
    record = sources.record
    if not record.losses:
        return Section("Losses", (Paragraph("No loss was found in the scan."),))
    blocks: list[Block] = [_summary(record), _total(record)]
    for part in record.losses:
        blocks += _one_loss(part, sources)
    return Section("Losses: what is missing", tuple(blocks))


def pieces(sources: Sources) -> Section:
    """Each piece: its gap, how it goes in, and what was proved of that."""
    record = sources.record
    blocks: list[Block] = [Entries(tuple(_shape_entries(record.settings)))]
    if len(record.order) > 1:
        blocks.append(Paragraph(f"The pieces go in in this order: {', then '.join(record.order)}."))
    blocks += [block for part in record.losses for block in _pieces_of(part)]
    if not record.losses:
        blocks = [Paragraph("No loss was found, so there is no piece.")]
    return Section("The pieces as designed", tuple(blocks))


def _summary(record: FillRecord) -> Table:
    return Table(
        "All losses. Error and bound are of the new skin",
        (
            Column("loss", 0.5),
            Column("kind", 1),
            Column("place", 0.8),
            Column("height above the foot, mm", 1.1, "right"),
            Column("around × along the wall, mm", 1.3, "right"),
            Column("volume, ml", 0.8, "right"),
            Column("thickness, mm", 1, "right"),
            Column("expected error, mm", 0.9, "right"),
            Column("bound, mm", 0.7, "right"),
        ),
        tuple(_summary_row(part) for part in record.losses),
    )


def _summary_row(part: LossPart) -> tuple[str, ...]:
    thin, thick = part.thickness_mm
    return (
        str(part.number),
        part.noun,
        part.clock,
        f"{part.height_mm:.0f}",
        f"{whole_mm(part.extent_around_mm)} × {whole_mm(part.extent_along_mm)}",
        rounded(part.volume_ml, 3 if part.volume_ml >= 1 else 2),
        f"{thin:.1f} to {thick:.1f}",
        rounded(max(part.expected_error_mm, LEAST_ERROR_MM), 2),
        rounded(max(part.bound_mm, LEAST_ERROR_MM), 2),
    )


def _total(record: FillRecord) -> Paragraph:
    volume = sum(part.volume_ml for part in record.losses)
    flat = any(not part.on_wall for part in record.losses)
    note = " Off a turned wall the two sizes are the longest and the next." if flat else ""
    return Paragraph(f"In all {millilitres(volume)} are missing.{note}")


def _one_loss(part: LossPart, sources: Sources) -> Iterator[Block]:
    yield Subheading(f"Loss {part.number}: {part.noun} at {part.clock}")
    yield Pictures(sources.drawn.losses.get(part.number, ()))
    yield Entries(tuple(_loss_entries(part)))
    yield Table(
        f"Loss {part.number}: every source of the form that was tried, on hidden patches of sound "
        "wall",
        (
            Column("source", 0.9),
            Column("expected error, mm", 1.1, "right"),
            Column("bound, mm", 0.8, "right"),
            Column("what was found", 3),
        ),
        tuple(_trial_row(trial, chosen=trial.source == part.source) for trial in part.trials),
    )
    chosen = [one.expected_error_mm for one in part.trials if one.source == part.source]
    if any(error is not None and part.expected_error_mm > 1.02 * error for error in chosen):
        yield Paragraph(
            "The loss's own figures above are larger than those of its source in this table: where "
            f"a break fades out into a skin, the first {tol.SAG_MM:g} mm of its depth cannot be "
            "told from the skin's texture.",
            "quiet",
        )


def _loss_entries(part: LossPart) -> Iterator[Entry]:
    around = "around" if part.on_wall else "at its longest"
    along = "along the wall" if part.on_wall else "across that"
    yield Entry("Place", f"{part.clock}, its middle {whole_mm(part.height_mm)} mm above the foot")
    yield Entry(
        "Size",
        f"{whole_mm(part.extent_around_mm)} mm {around}, {whole_mm(part.extent_along_mm)} mm "
        f"{along}; {millilitres(part.volume_ml)}",
    )
    thin, thick = part.thickness_mm
    words = f"{thin:.1f} to {thick:.1f} mm thick"
    if part.kind in ("chip", "spall"):
        words += f", {rounded(part.depth_mm, 2)} mm deep below the skin"
    yield Entry("Thickness", words)
    yield Entry(
        "Surfaces",
        f"new skin {square_cm(part.outer_area_mm2)} outside and {square_cm(part.inner_area_mm2)} "
        f"inside; break {square_cm(part.break_area_mm2)}; join "
        f"{whole_mm(part.join_length_mm)} mm long",
    )
    yield Entry("Source of the form", f"{part.source}: {SOURCES.get(part.source, part.source)}")
    error, bound = (max(one, LEAST_ERROR_MM) for one in (part.expected_error_mm, part.bound_mm))
    yield Entry(
        "How sure that is",
        f"the new skin is expected to lie within {rounded(error, 2)} mm of the lost one (root mean "
        f"square); in nine of ten cases within {rounded(bound, 2)} mm. The break itself is not "
        "guessed: it is the scanned one.",
    )
    yield Entry("Way to fill it", f"{part.way}: {part.way_reason} (common practice)")


def _trial_row(trial: TrialPart, *, chosen: bool) -> tuple[str, ...]:
    error, bound = (
        "–" if one is None else rounded(max(one, LEAST_ERROR_MM), 2)
        for one in (trial.expected_error_mm, trial.bound_mm)
    )
    return (f"{trial.source}, chosen" if chosen else trial.source, error, bound, trial.says)


def _shape_entries(settings: SettingsPart) -> Iterator[Entry]:
    clearance = settings.clearance_mm
    told = (
        f"{clearance:g} mm along the break" if clearance > 0 else "none: it meets the break exactly"
    )
    yield Entry("Clearance", told)
    for name, value in (
        ("outside", settings.setback_outside_mm),
        ("inside", settings.setback_inside_mm),
    ):
        words = f"{value:g} mm, which {ENDS[settings.setback_edge]}" if value > 0 else "none: flush"
        yield Entry(f"Setback {name}", words)
    if settings.process is not None:
        yield Entry(
            "Trimmed for", f"{settings.process}: edges too thin to be made so were taken off"
        )
    if settings.fillet_mm > 0:
        yield Entry("Ridges of the seat", f"rounded to {settings.fillet_mm:g} mm")


def _pieces_of(part: LossPart) -> Iterator[Block]:
    if part.piece is None or part.piece_volume_ml is None:
        yield Subheading(f"Loss {part.number}")
        yield Paragraph("No piece was made for this loss; the notes in the provenance say why.")
        return
    if not part.pieces:
        yield Subheading(f"Piece {part.number}")
        yield Paragraph(
            f"{millilitres(part.piece_volume_ml)}, in {part.piece}. This design kept no way in."
        )
    for one in part.pieces:
        yield Subheading(f"Piece {one.name} of loss {part.number}")
        yield Entries(tuple(_piece_entries(one)))
    if part.trimmed:
        total = sum(one.volume_mm3 for one in part.trimmed)
        longest = max(one.length_mm for one in part.trimmed)
        yield Paragraph(
            f"{len(part.trimmed)} edges too thin for the process were trimmed, {total:.2g} mm³ in "
            f"all, the longest {whole_mm(longest)} mm: fill what is open there with paste."
        )


def _piece_entries(one: PiecePart) -> Iterator[Entry]:
    yield Entry("Volume", millilitres(one.volume_ml))
    entry = one.entry
    lean = f"; it may lean up to {entry.lean_deg:.0f}° any way" if entry.lean_deg >= 1.0 else ""
    yield Entry(
        "Entry",
        f"{entry.words}, in one straight line of {whole_mm(entry.travel_mm)} mm, without "
        f"turning{lean}. It comes out the same way once its adhesive is undone.",
    )
    yield Entry("Proof", _proof_words(one))
    yield Entry("Seat", _seat_words(one))
    sound = one.check.passed and one.check_3mf.passed
    yield Entry(
        "Files as written",
        f"{one.stl} and {one.threemf}: "
        + ("closed, in one part, clear of the vessel" if sound else "NOT SOUND: do not use them"),
    )


def _proof_words(one: PiecePart) -> str:
    proof = one.proof
    shared = (
        "at none of them did it share any space with the vessel"
        if proof.shared_mm3 <= 0
        else f"it shared {proof.shared_mm3:.2g} mm³ with the vessel at most, where rounding alone "
        f"can make {proof.shared_limit_mm3:.2g} mm³"
    )
    words = f"looked at in {proof.stations} places on its way: {shared}"
    if proof.doubtful_mm2 > 0:
        words += f"; between them {proof.doubtful_mm2:.2g} mm² could not be decided"
    if proof.rub_mm > 0:
        words += f"; it may rub by up to {rounded(proof.rub_mm, 2)} mm"
    return f"{'It goes in' if proof.passed else 'NOT PROVED'}: {words}."


def _seat_words(one: PiecePart) -> str:
    if one.seat_mm2 <= 0:
        return "not measured"
    share = one.seat_lost_mm2 / one.seat_mm2
    if one.relieved_mm3 <= 0:
        return f"{square_cm(one.seat_mm2)}, whole: nothing had to be taken away for the way in"
    if share < SEAT_TOLD_SHARE:
        return (
            f"{square_cm(one.seat_mm2)}, whole but for {one.relieved_mm3:.2g} mm³ taken away "
            "for the way in"
        )
    return (
        f"{square_cm(one.seat_mm2)}, of which {100 * share:.2g} % ({one.relieved_mm3:.2g} mm³) "
        "was relieved so that it slides in; there the gap is wider and takes more adhesive"
    )
