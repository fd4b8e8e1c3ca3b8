"""What was made, of which materials and how much of them, and in which steps."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from lossfill.check.record import CheckRecord
from lossfill.cure.plan import Plan, Step
from lossfill.cure.words import moment_words, steps_words, wait_words
from lossfill.figures import found_words, rounded
from lossfill.make.record import NotMadePart, ProvedPart
from lossfill.mix.chain import figure, two_digits
from lossfill.mix.quantities import Amount, ChainLink, Portion, Quantities
from lossfill.record.before import told_by
from lossfill.record.document import (
    Block,
    Bullets,
    Column,
    Entries,
    Entry,
    Paragraph,
    Section,
    Subheading,
    Table,
)
from lossfill.record.sources import Sources

USES = {
    "join": "joining",
    "fill": "filling",
    "insert": "made insert",
    "coat": "coating",
    "metal": "metal",
}
"""What a portion is for, in words."""

TO_WRITE = ""
"""A cell to write in."""


def made_things(sources: Sources) -> Section:
    """What was made of the design, and what was measured of it."""
    blocks: list[Block] = [Entries(told_by(sources.fields, "treatment"))]
    made = sources.made
    if made is None or not made.things:
        blocks.append(Paragraph("No aids, moulds or prints were made from the design so far."))
        return Section("Treatment, and what was made", (*blocks, *_checks(sources.checks)))
    found = [
        (f"{one.thing}, loss {one.loss}", proved) for one in made.things for proved in one.proved
    ]
    blocks += [
        Subheading("Made from the design"),
        Table(
            "What was made, for which loss, and in which files",
            (Column("thing", 0.8), Column("loss", 0.4), Column("files", 3)),
            tuple((one.thing, str(one.loss), ", ".join(one.files)) for one in made.things),
        ),
        _limits(found),
    ]
    missed = [f"{name}: {proved.what}" for name, proved in found if not proved.passed]
    if missed:
        blocks.append(Paragraph(f"Limits that were NOT KEPT: {'; '.join(missed)}.", "strong"))
    else:
        blocks.append(Paragraph("Every limit that was measured was kept."))
    blocks += [Bullets(made.notes)] if made.notes else []
    if made.not_made:
        blocks.append(Bullets(tuple(f"not made: {_not_made_words(one)}" for one in made.not_made)))
    return Section("Treatment, and what was made", (*blocks, *_checks(sources.checks)))


def _not_made_words(one: NotMadePart) -> str:
    """What was not made and why; a reason that names its loss is not told which it is again."""
    which = "" if one.why.startswith(f"loss {one.loss} ") else f" for loss {one.loss}"
    return f"{one.thing}{which}: {one.why}"


def _limits(proved: list[tuple[str, ProvedPart]]) -> Table:
    return Table(
        "What was measured of each, and the limit that it had to keep",
        (
            Column("thing and loss", 1),
            Column("what was measured", 3.2),
            Column("found", 0.7, "right"),
            Column("at most", 0.7, "right"),
            Column("kept", 0.6),
        ),
        tuple(
            (
                name,
                one.what,
                "not known" if one.value is None else found_words(one.value, one.limit),
                rounded(one.limit, 2),
                "yes" if one.passed else "NOT KEPT",
            )
            for name, one in proved
        ),
    )


def _checks(checks: tuple[CheckRecord, ...]) -> Iterator[Block]:
    if not checks:
        return
    yield Subheading("Made pieces that were scanned and checked")
    yield Table(
        "The gap is that left for the adhesive: the middle, and what nine tenths of it lie between",
        (
            Column("piece", 0.5),
            Column("scan", 1.5),
            Column("does it go in", 1.6),
            Column("gap, mm", 1.2),
            Column("step at the join, mm", 0.8, "right"),
        ),
        tuple(
            (
                one.piece,
                one.file,
                f"{one.goes_in.verdict}: {one.goes_in.why}"
                if one.goes_in.why
                else one.goes_in.verdict,
                f"{one.gap.p50_mm:.2f} ({one.gap.p05_mm:.2f} to {one.gap.p95_mm:.2f})",
                "–" if one.step_mm is None else f"{one.step_mm:.2f}",
            )
            for one in checks
        ),
    )


def materials(sources: Sources) -> Section:
    """Materials, where they go, how much of each, and where their figures come from."""
    title = "Materials and quantities"
    quantities = sources.quantities
    if quantities is None or not quantities.portions:
        return Section(
            title,
            (
                Paragraph("No quantities were reckoned for this record."),
                Entries((Entry("Materials, where, and how much", "", 6),)),
            ),
        )
    return Section(title, tuple(_materials(quantities)))


def _materials(quantities: Quantities) -> Iterator[Block]:
    yield Paragraph(
        "As reckoned from the measured losses; what was in fact used, with makers and lots, is "
        "entered above under products used. What is weighed out or drawn up is rounded up to what "
        "scale and syringe can tell."
    )
    yield Table(
        "Which material goes where: fresh, with what stays on board and tools",
        (
            Column("loss", 0.4),
            Column("for", 0.8),
            Column("material", 1.9),
            Column("volume, ml", 0.8, "right"),
            Column("±, ml", 0.6, "right"),
            Column("mass, g", 0.7, "right"),
            Column("layers", 0.6, "right"),
            Column("batches", 0.75, "right"),
        ),
        tuple(_portion_row(one) for one in quantities.portions),
    )
    yield Table(
        "What to weigh out or draw up in all",
        (
            Column("material", 1.6),
            Column("components, in all batches together", 3.2),
            Column("batches", 0.75, "right"),
            Column("product, maker, lot (to be written in)", 1.8),
        ),
        tuple(
            (
                total.material.name,
                "; ".join(map(amount_words, total.amounts)),
                str(total.batches),
                TO_WRITE,
            )
            for total in quantities.totals
        ),
    )
    yield Table(
        "What the figures rest on",
        (
            Column("material", 1.5),
            Column("kind", 0.9),
            Column("density, g/ml", 0.7, "right"),
            Column("left once cured", 0.7, "right"),
            Column("hardens by", 1),
            Column("source of its figures", 2.4),
        ),
        tuple(
            (
                one.material.name,
                one.material.kind.value,
                rounded(one.material.density_g_ml, 3),
                f"{100 * one.material.solids_left:.0f} %",
                one.material.cures_by.value,
                one.material.source,
            )
            for one in quantities.totals
        ),
    )
    notes = [
        f"{one.name}, {USES[one.use]}: {note}" for one in quantities.portions for note in one.notes
    ]
    if notes or quantities.warnings:
        yield Subheading("To know about them")
        yield Bullets((*quantities.warnings, *notes))
    yield Subheading("How each was reckoned")
    for portion in quantities.portions:
        steps = "; ".join(map(_link_words, portion.chain))
        head = f"{portion.name}, {USES[portion.use]}, {portion.material.name}"
        yield Paragraph(f"{head}: {steps}.", "quiet")


def _portion_row(one: Portion) -> tuple[str, ...]:
    return (
        str(one.loss) if one.loss else "–",
        USES[one.use],
        one.material.name,
        "–" if one.use == "metal" else two_digits(one.volume_ml),
        two_digits(one.error_ml) if one.error_ml > 0 else "–",
        two_digits(one.mass_g),
        str(one.layers),
        str(one.batches),
    )


def amount_words(amount: Amount) -> str:
    """What to weigh, and what to draw up for it."""
    drawn = "" if amount.volume_ml is None else f" ({amount.volume_ml:.2f} ml)"
    return f"{amount.part} {amount.mass_g:.2f} g{drawn}"


def _link_words(link: ChainLink) -> str:
    value = f"{figure(link.value)} {link.unit}"
    if not link.sum:
        return f"{link.what}: {value}"
    # A sum that is a single figure, or tells its result itself, is not told twice.
    if "=" in link.sum or not any(sign in link.sum for sign in "×÷+"):
        return (
            f"{link.what}: {link.sum}"
            if link.sum == value
            else (f"{link.what}: {link.sum}, hence {value}")
        )
    return f"{link.what}: {link.sum} = {value}"


def plan(sources: Sources) -> Section:
    """The steps in order, with their waits."""
    title = "Plan and cure"
    held = sources.plan
    if held is None or not held.steps:
        return Section(
            title,
            (
                Paragraph("No plan was laid out for this record."),
                Entries((Entry("Steps, dates and waits", "", 6),)),
            ),
        )
    return Section(title, tuple(_plan(held)))


def _plan(held: Plan) -> Iterator[Block]:
    dated = held.steps[0].starts is not None
    counted = "" if dated else " Days count from the first step: fill in the dates."
    yield Paragraph(
        f"{steps_words(held)}, {held.days:.0f} days to the end of the last wait.{counted} A "
        "wait is given as the least and the most usual time before the next step on the same loss. "
        "Let a test patch decide, not the clock."
    )
    yield Table(
        "Steps; enter when each was done, and the air in the box where one is used",
        (
            Column("no.", 0.42, "right"),
            Column("step", 2.8),
            Column("losses", 0.6),
            Column("begins", 1.3),
            Column("wait", 1),
            Column("damp box", 0.55),
            Column("done on, by; °C, % (to be written in)", 1.6),
        ),
        tuple(_step_row(step, held.opens) for step in held.steps),
    )
    if held.warnings:
        yield Bullets(held.warnings)


def _step_row(step: Step, opens: dt.time) -> tuple[str, ...]:
    return (
        str(step.number),
        step.says,
        ", ".join(str(number) for number in step.losses if number) or "all",
        _begins_words(step, opens),
        wait_words(*step.wait_hours) if step.wait_hours[1] > 0 else "none",
        "yes" if step.needs_box else "no",
        TO_WRITE,
    )


def _begins_words(step: Step, opens: dt.time) -> str:
    if step.starts is not None:
        return f"{step.starts:%Y-%m-%d %H:%M}"
    return ", ".join(moment_words(None, step.hours_from_start, opens, year=False))
