"""Missing form without an axis: what a mirror image, a twin or a smooth span has to give.

Read in the order in which the work goes: `stand` (which way up), `donor` (what is given), `lay`
(laid on the body), `form` (all donors of a thing), `expect` (how far to trust one), `lead` (brought
flush with the skin), `find` (what the body lacks of it), `measure` and `losses` (as losses).
"""

from lossfill.donor.form import DonorForm, Twin, find_donors
from lossfill.donor.losses import find_donor_losses
from lossfill.donor.stand import Stand, find_stand

__all__ = ["DonorForm", "Stand", "Twin", "find_donor_losses", "find_donors", "find_stand"]
