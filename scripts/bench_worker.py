"""One timed job in a process of its own, for `bench_speed`; prints one JSON object.

    python scripts/bench_worker.py floor SCAN LOW HIGH     the least that any tool has to do
    python scripts/bench_worker.py fill SCAN OUT MODULES   the whole road, from file to folder
    python scripts/bench_worker.py modules SCAN OUT        names of the modules that the road loads

The clock of `floor` and `fill` starts after every module that the job needs has been imported, and
the peak of memory is given both then and at the end.
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from importlib import import_module
from pathlib import Path
from typing import Any

__all__ = ["peak_mb"]


def peak_mb() -> float:
    """Largest memory that this process has held, in 10⁶ bytes.

    Linux's own high-water mark comes first: `ru_maxrss` there never falls below what the parent
    held when it started this process.
    """
    with suppress(OSError):
        for line in Path("/proc/self/status").read_text(encoding="ascii").splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) * 1024 / 1e6
    import resource

    unit = 1 if sys.platform == "darwin" else 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 1e6


def floor(scan: str, low: str, high: str) -> dict[str, float]:
    """Read the file, build one solid, cut one chunk out of it.

    Parameters
    ----------
    scan : binary PLY of points of three 32-bit floats and triangles, as `make_meshes` writes it
    low, high : corners of a box around one loss, JSON lists of mm
    """
    import manifold3d
    import numpy as np

    corners = np.array([json.loads(low), json.loads(high)])

    def job() -> tuple[int, float]:
        with open(scan, "rb") as file:
            counts = []
            while (line := file.readline()) != b"end_header\n":
                if line.startswith(b"element "):
                    counts.append(int(line.split()[2]))
            points = np.fromfile(file, "<f4", 3 * counts[0]).reshape(-1, 3)
            row = np.dtype([("n", "u1"), ("corner", "<u4", (3,))])
            faces = np.ascontiguousarray(np.fromfile(file, row, counts[1])["corner"])
        solid = manifold3d.Manifold(manifold3d.Mesh(points, faces))
        box = manifold3d.Manifold.cube(tuple(corners[1] - corners[0])).translate(tuple(corners[0]))
        # The library cuts only when it is asked for something of the result.
        return solid.num_tri(), (solid ^ box).volume()

    seconds, idle_mb, (triangles, volume_mm3) = _measured(job)
    return {
        "seconds": seconds,
        "idle_mb": idle_mb,
        "peak_mb": peak_mb(),
        "triangles": triangles,
        "volume_mm3": volume_mm3,
    }


def fill(scan: str, out: str, modules: str) -> dict[str, float]:
    """Walk the whole road and write the folder, without pictures.

    Parameters
    ----------
    scan, out : the file and the folder
    modules : JSON file with the names of the modules to import before the clock starts
    """
    for name in json.loads(Path(modules).read_text(encoding="utf-8")):
        # Names that a library gives to parts of itself at run time cannot be imported again.
        with suppress(ImportError):
            import_module(name)
    seconds, idle_mb, pieces = _measured(lambda: _walk(scan, out))
    return {"seconds": seconds, "idle_mb": idle_mb, "peak_mb": peak_mb(), "pieces": pieces}


def modules(scan: str, out: str) -> list[str]:
    """Names of the modules that the road loads, in the order in which it loads them."""
    before = set(sys.modules)
    _walk(scan, out)
    return [name for name in sys.modules if name not in before]


def _walk(scan: str, out: str) -> int:
    """Design and write; the number of pieces."""
    from lossfill import Settings, design, write_pack
    from lossfill.scan import Unit

    made = design(Path(scan), Settings(units=Unit.MILLIMETRE))
    return len(write_pack(made, Path(out), pictures=False).pieces)


def _measured(job: Callable[[], Any]) -> tuple[float, float, Any]:
    """Seconds that a job takes, memory before it, and what it returns."""
    idle_mb = peak_mb()
    begin = time.perf_counter()
    result = job()
    return time.perf_counter() - begin, idle_mb, result


if __name__ == "__main__":
    jobs: dict[str, Callable[..., object]] = {"floor": floor, "fill": fill, "modules": modules}
    print(json.dumps(jobs[sys.argv[1]](*sys.argv[2:])))
