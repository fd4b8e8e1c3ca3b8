"""The whole record in order: one content for the PDF and the HTML."""

from __future__ import annotations

import lossfill
from lossfill.make.store import vessel_name
from lossfill.record.after import aftercare, provenance, signatures, traces
from lossfill.record.before import condition_before, how_to_read, object_and_people
from lossfill.record.document import Document
from lossfill.record.losses import losses, pieces
from lossfill.record.sources import Sources
from lossfill.record.work import made_things, materials, plan

TITLE = "Record of examination and treatment"

PARTS = (
    object_and_people,
    condition_before,
    losses,
    pieces,
    made_things,
    materials,
    plan,
    traces,
    aftercare,
    provenance,
    how_to_read,
    signatures,
)
"""The sections, each told by one function."""


def document_of(sources: Sources) -> Document:
    """Tell a record."""
    held = sources.fields.object
    name = held.title or vessel_name(sources.record.input.file)
    return Document(
        title=TITLE,
        subject=f"{name}, {held.identifier}" if held.identifier else name,
        day=sources.day,
        made_by=f"lossfill {lossfill.__version__}",
        sections=tuple(part(sources) for part in PARTS),
    )
