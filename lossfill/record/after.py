"""How the work can be detected and undone, what a keeper must know, and whence the figures are."""

from __future__ import annotations

from collections.abc import Iterator

from lossfill.cautions import Work, cautions_for
from lossfill.materials.material import INSERTS, Kind
from lossfill.mix.hazards import caution_keys_of
from lossfill.pack.record import FillRecord
from lossfill.record.before import repair_rows, told_by
from lossfill.record.document import (
    Block,
    Bullets,
    Column,
    Entries,
    Entry,
    Paragraph,
    Section,
    Signatures,
    Subheading,
    Table,
)
from lossfill.record.sources import Sources

GLUED = frozenset({Kind.ADHESIVE_PASTE, Kind.EPOXY, Kind.PUTTY})
# Many adhesives on ceramics glow in long-wave ultraviolet: National Park Service, Conserve O Gram
# 1/10 (2000), seen in extract. Plaster leaves traces in porous bodies: Journal of the American
# Institute for Conservation 25 (1986), pages 93 to 96, seen in extract. All else: common practice.
UNDOING: tuple[tuple[frozenset[Kind], str], ...] = (
    (
        INSERTS,
        "A made insert comes out along the way that it went in (see the pieces), once its adhesive "
        "is undone.",
    ),
    (
        frozenset({Kind.ADHESIVE_PASTE, Kind.FILLING_PASTE, Kind.COAT}),
        "Lacquer that has cured through hardly dissolves: what is made of it is taken off by hand "
        "tools, so say here whether a layer that does dissolve was put between it and the old "
        "material (common practice).",
    ),
    (
        frozenset({Kind.EPOXY, Kind.PUTTY}),
        "Cured epoxy swells and softens, but does not dissolve: say here whether a layer that does "
        "dissolve was put between it and the old material (common practice).",
    ),
    (
        frozenset({Kind.PLASTER}),
        "Plaster softens in water and is picked out; it can leave traces in a porous body (Journal "
        "of the American Institute for Conservation 25, 1986, pages 93 to 96).",
    ),
    (
        frozenset({Kind.METAL}),
        "Metal powder comes off with the coat in which it lies (common practice).",
    ),
)
"""What is commonly open to undo each kind of material."""


def traces(sources: Sources) -> Section:
    """How the fills can be detected and removed."""
    kinds = _kinds(sources)
    undoing = tuple(words for those, words in UNDOING if those & kinds)
    blocks: list[Block] = [
        Paragraph(
            "A fill must be told from the object by at least one common means of examination, and "
            "must come off without harm to it. Only who did the work can vouch for that: enter it "
            "here, and tick below what was tried on this object."
        ),
        Entries(told_by(sources.fields, "traces")),
        Subheading("Ways that are commonly open to detect the fills"),
        Bullets(tuple(_detecting(sources, kinds)), ticked=True),
    ]
    if undoing:
        blocks += [
            Subheading("What is commonly open to undo them; try it on a hidden place first"),
            Bullets(undoing, ticked=True),
        ]
    return Section("Detectability and reversibility", tuple(blocks))


def _detecting(sources: Sources, kinds: frozenset[Kind]) -> Iterator[str]:
    yield (
        "By eye, by touch and in raking light, along the join; its course is drawn in the "
        "section on losses."
    )
    if kinds & GLUED or not kinds:
        yield (
            "Under long-wave ultraviolet light many adhesives used on ceramics glow "
            "(National Park Service, Conserve O Gram 1/10, 2000); keep a sample of each product "
            "and try it."
        )
    yield (
        "By X-ray, where fill and body differ in density (common practice); the densities "
        "of the materials are in the section on quantities."
    )
    files = [one.stl for part in sources.record.losses for one in part.pieces]
    if files:
        yield (
            "By scanning again: a new scan laid on this design shows which skin is new "
            f"({', '.join(files)}, in the coordinates of the scan of before)."
        )


def aftercare(sources: Sources) -> Section:
    """What its keeper must know, and whoever works on it."""
    keys = _caution_keys(sources)
    works = tuple(step.work for step in sources.plan.steps) if sources.plan is not None else ()
    blocks: list[Block] = [
        Subheading("For the keeper"),
        Bullets(cautions_for((Work.USE,), keys)),
        Entries(told_by(sources.fields, "aftercare")),
    ]
    if works:
        blocks += [
            Subheading("For whoever works on it"),
            Bullets(cautions_for((Work.HANDLE, *works), keys)),
        ]
    return Section("After-care and cautions", tuple(blocks))


