"""A folder as `lossfill fill` writes it, made once for all tests that start from one; and the
order in which the files of tests start.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from lossfill.cli import main

TESTS = Path(__file__).parent
MESHES = TESTS.parent / "meshes"

LONGEST_FIRST = (
    "donor/test_handle_losses.py",
    "donor/test_boxes_and_tiles.py",
    "cli/test_end_to_end.py",
    "test_road.py",
    "body/test_open_scans.py",
    "bench/test_bench_accuracy.py",
    "loss/test_loss_spalls.py",
    "make/test_backing_real.py",
    "form/test_lost.py",
    "scan/test_scan_points.py",
    "form/test_symmetry.py",
    "loss/test_loss_found.py",
    "check/test_check_piece.py",
    "loss/test_loss_cracks.py",
    "fit/test_fit_real.py",
    "fill/test_fill_setback.py",
    "test_house.py",
    "fill/test_fill_rounds.py",
    "donor/test_front_ends.py",
)
"""Files of tests that take longest, as measured: half a minute of one core and more each."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the longest files first: one that starts last leaves the other cores idle to its end."""
    gone = [name for name in LONGEST_FIRST if not (TESTS / name).is_file()]
    if gone:
        # Renamed, it would lose its place unnoticed.
        raise pytest.UsageError(f"tests/conftest.py: no such files of tests: {gone}")
    place = {TESTS / name: k for k, name in enumerate(LONGEST_FIRST)}
    items.sort(key=lambda item: place.get(item.path, len(place)))


@pytest.fixture(scope="session")
def tea_bowl_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The tea bowl's design: a piece of its rim and a chip. It is only read from, or copied."""
    folder = tmp_path_factory.mktemp("made") / "tea_bowl"
    words = ["fill", str(MESHES / "tea_bowl_scan.ply"), "--units", "mm", "--no-pictures"]
    assert main([*words, "--out", str(folder)]) == 0
    return folder
