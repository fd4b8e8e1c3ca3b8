"""What a failure becomes: one line on standard error, and an exit code that a script can use.

====  ==================================================================================
code  meaning
====  ==================================================================================
0     done; also where no loss was found
1     a fault of lossfill; a second line says how to report it
2     the scan, an option or the output folder cannot be used as given; the line says why
130   stopped from the keyboard
====  ==================================================================================
"""

from __future__ import annotations

import os
import shlex
import sys
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path

import typer

from lossfill import __version__
from lossfill.cli.words import one_line
from lossfill.errors import BooleanError, LossfillError

OUR_FAULT = 1
BAD_INPUT = 2
STOPPED = 130
"""128 + 2, as a shell reports a command ended by an interrupt."""

TRACEBACK_SWITCH = "LOSSFILL_TRACEBACK"


def exit_code_of(run: Callable[[], object], arguments: Sequence[str]) -> int:
    """Run a command and turn whatever stops it into words and an exit code."""
    try:
        outcome = run()
    except typer.TyperException as error:
        message = error.format_message().replace("Value error, ", "").rstrip(".")
        say(f"{message} (see lossfill --help)")
        return BAD_INPUT
    except (KeyboardInterrupt, typer.Abort):
        outcome = STOPPED
    except LossfillError as error:
        show_traceback_if_asked()
        # A solid that cannot be cut is ours to mend, whatever the scan looks like.
        if isinstance(error, BooleanError):
            return our_fault(error, arguments)
        say(str(error))
        return BAD_INPUT
    except Exception as error:  # noqa: BLE001  the last resort, so that nobody meets a trace
        show_traceback_if_asked()
        return our_fault(error, arguments)
    code = outcome if isinstance(outcome, int) else 0
    if code == STOPPED:
        say("stopped from the keyboard")
    return code


def our_fault(error: Exception, arguments: Sequence[str]) -> int:
    """Say that lossfill is to blame, and what a report needs."""
    reason = one_line(str(error)) or "no reason given"
    kind = type(error).__name__
    say(f"a fault in lossfill, not in what you did: {reason} [{kind}{_where(error)}]")
    hint = (
        "" if _traceback_asked() else f"; {TRACEBACK_SWITCH}=1 before the command shows the trace"
    )
    say(
        f"to report it, send this with the scan: lossfill {__version__}, "
        f"Python {sys.version.split()[0]} on {sys.platform}, "
        f"command: {shlex.join(['lossfill', *arguments])}{hint}"
    )
    return OUR_FAULT


def say(text: str) -> None:
    """Print one line on standard error under our name."""
    print(f"lossfill: {one_line(text)}", file=sys.stderr)


def show_traceback_if_asked() -> None:
    """Print the trace of the error in hand where the environment asks for it."""
    if _traceback_asked():
        traceback.print_exc()


def _traceback_asked() -> bool:
    return os.environ.get(TRACEBACK_SWITCH, "") not in ("", "0")


def _where(error: Exception) -> str:
    """Innermost place of ours in the trace, so that a report without a trace still helps."""
    package = Path(__file__).parents[1]
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if Path(frame.filename).is_relative_to(package)]
    if not ours:
        return ""
    file = Path(ours[-1].filename).relative_to(package.parent).as_posix()
    return f", {file} line {ours[-1].lineno}"