def provenance(sources: Sources) -> Section:
    """From which file, by which settings and programs, and what was mended in the scan."""
    record = sources.record
    return Section(
        "Provenance of the figures",
        (
            Entries(tuple(_input_entries(record))),
            Table(
                "Settings of the design; a dash where nothing was asked for",
                (Column("setting", 1), Column("value", 2)),
                tuple(_setting_rows(record)),
            ),
            *_repairs(record),
            *_notes(record),
            Table(
                "Programs and libraries that this record was made with",
                (Column("name", 1), Column("version", 2)),
                sources.versions,
            ),
        ),
    )


def signatures(sources: Sources) -> Section:
    """Who vouches for this record, and who holds a copy."""
    people = sources.fields.people
    return Section(
        "Signatures and copies",
        (
            Signatures(
                (
                    ("Examined by", people.examined_by),
                    ("Treated by", people.treated_by),
                    ("Scanned by", people.scanned_by),
                    ("Owner or keeper", sources.fields.object.owner),
                )
            ),
            Entries(
                (
                    Entry("Copy to the owner, on", ""),
                    Entry("Another copy is kept by", ""),
                )
            ),
            Paragraph(
                "Keep this record with the object and pass it on with it. Keep the folder that it "
                "was made from as well: the scan, the design and the files of the pieces.",
                "quiet",
            ),
        ),
    )


def _kinds(sources: Sources) -> frozenset[Kind]:
    if sources.quantities is None:
        return frozenset()
    return frozenset(one.material.kind for one in sources.quantities.portions)


def _caution_keys(sources: Sources) -> tuple[str, ...]:
    if sources.quantities is None:
        return ()
    return caution_keys_of(sources.quantities)


def _input_entries(record: FillRecord) -> Iterator[Entry]:
    scan = record.input
    how = {"file": "stated in the file", "asked": "as told", "inferred": "inferred from its size"}
    yield Entry("Scan file", f"{scan.file}; it was not changed")
    yield Entry("SHA-256 of its bytes", scan.sha256)
    yield Entry("Format", f"{scan.format}, {scan.triangles} triangles")
    yield Entry("Unit", f"{scan.unit}, {how[scan.unit_source]}")
    if scan.scale != 1.0:
        yield Entry("Scaled by", f"{scan.scale:.6g}, to meet the rim diameter that was measured")
    yield Entry("Designed by", record.program)
    if record.form is not None:
        yield Entry("Form", "; ".join(_form(record)))


FORM_WORDS = {
    "source": "mostly by",
    "stiffness": "stiffness with which it was bent to the wall",
    "repeats": "repeats around the turn",
    "residual_mm": "how far it lies off what is left of the thing",
    "donors": "sources that apply",
    "noise_mm": "noise of the scanned skin",
    "expected_error_mm": "expected error over all hidden patches",
    "round_error_mm": "error that a plain turned form would have",
    "hidden_patches": "patches of sound wall that were hidden and formed again",
}
"""Figures of the form by their names in the record of the design."""


def _form(record: FillRecord) -> Iterator[str]:
    for name, value in (record.form or {}).items():
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            continue
        told = f"{value:.3g}" if isinstance(value, float) else str(value)
        words, _, unit = _name(name).partition(", ")
        yield f"{FORM_WORDS.get(name, words)} {told} {unit}".rstrip()


def _setting_rows(record: FillRecord) -> Iterator[tuple[str, str]]:
    for name, value in record.settings.model_dump().items():
        if name == "way_rule":
            for rule, limit in (value or {}).items():
                yield f"way rule: {_name(rule)}", f"{limit:g}"
            continue
        told = "–" if value is None else f"{value:g}" if isinstance(value, float) else str(value)
        yield _name(name), {"True": "yes", "False": "no"}.get(told, told)


def _name(key: str) -> str:
    """A field's name as words, its unit after a comma."""
    for ending, unit in (("_mm", "mm"), ("_ml", "ml"), ("_deg", "°")):
        if key.endswith(ending):
            return f"{key.removesuffix(ending).replace('_', ' ')}, {unit}"
    return key.replace("_", " ")


def _repairs(record: FillRecord) -> Iterator[Block]:
    if not record.repairs:
        yield Paragraph("The scan needed no repair.")
        return
    yield Table(
        "Every repair of the scan, done to a copy: there the surface is mended and not measured",
        (
            Column("what was done", 2.2),
            Column("times", 0.5, "right"),
            Column("largest extent, mm", 0.9, "right"),
            Column("place on the vessel", 2.4),
        ),
        repair_rows(record),
    )


def _notes(record: FillRecord) -> Iterator[Block]:
    if record.warnings:
        yield Subheading("Notes of the design")
        yield Bullets(record.warnings)
