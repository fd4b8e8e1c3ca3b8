"""Losses of sheets, such as tiles and trays, spanned with least bending through both skins.

Read in the order in which the work goes: `flatten` (both skins over a plane), `edge` (the outline,
and what of it is broken), `carry` (the outline carried on), `plan` (what is lost), `plate` (the
skins carried across), `hidden` (how far to trust them), `bridge` (the solid).
"""

from lossfill.donor.sheets.bridge import sheet_bridges
from lossfill.donor.sheets.flatten import is_sheet

__all__ = ["is_sheet", "sheet_bridges"]
