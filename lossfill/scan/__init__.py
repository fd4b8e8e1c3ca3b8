"""Stage 1: what is in the file, and in which unit."""

from lossfill.scan.read import read_scan
from lossfill.scan.scan import Scan, Unit, UnitSource
from lossfill.scan.units import UNIT_NAMES, unit_from_name, unit_name

__all__ = ["UNIT_NAMES", "Scan", "Unit", "UnitSource", "read_scan", "unit_from_name", "unit_name"]
