"""Pytest plugin: lets a worker end in silence; see `run_pytest` for what it would else write."""

from __future__ import annotations

import atexit
import os

import pytest


def pytest_configure(config: pytest.Config) -> None:
    """Mute the errors of a worker's very end, after all that runs at exit has run."""
    if hasattr(config, "workerinput"):
        atexit.register(_mute)


def _mute() -> None:
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
