"""Check a made piece: does it match its design, where not, and will it go in."""

from lossfill.check.check import check_piece_scan, check_scan
from lossfill.check.checked import Checked
from lossfill.check.settings import CheckSettings
from lossfill.check.words import lines_of

__all__ = ["CheckSettings", "Checked", "check_piece_scan", "check_scan", "lines_of"]
