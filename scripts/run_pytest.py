"""Runs pytest and ends with its summary as the last line and its exit code.

What hypothesis keeps of the solids that it drew outlives the solid modeller when Python takes
itself apart, and the modeller then writes a page about leaks below the summary. So Python ends here
as soon as pytest is done and what was registered to run at exit has run. That the program itself
ends in silence is tested on it, in processes of its own.

Each core runs a share of the test files, and each process does its linear algebra in one thread:
more would stand in each other's way. Files start in the order in which `tests/conftest.py` puts
them, the longest first, and not by how many tests they hold.
"""

from __future__ import annotations

import atexit
import os
import sys

for _library in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_library, "1")
# A library among those under test switches the process back to the C locale, in which Python would
# take what other programs print for ASCII.
os.environ.setdefault("PYTHONUTF8", "1")

import pytest  # noqa: E402


def main() -> None:
    """Run pytest with the words of the command line; never returns."""
    shared = ["-p", "quiet_end", "-n", str(os.cpu_count() or 1), "--dist", "loadfile"]
    shared.append("--no-loadscope-reorder")
    code = int(pytest.main([*shared, *sys.argv[1:]]))
    atexit._run_exitfuncs()
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(code)


if __name__ == "__main__":
    main()
