from __future__ import annotations

import io
import sys

import pytest

from lossfill.cli.progress import progress_bar


class Terminal(io.StringIO):
    """A stream that claims to be a terminal."""

    def isatty(self) -> bool:
        return True


def test_a_terminal_sees_the_stage(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = Terminal()
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(sys, "stderr", terminal)
    with progress_bar() as report:
        assert report is not None
        report("finding [the] axis", 0.5)
    assert "finding [the] axis" in terminal.getvalue()
    assert "50%" in terminal.getvalue()


@pytest.mark.parametrize(("stream", "term"), [(io.StringIO, "xterm"), (Terminal, "dumb")])
def test_a_pipe_and_a_plain_terminal_see_nothing(
    monkeypatch: pytest.MonkeyPatch, stream: type[io.StringIO], term: str
) -> None:
    written = stream()
    monkeypatch.setenv("TERM", term)
    monkeypatch.setattr(sys, "stderr", written)
    with progress_bar() as report:
        assert report is None
    assert written.getvalue() == ""
