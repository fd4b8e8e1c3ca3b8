from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from record.record_cases import write_cup

from lossfill.cure import PlanSettings, plan_for
from lossfill.drawing.paper import Paper
from lossfill.make.store import read_design, read_upright
from lossfill.materials import read_table
from lossfill.mix import MixSettings, needs_of, quantities_for
from lossfill.record.fields import read_fields
from lossfill.record.pictures import Scene, make_scene
from lossfill.record.sources import Sources
from lossfill.record.write import gather

DAY = dt.date(2026, 3, 1)
DEMO = Path(__file__).parents[2] / "meshes" / "tea_bowl_object.toml"


@pytest.fixture(scope="session")
def cup_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_cup(tmp_path_factory.mktemp("record") / "cup")


@pytest.fixture(scope="session")
def cup_scene(cup_folder: Path) -> Scene:
    return make_scene(*read_upright(cup_folder))


@pytest.fixture(scope="session")
def cup_sources(cup_folder: Path) -> Sources:
    """All that the cup's record is told from, filled in as in the demo."""
    record, briefs = read_design(cup_folder)
    choice = MixSettings(metal_with="tin powder")
    quantities = quantities_for(needs_of(record, briefs), choice, read_table())
    plan = plan_for(quantities, PlanSettings())
    return gather(cup_folder, read_fields(DEMO), quantities, plan, paper=Paper.A4, day=DAY)
