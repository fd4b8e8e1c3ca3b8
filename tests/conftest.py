"""What holds for every test."""

from __future__ import annotations

import atexit
import os

import pytest


def pytest_configure(config: pytest.Config) -> None:
    """Let a worker end in silence: see `scripts/run_pytest.py` for what it would else write."""
    if hasattr(config, "workerinput"):
        atexit.register(_mute)


def _mute() -> None:
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
