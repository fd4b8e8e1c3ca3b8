"""What each loss of a real design needs."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from lossfill.make.store import read_design
from lossfill.materials import read_table
from lossfill.mix import MixSettings, needs_of, quantities_for
from lossfill.pack.record import FillRecord


@pytest.fixture(scope="module")
def record(tea_bowl_folder: Path) -> FillRecord:
    return read_design(tea_bowl_folder)[0]


def test_needs_are_the_records_measures(record: FillRecord) -> None:
    needs = needs_of(record)
    assert [need.number for need in needs] == [part.number for part in record.losses]
    assert len(needs) >= 2
    for need, part in zip(needs, record.losses, strict=True):
        assert need.name == f"loss {part.number}"
        assert (need.volume_ml, need.way, need.break_mm2) == (
            part.volume_ml,
            part.way,
            part.break_area_mm2,
        )
        assert (need.piece_ml, need.clearance_mm) == (part.piece_volume_ml, part.clearance_mm)
        # Skin that lies off by the bound encloses its area times that.
        skin_mm2 = part.outer_area_mm2 + part.inner_area_mm2
        assert need.volume_error_ml == pytest.approx(part.bound_mm * skin_mm2 / 1000, rel=1e-12)
        assert need.box_mm is None
        through = part.kind in ("through", "rim", "handle")
        assert need.depth_mm == (part.thickness_mm[1] if through else part.depth_mm)


def test_the_box_holds_the_missing_material(tea_bowl_folder: Path) -> None:
    record, briefs = read_design(tea_bowl_folder)
    for need, brief in zip(needs_of(record, briefs), briefs, strict=True):
        assert need.box_mm is not None
        length, breadth, thickness = need.box_mm
        assert length >= breadth >= thickness > 0
        assert math.prod(need.box_mm) > 1000 * need.volume_ml
        span = np.ptp(brief.lost.mesh.vertices, axis=0)
        # No box is longer than the diagonal of another that holds the same.
        assert length <= np.linalg.norm(span)


def test_a_design_without_pieces_is_mixed_for_all_the_same(record: FillRecord) -> None:
    bare = record.model_copy(
        update={
            "losses": tuple(
                part.model_copy(
                    update={"piece_volume_ml": None, "clearance_mm": None, "pieces": ()}
                )
                for part in record.losses
            )
        }
    )
    needs = needs_of(bare)
    assert [need.piece_ml for need in needs] == [None] * len(needs)
    assert {need.clearance_mm for need in needs} == {record.settings.clearance_mm}
    found = quantities_for(needs, MixSettings(), read_table())
    inserts = [one for one in found.portions if one.use == "insert"]
    assert inserts
    for insert in inserts:
        part = bare.losses[insert.loss - 1]
        assert insert.volume_ml == pytest.approx(part.volume_ml, rel=1e-9)
        assert insert.error_ml > 0


def test_a_vessel_without_losses_needs_nothing(record: FillRecord) -> None:
    found = quantities_for(
        needs_of(record.model_copy(update={"losses": ()})), MixSettings(), read_table()
    )
    assert (found.portions, found.totals, found.warnings) == ((), (), ())
