"""The command line: options in, one call to the road, words out. No geometry lives here.

Nothing heavy is imported until a command runs, so that ``lossfill --help`` answers at once.
"""

from lossfill.cli import air_app as _air_app  # these imports put the commands on the list
from lossfill.cli import cure_app as _cure_app
from lossfill.cli import make_app as _make_app
from lossfill.cli import mix_app as _mix_app
from lossfill.cli import page_app as _page_app
from lossfill.cli import record_app as _record_app
from lossfill.cli.app import main

__all__ = ["main"]

del _air_app, _cure_app, _make_app, _mix_app, _page_app, _record_app
