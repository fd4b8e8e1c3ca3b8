"""Missing form without an axis: what a mirror image, a twin or a smooth span has to give.

Read in the order in which the work goes: `donor` (what is given), `lay` (laid on the body),
`span` and `sheet` (made where there is nothing to copy), `lead` (brought flush with the skin),
`find` (what the body lacks of it).
"""
