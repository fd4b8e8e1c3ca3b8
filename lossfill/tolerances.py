
# --- frame: sampling and axis ---------------------------------------------------------------

NORMAL_CELL_MM = 1.2
"""mm; normals are averaged over this: below a lip's radius, above a scanner's point spacing."""

NORMAL_CELLS_MAX = 4_000_000
"""Cells of the averaging grid at most, so that a large vessel costs no more memory."""

AXIS_STARTS = 12
"""Random starts of the axis fit; with a third of the normals false, 40-line starts still hit."""

AXIS_ITERATIONS = 12
"""Reweighting steps; the fit settles to 1e-4 of the vessel's size in about eight."""

AXIS_SCALE_FLOOR = 0.005
"""Fraction of the vessel's radius: no pot made by hand is rounder, so trust no tighter."""

AXIS_SCORE_CAP = 0.08
"""Fraction of the vessel's radius past which a normal line counts as plainly missing the axis."""

# --- frame: section and profile --------------------------------------------------------------

SECTION_SHARE = 0.22
"""Share of the turn that must show material: below the 40 % of rim left, above any handle."""

SECTION_REACH = 0.995
"""Quantile of radii that bounds the section's grid; a spout or handle may stick out of it."""

SECTION_CELLS = 220
"""Cells along the longer side of the section's grid: 0.3–0.7 mm on a cup or bowl."""

PROJECT_NORMAL_MM = 4.0
"""mm that a full turn of the normal by one radian counts for when a point is dropped on the
profile: about a wall's thickness, so that facing the wrong way costs more than lying 2 walls off."""

SKIN_AGREEMENT = 0.8
"""Cosine; skin faces within 37° of the profile, a break across the wall does not."""

PROFILE_SPACING = 0.0022
"""Profile point spacing as a fraction of the curve's length: 0.4–0.7 mm, a third of a lip's radius."""

REFINE_ROUNDS = 4
"""Rounds of pose and profile refinement; the pose moves by less than 0.01 mm in the last."""

REFINE_SAMPLES = 40_000
"""Samples used for the pose: its error is then a few thousandths of a mm."""

SKIN_REACH = 0.03
"""First search width about the profile as a fraction of the vessel's diagonal (and 2 mm at least):
wider than pots are out of round, narrower than a handle sticks out."""

# --- pack: the gate on written files ---------------------------------------------------------

ROUNDINGS_STL = 1.0
"""Times a coordinate is rounded to float32 on its way into an STL file."""

ROUNDINGS_3MF = 4.0
"""The same for 3MF, in halves of a float32 spacing: one by us and up to two, as measured, in the
library's text of a number (it scales by 10^9 in 32 bits); one more to spare."""

FIT_SAMPLES = 150_000
"""Surface samples for fitting: 2 per mm² on a tea bowl, so each 1 mm of wall is seen."""

AXIS_SAMPLES = 6_000
"""Of these, used for the first axis; its error is then far below what refinement corrects."""

FRAME_COVERAGE_MIN = 0.55
"""Least share of the surface that must follow the profile; breaks, handle and spout take the rest."""

FRAME_RESIDUAL_MAX = 0.012
"""Spread about the elastic profile as a fraction of the vessel's size: a lobed dish stays under it,
a box does not."""

STANDING_MM = 0.3
"""mm above the lowest line that still counts as what the vessel stands on."""

RING_SAMPLES_MIN = 200
"""Samples that a ring needs before its harmonics are worth stating."""
