"""The timed jobs, each in a process of its own, on small meshes."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import bench_speed
import numpy as np
import pytest
from bench_speed import measure
from make_meshes import write_ply
from vessels import tea_bowl

from lossfill.mesh import Mesh

SCRIPTS = Path(bench_speed.__file__).parent
CUBE = Mesh(
    10.0 * np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)]),
    np.array(
        [
            [0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1],
            [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3],
        ]
    ),
)  # fmt: skip


def test_floor_really_cuts(tmp_path: Path) -> None:
    path = write_ply(CUBE, tmp_path / "cube.ply")
    done = subprocess.run(
        [sys.executable, SCRIPTS / "bench_worker.py", "floor", path, "[-1,-1,-1]", "[5,4,3]"],
        capture_output=True,
        text=True,
        check=True,
    )
    result = json.loads(done.stdout)
    # The box covers 5 x 4 x 3 mm of the cube; all numbers are exact in 32 bits.
    assert result["volume_mm3"] == pytest.approx(60.0, rel=1e-12)
    assert result["triangles"] == 12
    assert 0.0 < result["seconds"] < 60.0
    assert 0.0 < result["idle_mb"] <= result["peak_mb"]


def test_peak_of_memory_is_this_process_alone() -> None:
    code = (
        "import sys; sys.path.insert(0, sys.argv[1]); import bench_worker as w;"
        "a = w.peak_mb(); b = bytearray(300_000_000); b[::4096] = b[::4096]; del b;"
        "print(a, w.peak_mb())"
    )
    # Held here while the other runs: it must not count there.
    held = np.ones(40_000_000)
    done = subprocess.run(
        [sys.executable, "-c", code, SCRIPTS], capture_output=True, text=True, check=True
    )
    before, after = map(float, done.stdout.split())
    assert held.nbytes / 1e6 > before
    # The interpreter's own needs are small against 300 MB.
    assert after - before == pytest.approx(300.0, abs=15.0)


def test_a_failed_job_says_why() -> None:
    with pytest.raises(RuntimeError, match="exit code 3: no such thing"):
        bench_speed._timed("-c", "import sys; print('no such thing', file=sys.stderr); sys.exit(3)")


@pytest.mark.slow
def test_floor_and_road_are_measured_alike() -> None:
    result = measure(tea_bowl(edge_mm=3.0), repeats=1)
    assert result.pieces >= 1
    assert result.triangles > 10_000
    for job in (result.floor, result.road):
        # A whole command also starts the interpreter and loads its modules.
        assert 0.0 < job.seconds < job.command_seconds
        assert 0.0 < job.idle_mb < job.peak_mb
    assert result.time_ratio > 1.0
    assert result.road.idle_mb > result.floor.idle_mb
