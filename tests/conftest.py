"""A folder as `lossfill fill` writes it, made once for all tests that start from one."""

from __future__ import annotations

from pathlib import Path

import pytest

from lossfill.cli import main

MESHES = Path(__file__).parents[1] / "meshes"


@pytest.fixture(scope="session")
def tea_bowl_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The tea bowl's design: a piece of its rim and a chip. It is only read from, or copied."""
    folder = tmp_path_factory.mktemp("made") / "tea_bowl"
    words = ["fill", str(MESHES / "tea_bowl_scan.ply"), "--units", "mm", "--no-pictures"]
    assert main([*words, "--out", str(folder)]) == 0
    return folder
