"""Missing form without an axis: what a mirror image, a twin or a smooth span has to give.

Read in the order in which the work goes: `stand` (which way up), `donor` (what is given), `lay`
(laid on the body), `form` (all donors of a thing), `expect` (how far to trust one), `lead` (brought
flush with the skin), `find` (what the body lacks of it), `measure` and `losses` (as losses).

`sheets` spans tiles and trays. `handles` does the same for what stands off a turned wall:
`attached` tells it from the wall, `stub` and `section` measure what is left of a bar, `line` and
`span` carry it across.

Nothing is loaded from here: most vessels have an axis and whole handles, and must not wait for it.
"""
