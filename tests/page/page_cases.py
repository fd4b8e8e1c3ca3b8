"""What the steps are given, without a browser."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from lossfill.page.context import Context
from lossfill.page.jobs import new_job
from lossfill.page.runner import Runner


def context_in(jobs: Path, **state: Any) -> Context:
    """A context of a fresh job, whose state may be changed."""
    job = new_job(jobs, "pot.ply", ".ply")
    job.write(job.read().model_copy(update=state))
    return Context(job, Runner(), job.read())


def a_loss(**changes: Any) -> dict[str, Any]:
    """A loss as the losses' stage leaves it."""
    return {
        "number": 2,
        "kind": "chip",
        "clock": "4:30",
        "height_mm": 62.0,
        "on_wall": True,
        "centre_mm": [30.0, -40.0, 62.0],
        "volume_ml": 0.083,
        "thickness_mm": [2.7, 3.2],
        "depth_mm": 2.26,
        "extent_along_mm": 6.5,
        "extent_around_mm": 14.9,
        "join_length_mm": 66.4,
        "expected_error_mm": 0.06,
        "bound_mm": 0.1,
        "source": "revolve",
        "way": "paste in thin layers",
        "way_reason": "up to 3 mm deep and 0.5 ml, on one side",
        "trials": [
            {"source": "revolve", "error_mm": 0.06, "bound_mm": 0.1, "says": "the profile"},
            {"source": "mirror", "error_mm": None, "bound_mm": None, "says": "no plane"},
        ],
    } | changes


def a_piece(**changes: Any) -> dict[str, Any]:
    """A piece as the pieces' stage leaves it."""
    sound = {"passed": True}
    return {
        "name": "2",
        "loss": 2,
        "volume_ml": 0.07,
        "entry": {
            "words": "from above",
            "lean_deg": 19.3,
            "travel_mm": 12.0,
            "from_outside": True,
        },
        "proof": {"stations": 32, "shared_mm3": 0.0, "rub_mm": 0.0, "passed": True},
        "seat_mm2": 100.0,
        "seat_lost_mm2": 12.0,
        "trimmed": 0,
        "check": sound,
        "check_3mf": sound,
    } | changes
