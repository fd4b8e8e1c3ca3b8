"""A folder as `lossfill fill` writes it, made once for all tests of making."""

from __future__ import annotations

from pathlib import Path

import pytest

from lossfill import Settings, Unit, design, write_pack

MESHES = Path(__file__).parents[1] / "meshes"


@pytest.fixture(scope="session")
def tea_bowl_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The tea bowl's design: a piece of its rim and a chip."""
    folder = tmp_path_factory.mktemp("made") / "tea_bowl"
    made = design(MESHES / "tea_bowl_scan.ply", Settings(units=Unit.MILLIMETRE))
    write_pack(made, folder, pictures=False)
    return folder
