"""Speed: the whole road against the floor, on the same broken bowl at growing sizes.

The floor is the least that any tool has to do with a scan of n triangles and one loss: read the
file, build one solid, cut one chunk as large as the loss out of it. Each job runs in a fresh
process. Floor, road and command take turns, so that a busy spell of the machine falls on all of
them; of the repeats the shortest time counts, for noise only ever adds, and the largest memory.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from breaking import as_scanned, break_vessel
from make_meshes import write_ply
from real_scans import load_real, subdivide_to, upright

from lossfill.mesh import Mesh, transformed

__all__ = ["REPEATS", "SIZES", "Job", "Speed", "measure", "measure_real_bowl"]

SIZES = (42_000, 170_000, 680_000, 2_700_000)
"""Least number of triangles; the bowl's scan has 42 522, and each step splits every one in four."""
REPEATS = 3
_AROUND_MM = 2.0
"""The floor's box is this much larger than the chunk on every side: it too must cut the body."""
_ROOT = Path(__file__).resolve().parents[1]


@dataclass(frozen=True, slots=True)
class Job:
    """What one job took.

    Parameters
    ----------
    seconds : from file to result, modules loaded beforehand; shortest of the repeats
    peak_mb, idle_mb : largest memory at the end, and before the job began, 10⁶ bytes
    command_seconds : the whole command from outside, with the interpreter's start and imports
    """

    seconds: float
    peak_mb: float
    idle_mb: float
    command_seconds: float

    @property
    def own_mb(self) -> float:
        """Memory above that of a process that has only loaded the same modules, 10⁶ bytes."""
        return self.peak_mb - self.idle_mb


@dataclass(frozen=True, slots=True)
class Speed:
    """Floor and road at one size.

    Parameters
    ----------
    triangles : of the scan
    floor, road : see `Job`; the road's command is ``lossfill fill --no-pictures``
    pieces : how many the road made
    """

    triangles: int
    floor: Job
    road: Job
    pieces: int

    @property
    def time_ratio(self) -> float:
        """Time of the road over the floor's."""
        return self.road.seconds / self.floor.seconds

    @property
    def command_ratio(self) -> float:
        """The same for whole commands."""
        return self.road.command_seconds / self.floor.command_seconds

    @property
    def memory_ratio(self) -> float:
        """Peak memory of the road over the floor's, loaded modules included."""
        return self.road.peak_mb / self.floor.peak_mb

    @property
    def own_memory_ratio(self) -> float:
        """The same without the loaded modules."""
        return self.road.own_mb / self.floor.own_mb


def measure_real_bowl(sizes: Iterable[int] = SIZES, *, repeats: int = REPEATS) -> Iterator[Speed]:
    """Measure the real bowl, with a piece of its rim lost, at each size in turn."""
    whole = upright(load_real("bowl"))
    for size in sizes:
        yield measure(subdivide_to(whole, size), repeats=repeats)


def measure(whole: Mesh, *, repeats: int = REPEATS) -> Speed:
    """Measure floor and road on one vessel.

    Parameters
    ----------
    whole : closed, on z = 0 with its axis along +z, mm; it loses a piece of its rim
    repeats : how often each job is run
    """
    broken = break_vessel(whole, "rim_45", rng=np.random.default_rng(6))
    scan, pose = as_scanned(broken.body, noise_mm=0.0, rng=np.random.default_rng(7))
    low, high = transformed(broken.chunks[0], pose).bounds
    box = (json.dumps((low - _AROUND_MM).tolist()), json.dumps((high + _AROUND_MM).tolist()))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = str(write_ply(scan, folder / "scan.ply"))
        out, loaded = folder / "fill", folder / "modules.json"
        # Also a first round that warms the disk's cache for all who follow.
        names, _ = _worker("modules", path, str(out))
        loaded.write_text(json.dumps(names), encoding="utf-8")
        floors, roads, commands = [], [], []
        for _ in range(repeats):
            floors.append(_worker("floor", path, *box))
            shutil.rmtree(out)
            roads.append(_worker("fill", path, str(out), str(loaded))[0])
            shutil.rmtree(out)
            commands.append(_command(path, out))
    return Speed(
        triangles=len(scan.faces),
        floor=_job([result for result, _ in floors], [seconds for _, seconds in floors]),
        road=_job(roads, commands),
        pieces=int(roads[0]["pieces"]),
    )


def _job(results: list[dict[str, float]], commands: list[float]) -> Job:
    return Job(
        seconds=min(result["seconds"] for result in results),
        peak_mb=max(result["peak_mb"] for result in results),
        idle_mb=max(result["idle_mb"] for result in results),
        command_seconds=min(commands),
    )


def _worker(*words: str) -> tuple[Any, float]:
    """Run one job of the worker; what it prints, and how long the whole process took."""
    printed, seconds = _timed(str(_ROOT / "scripts" / "bench_worker.py"), *words)
    return json.loads(printed.splitlines()[-1]), seconds


def _command(path: str, out: Path) -> float:
    """Seconds of the whole command as a repairer runs it."""
    words = ["fill", path, "--units", "mm", "--no-pictures", "--out", str(out)]
    return _timed("-m", "lossfill", *words)[1]


def _timed(*words: str) -> tuple[str, float]:
    """Run Python afresh; its output and how long it took."""
    inherited = os.environ.get("PYTHONPATH")
    places = os.pathsep.join([str(_ROOT), *([inherited] if inherited else [])])
    begin = time.perf_counter()
    done = subprocess.run(
        [sys.executable, *words],
        capture_output=True,
        encoding="utf-8",
        check=False,
        env={**os.environ, "PYTHONPATH": places, "PYTHONUTF8": "1"},
    )
    seconds = time.perf_counter() - begin
    if done.returncode != 0:
        last = (done.stderr.strip() or "no message").splitlines()[-1]
        raise RuntimeError(f"a timed job failed with exit code {done.returncode}: {last}")
    return done.stdout, seconds
