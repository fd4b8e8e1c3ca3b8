"""What all pages share."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from lossfill.page.runner import Runner


@dataclass(frozen=True, slots=True)
class Site:
    """What all pages share.

    Parameters
    ----------
    jobs : folder of all jobs
    runner : the workers
    demo : the demo scan, or None where this installation has none
    """

    jobs: Path
    runner: Runner
    demo: Path | None
