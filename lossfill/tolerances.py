"""Every fixed tolerance: its name, its unit, and the reason for its size.

Rounding tolerances scale with the size of what is rounded. What a repairer may choose, such as the
clearance, is a setting and lives in `road.Settings`.
"""

# --- frame: sampling and axis ---------------------------------------------------------------

NORMAL_CELL_MM = 1.2
"""mm; normals are averaged over this: below a lip's radius, above a scanner's point spacing."""

NORMAL_CELLS_MAX = 4_000_000
"""Cells of the averaging grid at most, so that a large vessel costs no more memory."""

NORMAL_TRIANGLES = 500_000
"""Triangles at least that are averaged: ten or more in a cell of the largest vessel."""

NORMAL_AGREEMENT = 0.5
"""Least length of an averaged normal: a scanner's noise leaves 0.9, two facing skins near 0."""

AXIS_STARTS = 12
"""Random starts of the axis fit; with a third of the normals false, 40-line starts still hit."""

AXIS_ITERATIONS = 12
"""Reweighting steps; the fit settles to 1e-4 of the vessel's size in about eight."""

AXIS_SCALE_FLOOR = 0.005
"""Fraction of the vessel's radius: no pot made by hand is rounder, so trust no tighter."""

AXIS_MET_MIN = 0.18
"""Share of the normals that must pass near the axis: of boxes 0.13 do and of tiles 0.07, of an oval
jug of 1.3 to 1 with a handle 0.22, of a bowl 0.9."""

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
profile: a wall's thickness, so that facing the wrong way costs more than lying two walls off."""

SKIN_AGREEMENT = 0.8
"""Cosine; skin faces within 37° of the profile, a break across the wall does not."""

PROFILE_SPACING = 0.0022
"""Spacing of profile points over the curve's length: 0.4–0.7 mm, a third of a lip's radius."""

REFINE_SAMPLES = (9_000, 9_000, 37_000, 37_000)
"""Samples used for the pose, round by round: the first two only have to come near, and the error
of the last is a few thousandths of a mm."""

SKIN_REACH = 0.03
"""First search width about the profile as a fraction of the vessel's diagonal (and 2 mm at least):
wider than pots are out of round, narrower than a handle sticks out."""

# --- pack: the gate on written files ---------------------------------------------------------

ROUNDINGS_STL = 1.0
"""Times a coordinate is rounded to float32 on its way into an STL file."""

ROUNDINGS_3MF = 4.0
"""The same for 3MF, in halves of a float32 spacing: one by us and up to two, as measured, in the
library's text of a number (it scales by 10^9 in 32 bits); one more to spare."""

FIT_SAMPLES = 110_000
"""Surface samples for fitting: two or three for each cell of the form on a large bowl."""

AXIS_SAMPLES = 6_000
"""Of these, used for the first axis; its error is then far below what refinement corrects."""

FRAME_COVERAGE_MIN = 0.55
"""Least share of the surface that must follow the profile; breaks and handle take the rest."""

HOLLOW_MIN = 0.01
"""Least depth of the hollow over the vessel's size; a flat platter has 0.03, a solid lump none."""

FRAME_RESIDUAL_MAX = 0.012
"""Spread about the elastic profile as a fraction of the vessel's size: a lobed dish stays under it,
a box does not."""

STANDING_MM = 0.3
"""mm above the lowest line that still counts as what the vessel stands on."""

RING_SAMPLES_MIN = 200
"""Samples that a ring needs before its harmonics are worth stating."""

# --- body: welding and debris ----------------------------------------------------------------

WELD_ROUNDING = 1e-5
"""Times the diagonal; covers coordinates written with six digits (1.6 µm on a 160 mm bowl), and is
a hundredth of a scanner's point spacing."""

DEBRIS_AREA = 0.01
"""Share of the largest part's area below which a part may be a scrap: a handle has 3 % or more."""

DEBRIS_EXTENT = 0.10
"""Share of the largest part's diagonal below which it may be one: 15–20 mm beside a bowl."""

SCRAPS_MIN = 20
"""Parts; fewer are objects rather than scraps, and are told apart one by one."""

SCRAPS_AREA = 0.10
"""Share of all area: where the largest part has less, no part of the scan is the vessel."""

# --- body: openings --------------------------------------------------------------------------

PATCH_WIDTH = 0.25
"""Times the diagonal; the widest opening in a wall that is closed by bending a patch (40 mm on a
160 mm bowl or mug): at that width a real bowl's wall is met to 0.15 mm RMS, 0.5 mm at worst."""

PATCH_STIFFNESS = 1e-3
"""Smoothing of a patch's thin plate with lengths in rim widths. Without it two points that lie
close but differ by noise set a slope that is carried across the opening (0.11 mm off instead of
0.04 at 26 mm wide)."""

PATCH_FACING = 0.9
"""Mean cosine of the skin around an opening to the opening's own normal (25°): the skin runs on
across an opening that it faces, and ends at the others, such as the underside of a foot."""

PATCH_FACING_BENT = 0.4
"""The same for a rim that is not flat, which leaves no flat patch to choose (66°)."""

FLAT_RIM = 0.02
"""Deviation from a plane as a share of the width; a rim cut by a turntable is within it."""

FLAT_RIM_JAG = 0.03
"""Further share of the width, at most, that a rim may be jagged by the length of its own edges."""

CAP_AREA = 0.35
"""Share of the vessel's outline that a flat patch may cover without further proof. The underside
of a bowl's foot is half the bowl's width, so a quarter of its outline; the rim is all of it."""

CAP_DEPTH = 0.75
"""Depth of material behind a flat patch as a share of its width: a floor is thin, but behind the
mouth of a vessel scanned from outside only there is the whole height."""

CAP_HOLLOW = 0.6
"""Share of its hull that a vessel capped wider than `CAP_AREA` may fill: walled vessels have 0.15
to 0.4, a thick mortar 0.58; one scanned from outside only becomes a plug of 0.7 to 1."""

CAP_SOLID = 0.75
"""The same for a smaller flat patch, which is the less likely to be a mouth."""

FOLDED = 0.02
"""Share of a laid-out rim's area that may lie face down: what scan noise does to a jagged rim."""

PINHOLE_WIDTH = 0.03
"""Times the diagonal (5 mm on a 160 mm bowl); below it an opening is closed wherever it lies, as no
vessel has so narrow a mouth."""

SHORT_RIM_EDGES = 120
"""Edges; the longest rim closed by least area where it cannot be laid out flat. The work grows with
the cube; it is 0.1 s here."""

SHORT_RIM_WIDTH = 0.10
"""Times the diagonal; least area cuts straight across, which on a 15 mm opening errs by 0.5 mm."""

# --- body: scans of one skin -------------------------------------------------------------------

WALL_MOST = 0.12
"""Times the diagonal; a wall is thinner (16 mm on a 120 mm bottle) and a hollow is wider."""

TWO_SKINS_SHARE = 0.6
"""Share of the surface with the other skin behind it from which a scan counts as one of both."""

TWO_SKINS_PLACES = 30
"""Places near an edge, of a few thousand all over, at which both skins must be seen for the wall to
be measured between them."""

HOLE_FACING = 0.5
"""Mean cosine of the skin about a flat opening to its normal (60°), above which it is a hole in the
wall and not the vessel's mouth."""

SKINS_ALONGSIDE = 0.8
"""Cosine between the two skins of a wall, at least (37°): it tapers, and scans are noisy."""

LUMP_WALL = 0.08
"""Times the diagonal; a mean wall thicker than this after holes were closed may be a lump made of
one skin: walled vessels have 0.02 to 0.05."""

RAY_START = 1e-4
"""Times the diagonal that a ray starts inside the skin: far above 32-bit rounding."""

WALL_RANGE_MM = (0.5, 50.0)
"""mm; walls thinner or thicker than this are not thrown, and a slip of the unit is likely."""

WALL_PAN = 1.5
"""Walls by which an edge is sunk: past the hollow's border, and no farther than it must."""

WALL_CELL = 0.4
"""Walls per cell of the laid skin: it errs by h²/8R, 0.01 mm at a wall of 3 mm."""

WALL_COLLAPSE_MM = 0.005
"""mm that the laid skin may give for fewer triangles: far below what is known of it."""

WALL_CELLS = (100, 300)
"""Cells along the diagonal at least, however thick the wall, and at most: a large jar takes some
seconds."""

CALM_ROUNDS = 6
"""Rounds of smoothing the skin that the inner one follows: a third of the noise is left."""

CALM_STEPS = (0.5, -0.53)
"""Shares of the way to the neighbours' middle, to and fro, in a round."""

BREAK_REACH = 1.6
"""Walls from an edge within which scanned break faces are looked for."""

BREAK_REACH_SHARE = 0.12
"""Times the diagonal; the longest such reach tried where the wall is not known yet."""

BREAK_REACH_MM = 2.5
"""mm; the shortest such reach."""

BREAK_AGREEMENT = 0.15
"""Share by which widths of a strip found with two reaches may differ."""

BREAK_CALM = 0.15
"""Times the reach about a face over which the lie of the land is averaged."""

BREAK_WITHIN = 0.75
"""Share of the reach within which a strip must end: farther on only skin may follow."""

BREAK_COSINE = 0.7
"""Cosine to the skin's normal below which a face along an edge is a break (45°): half-way between
along the skin and square to it."""

BREAK_BESIDE = 0.9
"""Cosine to the skin's normal below which a face beside break faces belongs to them (26°)."""

BREAK_INNER = 0.6
"""Walls from where a break ends inside within which there is nothing but break."""

BREAK_SHARE = 0.4
"""Share of an edge that must end in break faces before their width is taken for the wall."""

LIP_TURN = 0.1
"""Mean cosine towards an opening's middle from which the skin has turned over a lip."""

BOTTOM_WIDTH = 0.3
"""Least width of a bottom over the vessel's: a smaller flat opening is a loss."""

BOTTOM_FACING = 0.3
"""Cosine by which the opening at the other end must face away from a bottom; a rim with a large
loss is tilted."""

BOTTOM_DEPTH = 0.9
"""Share of the scan's depth behind a bottom at which the other end begins."""

# --- body: soundness -------------------------------------------------------------------------

SHEET_THICKNESS = 1e-4
"""Times the diagonal; twice volume over area is the mean wall, never under 0.02 mm in a pot."""

OVERLAP_WINDING = 0.3
"""By how much the material's mean count in a cell may leave 0 to 1; sampling alone reaches 0.1."""

OVERLAP_SHARE = 0.005
"""Share of the material counted twice (or inside out) that is still a scanner's noise."""

OVERLAP_CELLS = 64
"""Cells along the diagonal for that count: 2.5–4 mm, about a wall."""

# --- form ------------------------------------------------------------------------------------

CELL_MM = 1.5
"""mm; a cell holds about three samples, and no loss worth a piece is narrower than two cells."""

CELL_COLUMNS = (120, 600)
"""Columns around the turn at least and at most."""

CELL_SAMPLES = 3.0
"""Samples that a cell should hold on average, or too many are empty by chance."""

ELASTIC_ORDER = 4
"""Highest elastic harmonic; measured on real bowls, higher ones gain nothing."""

HARMONIC_HOLD = 0.02
"""Share of the samples that count as independent where the axis is settled beside the low
harmonics, which are expected to be as small as below. Without that, with three tenths of a lobed
dish gone, the harmonics make up for an axis 2 mm off."""

ELASTIC_DEVIATIONS = (0.01, 0.005, 0.004, 0.0015, 0.0006)
"""Expected amplitude of harmonics 0–4 over the vessel's size: both walls of real bowls show 0.1–0.4
mm of the second, 0.06–0.15 of the third and 0.04 of the fourth on 90–160 mm. The first is how far
an axis found from half a rim is off. The mean is left free, for a profile taken from half a rim
is off by the harmonics that the other half carried."""

THICKNESS_DEVIATIONS = (float("inf"), 0.002, 0.0008, 0.0004, 0.0002)
"""The same for the wall's thickness: two scanned vessels of 160 and 90 mm show 0.15 and 0.07 mm of
the first, 0.07 and 0.05 mm of the second and less of the higher. The mean is the profile's."""

REPEAT_DEVIATION = 0.005
"""The same for the harmonics of flutes and lobes, once they have been found."""

ELASTIC_LENGTH_MM = 60.0
"""mm along the wall over which the out-of-round changes: clay bends on the scale of the wall. Half
of it predicts wide losses of one scanned bowl clearly worse, those of other pots about alike."""

KNOT_MM = 7.0
"""mm between knots of the elastic field along the profile: an eighth of the length above."""

KNOTS_MAX = 48
"""Knots at most, which keeps the dense solve to a fraction of a second on a large platter."""

REPEAT_MAX = 48
"""Largest number of flutes looked for."""

REPEAT_SHARE = 0.2
"""Share of the residual's power that one harmonic must carry to be taken for flutes or lobes."""

MIRROR_PLANES = 4
"""Planes tried in full: the best few by the quick count of how alike both sides are."""

MIRROR_AS_GOOD = 1.15
"""Times the best plane's residual up to which another is as good: more than chance makes."""

COPY_CELLS = 4_000
"""Cells by which an image is laid onto the skin: its seven numbers then err by hundredths."""

COPY_OVERLAP_MIN = 0.3
"""Share of the best overlap that a copy must have to be compared at all."""

COPY_WEIGHT_MIN = 0.25
"""Samples behind a place of an image: with less, it lies on the edge of a gap."""

COPY_ROUNDS = 4
"""Rounds of laying an image onto the skin; it moves by less than 0.01 mm in the last."""

COPY_ROUNDS_AGAIN = 2
"""The same when some skin has been hidden: it starts where it was."""

COPY_STEP_RAD = 0.03
"""Radians that an image may be turned by in a round: about a cell, as far as a slope holds."""

COPY_STEEP = 6.0
"""Times the usual slope around the turn past which a cell is the edge of damage, not relief."""

COPY_REWEIGHTED = 8
"""Times that outliers are set aside anew in a round: a deep dent takes some to lose its say."""

COPY_RIDGE = 1e-4
"""Hold on each part of that motion, against 1 for what the skin shows of it."""

TURN_AS_GOOD = 0.05
"""The same by which a finer repeat may be worse than a coarser one of which it is a part."""

TURN_LEFT_MAX = 0.25
"""Share of the skin's variation that may be left between repeats: flutes and lobes leave 0.04 to
0.13 with three tenths of the turn gone, waves that do not repeat 0.30 and more."""

TWIN_STARTS = 48
"""Turns about the axis from which a twin is laid on: every 7.5°, within reach of most relief."""

TWIN_FACTORS = (0.7, 1.4)
"""Smallest and largest scale at which a twin is looked for: past it, it is no vessel of the set."""

TWIN_FACTOR_STEP = 0.01
"""Relative step between the scales tried first: half a mm on a 100 mm vessel, within reach of the
fit that follows."""

TWIN_APART_MM = 3.0
"""mm past which a twin's profile is plainly off: farther says nothing about the scale."""

TWIN_SIZE_ROUNDS = 5
"""Rounds of settling a twin's size, at most; two or three do."""

TWIN_SIZE_ROUNDING = 1e-4
"""Change of a twin's scale that ends them: 0.01 %, a tenth of the last digit that is stated."""

TWIN_SIZE_PARTS = 8
"""Parts of the turn left out one by one to see how sure a twin's size is."""

TWIN_SIZE_FINE_PERCENT = 0.3
"""% of standard error below which tenths of a percent are stated of a twin's size."""

FOLLOW_MM = 5.0
"""mm over which a source is led over to the revolved form where it shows nothing."""

BRIDGE_MARGIN_MM = 20.0
"""mm of skin about a gap that a bridge rests on: enough for its slope and bend."""

FREE_EDGE = 1e-6
"""Share of its stiffness that the edge of a free span keeps, so that it stays determined."""

BRIDGE_LENGTH_MM = 500.0
"""mm; far wider than any gap, so that nothing but bending costs."""

BRIDGE_GIVE_MM = 5.0
"""mm over which a bridge evens out what it rests on: longer than texture."""

CONFORM_LENGTH_MM = 12.0
"""mm over which the residual's course at the join still says something about the gap."""

SKIN_LOW_MM = 0.4
"""mm; skin may lie this far under the elastic form, a loss lies deeper (0.5 mm and more)."""

SKIN_SPREADS = 3.5
"""The same in robust spreads, for rough or strongly uneven pots: one sample in 2000 by chance."""

PATCH_CELLS = 20.0
"""Neighbouring cells that say the same thing twice: texture is alike over some 7 × 7 mm."""

GAP_AREA_MM2 = 6.0
"""mm²; a smaller spot without skin is texture: the smallest loss (20 mm³) uncovers more."""

EDGE_MM = 3.0
"""mm from a gap in which the skin is compared with what lies beyond: two cells of a spall's rim."""

SHALLOWS_MM = 4.5
"""mm; a spall's rim runs out over about three cells before it is deep enough to be told alone."""

FLAKE_BLUR_MM = 1.2
"""mm; deviation of the mean by which flakes are looked for: a third of the smallest one's width."""

FLAKE_SURROUNDINGS_MM = 6.0
"""mm; the same of the surroundings that a flake lies below: twice the smallest one's width."""

FLAKE_SEEN_MM = 0.15
"""mm that the mean must lie low: half of a depth of 0.3 mm, for half of the mean is the edge."""

FLAKE_SHARE = 0.5
"""Share of the limit down to which cells about a flake's deepest belong to it."""

FLAKE_SPREADS = 5.0
"""Spreads of its row, less that of a smooth skin, by which the mean must lie low: sandy clay with
0.12 mm RMS of texture has dips of 4."""

FLAKE_SMOOTH_MM = 0.012
"""mm; spread of the mean that scanner's noise and rings leave on a glazed skin."""

FLAKE_ASIDE = 4.0
"""Spreads off its surroundings at which a cell has no say in where they are."""

FLAKE_DEEP_SHARE = 0.18
"""Share of a flake's own depth down to which its cells belong to it: over 0.2 mm of 1.2 mm."""

FLAKE_EDGE_SHARE = 0.4
"""The same in the cell about them, which the form would follow down into a deep spall."""

FLAKE_AREA_MM2 = 15.0
"""mm² that a flake's cells must cover: one of 25 mm² loses half a cell to the mean all round."""

FLAKE_SLOPE = 0.045
"""mm per mm across a flake's edge from one cell to the next: half of what its cells leave of it."""

FLAKE_LIP_MM = 3.0
"""mm from the lip within which no flake is looked for: it would be a chip of the lip."""

FLAKE_ROUNDS = 3
"""Rounds of setting aside what lies off the surroundings."""

FLAKE_ROW_CELLS = 10
"""Cells with skin that a row needs before its spread says something."""

GAP_SAMPLES = 14.0
"""Samples that a spot without skin should have held: by chance it holds none once in a million."""

STIFFNESSES = (0.5, 2.0)
"""Stiffnesses tried. Below the first a loss of half the turn is free to swing by twice its error
at the best one (on three dozen wide losses of two scanned vessels and of thrown ones); above the
second it loses the axis that half a rim left askew (seen on one of the scanned, in a few)."""

STIFFNESSES_OUTLINED = (0.05, 0.15)
"""Tried besides where an outline was fitted, which leaves more to the field than round pots do."""

STIFFNESS_START = 1.0
"""Stiffness of the first fit, which only has to tell skin from break."""

PATCHES_MAX = 8
"""Hidden patches predicted per stiffness: more change the choice seldom and cost a solve each."""

PATCH_WIDTHS_DEG = (25.0, 70.0)
"""Narrowest and widest hidden patch; a wider one would leave too little to predict it from."""

PATCH_SEEN_MIN = 0.8
"""Share of a patch that must really be there before it may be hidden."""

PATCH_CLEAR_MM = 5.0
"""mm that a patch moved along the wall stays off lip, foot and floor: they are shaped otherwise."""

PATCH_MOVED_MIN = 0.3
"""Share of its own height that a patch is moved by at least: less would be the same place again."""

ROUNDNESS_PLACES = 720
"""Places around the turn by which an outline's roundness is told: far more than lobes have."""

LOBES_GROWTH = 2.0
"""Times the error of hidden patches that lobes err over a wider loss: 1.9 to 2.1 on dishes of eight
lobes, round and 1.15 to 1 oval, with a third of the rim gone."""

CONFORM_MARGIN_MM = 15.0
"""mm of skin about a gap that decides how the form runs into it: a little over the length above."""

RESIDUAL_TYPICAL_MM = 0.15
"""mm that skin strays from the elastic form on a real pot: sets what stiffness 1 means."""

RESIDUAL_FLOOR_MM = 0.02
"""mm; a smoother vessel than this is a drawing, and the residual field needs some freedom."""

NOISE_FLOOR_MM = 0.01
"""mm; no scanner is better, and the residual field must not chase rounding."""

MISFIT_SHOWN_MM = 5.0
"""mm; farther than this a point does not belong to the form at all."""

# --- scan: size and sanity of what is read -----------------------------------------------------

SMALLEST_VESSEL_MM = 20.0
"""mm, largest side: nothing smaller is mended with fills, and a wrong unit would land below."""

LARGEST_VESSEL_MM = 1000.0
"""mm, largest side: storage jars end about here, and a wrong unit would land above."""

RIM_LEAST_MM = 5.0
"""mm; the narrowest mouth whose diameter can be measured well enough to scale a vessel by."""

RIM_ROUNDS = 4
"""Times the vessel is stood up to find its scale, at most; real shapes take two."""

RIM_SCALE_ROUNDING = 1e-3
"""Change of scale that ends the search: 0.1 mm on a 100 mm rim, as well as one can measure it."""

POINTS_MIN = 500
"""Points; fewer do not show a vessel's two skins."""

SPACING_POINTS = 20_000
"""Points from which the spacing is taken: enough for a median."""

SPACING_NEIGHBOURS = 8
"""Neighbours that tell how far points lie apart: the nearest alone would be too near by chance."""

NORMAL_NEIGHBOURS = 16
"""Neighbours that a normal is found from: two rings, still within one skin of a wall."""

POISSON_BOX = 1.1
"""Side of the cube that is halved, over the scan's: room for the surface to close."""

POISSON_DEPTHS = (6, 11)
"""Halvings at least and at most; each makes eight times the cubes."""

POISSON_THIN = 1.5
"""Halvings by which points must be thinner than is usual in the scan to count as thin there."""

SUPPORT_SPACINGS = 3.0
"""Point spacings from the nearest point past which the surface is made up."""

SUPPORT_THIN_SPACINGS = 1.5
"""The same where the points are thin."""

MOST_TRIANGLES_READ = 50_000_000
"""Triangles; files that repeat one part many times can ask for more than any memory holds."""

MOST_UNPACKED_BYTES = 2 << 30
"""Bytes that a packed file may unpack to: as 3MF text, 20 million triangles take about that."""

MOST_PARTS_READ = 10_000
"""Copies of parts in one file; a scan has one, and nesting can ask for billions in a few lines."""

SHIFT_RIDGE = 0.01
"""Hold on a wall's shift, against 1 for what the skin shows of it: a hundredth of the shift."""

SMOOTH_MM = 4.0
"""mm; what varies more slowly than this is shape, the rest texture."""

TEXTURE_LENGTH_MM = 3.5
"""mm over which the skin's texture forgets itself, as on the rough inside of a scanned bowl."""

JOIN_REACH_MM = 4.0
"""mm from a gap's edge in which single samples say how the skin runs into it: past this what they
say has faded out."""

JOIN_LENGTH_MM = 1.0
"""mm over which the skin forgets its texture there: a scanned bowl's triangles are twice as long,
and a longer one swings off the skin of smooth pots."""

JOIN_SPACINGS = 1.2
"""The same in spacings of the samples at least, or nothing lies near enough to say anything."""

JOIN_SAMPLES = 12
"""Nearest samples asked at each place; sixteen say no more."""

JOIN_NOISE_MM = 0.03
"""mm of scatter to allow for at least, so that two close samples set no slope."""

TEXTURE_CELLS = 4.0
"""Cells over which the texture is alike, so that they count once for the smooth part."""

# --- losses ----------------------------------------------------------------------------------

TUCK_MM = 0.03
"""mm below the body's skin at the join: less than a finger feels, more than float rounding."""

TUCK_SPREADS = 2.5
"""Further tuck away from the join, in spreads of texture and noise: 1 place in 160 shows."""

TUCK_GUESSED_MM = 1.0
"""mm of tuck where a scan hole was closed by guessing."""

BLANK_MARGIN_MM = 4.0
"""mm that a blank runs on past its gap: two cells of tuck and two to spare."""

BLANK_FULL_TURN = 0.85
"""Share of the turn above which one blank over the full turn is simpler than an arc."""

BLANK_CELL_MM = 0.75
"""mm between a blank's columns: its chords lie within 0.002 mm of a 40 mm circle."""

LOSS_VOLUME_MM3 = 20.0
"""mm³; a smaller loss is filled freehand, no piece could be held to fit it."""

LOSS_DEPTH_MM = 0.5
"""mm; shallower than this is texture, wear or a seam."""

SPALL_DEPTH_MM = 0.27
"""mm; a spall is 0.3 mm deep or more, and the form's skin above it may lie a tenth too low."""

SPALL_AREA_MM2 = 22.0
"""mm²; a spall takes 25 mm² of skin or more, of which the tuck at the join hides a narrow
strip all round."""

SPALL_VOLUME_MM3 = 3.0
"""mm³; the least of both, with a flat bottom and an edge all round that halves it."""

SPALL_EDGE_MM = 1.0
"""mm from the join at which a spall's edge is judged: past its crumbs, within its width."""

SPALL_SLOPE = 0.13
"""mm of depth per mm of way that a spall's edge falls by, at least: a finger mark on a scanned
ramekin runs out by 0.09 to 0.11, dishes of 0.4 mm in 60 mm² by 0.15 to 0.25."""

SPALL_DOUBT = 0.35
"""Share of a loss's new skin past which it would not have been seen but for the search for spalls,
and must be one."""

SPALL_OVERLAP = 0.5
"""Share of a loss's new skin that must lie where a spall was seen: where it is less, most of it is
what the form misses all about."""

DEPTH_SPACING_MM = 0.7
"""mm between places of a break at which its depth is measured: a break is smoother than that."""

THICKNESS_PLACES = 2_000
"""Places of new skin at which the wall is measured: enough for a percentile."""

CROP_MARGIN_MM = 1.0
"""mm by which the body is cropped wider than the blank that it is cut from."""

GUESSED_MARGIN_MM = 2.0
"""mm about a closed scan hole that count as guessed too: its edge is where scans fray."""

LIP_ZONE_WALLS = 1.0
"""Walls' widths along the profile on either side of the lip that belong to the lip."""

THROUGH_AREA_MM2 = 10.0
"""mm² of new skin on both sides, away from the lip, that make a loss go through the wall."""

SKIN_AGREEMENT_SHARP = 0.9
"""Cosine for a triangle's own normal, which suffices alone: within 26° of the profile."""

SKIN_AGREEMENT_LEAST = 0.5
"""Cosine below which a triangle's own normal rules it out, however its neighbours face."""

SAG_MM = 0.08
"""mm below the skin about it at which a sample belongs to a break rather than to texture."""

SAG_SPREADS = 2.5
"""The same in spreads of the local texture: 1 in 160 of fair samples goes with them."""

RING_MM = 0.1
"""mm; expected depth of throwing rings beyond what the mean profile shows."""

RING_CELLS = 6.0
"""Cells along a row over which texture is alike, so that they count once for the rings."""

# --- cracks ----------------------------------------------------------------------------------

CRACK_WIDTH_MM = (0.05, 1.6)
"""mm; the narrowest groove that a scan shows and the widest that is no loss (1.5 and its error)."""

CRACK_RAGGED_MM = 0.2
"""mm by which a crack's edges may be ragged in the scan."""

CRACK_VOLUME_MM3 = 2000.0
"""mm³; a seam of 1.5 mm through a wall of 6 mm and 200 mm long has less."""

CRACK_PLACE_MM2 = 0.1
"""mm² of skin for each place at which a crack's depth is asked: three across the widest."""

CRACK_PLACES = 4000
"""Such places at most: enough for a quantile."""

CRACK_DEEP_SHARE = 0.4
"""Share of the depth of its deepest twentieth from which a place counts as deep."""

CRACK_LENGTH_MM = 8.0
"""mm; a shorter groove is a scratch or a pit."""

CRACK_SLENDER = 5.0
"""Times its width that a crack is long at least."""

CRACK_DEEP = 0.5
"""Times its width that a crack is deep at least: scanners round off its bottom."""

CRACK_FACING = 0.75
"""Cosine to the form's normal below which a sample may stand on a crack's wall (41°)."""

CRACK_LOW_MM = 0.08
"""mm below the form at which such a sample lies at least: texture is steep, too, but not low."""

CRACK_LOW_SPREADS = 3.0
"""The same in spreads of single samples about the skin."""

CRACK_SECTORS = 36
"""Parts of the turn in which steep samples are looked for."""

CRACK_TURN_MAX = 0.4
"""Share of them past which a row is a turned groove or a corner: a crack wanders across rows."""

CRACK_CLEAR_MM = 2.0
"""mm from a loss within which steep samples belong to its break."""

CRACK_REACH_MM = 1.5
"""mm from one sample of a crack to the next: wider than the crack."""

CRACK_REACH_SPACINGS = 2.5
"""The same in spacings of the samples, which on a shallow groove lie far apart."""

CRACK_SAMPLES = 12
"""Samples that a crack shows at least; fewer set no width."""

CRACK_MOUTH_MM = 1.0
"""mm below the skin in which a crack's mouth is measured: deeper down it leans aside."""

CRACK_OUTER_SHARE = 0.25
"""Share of those samples on the outer skin from which a crack counts as one of the outside."""

CRACK_STATION_MM = 2.0
"""mm between the places along a crack at which it is measured: shorter than its bends."""

CRACK_WALLS_SHARE = 0.6
"""Share of these places that must show both walls; a step shows one."""

CRACK_OPPOSED = 0.85
"""Share of the samples on the walls that must face the crack's middle: half do by chance."""

# --- fill ------------------------------------------------------------------------------------

CLEARANCE_MAX_MM = 1.0
"""mm; a wider gap is filled with paste, not with adhesive."""

CLEARANCE_CELL_MM = 0.25
"""mm; grid of the clearance's surface: finer than a break's roughness, its error stays under
0.02 mm where the break's bumps are rounder than 0.5 mm."""

PIECE_SHARE_MIN = 0.2
"""Share of the loss that must be left once the clearance is cut."""

COLLAPSE_MM = (1e-6, 1e-5, 1e-4, 1e-3, 5e-3)
"""mm by which tiny triangles may be collapsed before rounding, tried in order; all lie far below
what a printer resolves."""

# --- frame: oval and lobed outlines ------------------------------------------------------------

OUTLINE_NONE = 0.1
"""Fraction of the radius: what strays farther from round or oval is no turned vessel at all: a
tile strays by 0.14 and a box by 0.26, a squeezed bowl by 0.05."""

OUTLINE_SWING = 0.02
"""Fraction of the radius: smaller lobes are left to the elastic form (1.6 mm at 160 mm), and larger
low harmonics are told of, for at 0.024 wrong chips appear on the rim of a squeezed bowl."""

OUTLINE_ORDER = 4
"""Harmonics of an outline besides its lobes."""

OVAL_MIN = 1.03
"""Longer over shorter diameter from which a vessel counts as oval. Round pots, real and made up,
have up to 1.02, lobed ones 1.023; what is rounder than this the elastic form follows well."""

OVAL_MIN_HALF = 1.05
"""The same where little of the turn is left: halves of bowls and mugs whose second harmonic is that
of thrown pots (1.015 to 1.02) come out with up to 1.047, and with their axis then 1 mm off."""

OVAL_TURN_SEEN = 0.7
"""Share of the turn with wall left on it, below which that holds."""

OVAL_MIN_LOBED = 1.06
"""The same for a vessel with lobes: with three tenths of the turn gone they pass for an oval of up
to 1.043 whose axis is 4 mm off; what is really oval by less is among the lobes' own harmonics."""

OVAL_MAX = 1.6
"""The same at most: along the narrow ellipses of a stronger oval the walls of a box pass, too."""

OVAL_MISS_MAX = 0.065
"""RMS by which normals miss an oval's turn, as a fraction of the radius and capped at
`AXIS_SCORE_CAP`: noisy scans and lobed dishes have up to 0.057, boxes from 0.067."""

OVAL_ROUNDS = 15
"""Rounds of the affine turn at most: five as a rule, more from a line across the axis."""

OVAL_SETTLED = 1e-4
"""Radians, or fraction of the radius, by which it moves in its last round: 0.006 mm at 60 mm."""

LOBES_SAMPLES = 18_000
"""Samples by which a lobed vessel's axis is settled: it then errs by hundredths of a mm."""

LOBES_POSES = 6
"""Rounds of pose and outline of a lobed vessel at most; its axis starts up to 4 mm off."""

LOBES_SETTLED_MM = 0.02
"""mm that the pose moves by in its last round."""

OVAL_POSES = 2
"""Rounds of pose and section of an oval; the pose moves by less than 0.01 mm in a third."""

LOBES_MAX = 24
"""Largest number of lobes looked for."""

OUTLINE_SAMPLES = 18_000
"""Samples by which an outline is fitted; a later fit takes up what is left of it. With 8 000 chance
fills the mouth of a lobed dish in its first section, so that four of six draws lose its lobes."""

OUTLINE_ROUNDS = 2
"""Rounds of section and outline in turn; each sharpens the other."""

OUTLINE_REACH = 0.12
"""Search width about the first, blurred section over its size."""

OUTLINE_KNOTS = 11
"""Knots down the wall: a displacement may come and go within a tenth of it."""

OUTLINE_BEND = 0.02
"""Weight of the outline's bending along the profile against the samples."""

PATCHES_CONFORMED = 3
"""Hidden patches of a gap that are also conformed, to state the error of the whole form."""

COPY_ODD_SPREADS = 4.0
"""Spreads of a copy about the skin past which it shows something else there."""

COPY_ODD_MM = 0.3
"""mm at least: throwing rings of another phase lie nearer."""

MIRROR_ODD = 0.02
"""Share of the skin by which a plane may be odder than the best: half a pulled spout."""

SOURCE_CLOSE = 1.1
"""Times the best source's error, before it is led onto the skin, up to which others are led too."""

SOURCE_HOPELESS = 2.5
"""Times revolving's error over a hidden patch past which a source is out of the running."""

BRIDGE_WIDEST_DEG = 60.0
"""Widest gap that is bridged: a span knows nothing of the curve that a wall makes."""

SOURCE_KNOWN_MIN = 0.7
"""Share of a gap that a source must say something of, or it does not apply there."""

SOURCE_PREFERENCE = 1.25
"""Handicap of other sources against revolving: three patches tell less than that apart, and a
plane or a number of repeats was itself chosen to fit what is left."""

GROWTH_WIDE = 1.5
"""Times the error is larger where most of the turn or of the skin is gone: hidden patches are
narrower and do not tell that the axis, too, was found from what is left (two dozen halves and rims
gone over 216 degrees of made-up bowls and mugs: 0.5 to 3.1, middle 1.4)."""

WIDE_GAP_DEG = 200.0
"""Width of a gap from which that holds."""

WIDE_GAP_SHARE = 0.35
"""Share of the skin that a gap takes, from which that holds."""

BOUND_SHARE = 1.6
"""Times the expected error that a bound is at least."""

BOUND_WORST = 1.2
"""Times the worst hidden patch's error that a bound is at least."""

GAPS_TESTED = 4
"""Gaps, from the largest, that have patches of their own hidden; each costs some hundredths of a
second, and the rest are small."""

GAPS_ALIKE = 0.7
"""Share of their columns that two gaps share where they are the two skins of one hole."""

VARIANCE_CELLS = 64
"""Cells by which the variance left over a gap is averaged: to a tenth of it."""

OUTLINE_AXIAL = 10.0
"""How much less an outline waves up and down than in and out, as a ratio of penalties."""

CUTTER_COLLAPSE_MM = 0.01
"""mm that the clearance's surface may give for fewer triangles: a fifth of a print's layer."""

CUTTER_COLLAPSE_SHARE = 1 / 15
"""The same as a share of the clearance, 0.01 mm at 0.15 mm."""

FILM_REACH_MM = 3.0
"""mm from a gap past which the blank dives: its skin may show only at the join itself."""

TUCK_WALL_SHARE = 0.3
"""Share of the wall by which it dives there, from either side, so that the blank stays whole."""

OUTLINE_RIDGE = 0.6
"""Weight of an outline's size beside its bending: enough to hold it where a loss hides it."""

OUTLINE_SHOWN = 0.005
"""Fraction of the radius at which a harmonic of the first guess counts as really there."""

FORM_DOUBT_MM = 0.3
"""mm of expected error from which a finger feels the step and the form itself is in doubt."""

# --- donors: shapes without an axis, and what stands off a wall --------------------------------

DONOR_SAMPLES = 60_000
"""Samples of a body without an axis: about 1 mm apart on a box for tea."""

DONOR_FEW = 1_500
"""Samples that rank starts: they only have to tell a right way round from a wrong one."""

DONOR_MANY = 15_000
"""Samples that settle a donor: their mean errs by a hundredth of the scatter of one."""

DONOR_HOPEFUL = 8
"""Starts that are settled: several planes may be as good, and a box has up to nine."""

DONOR_CAP = 0.04
"""Fraction of the diagonal: farther from the body's skin a point of the donor counts no more, so
that a loss of a third weighs alike against every start."""

DONOR_FINE = 0.01
"""Fraction of the diagonal within which skin is sought at last: 1 mm on a cup."""

DONOR_ROUNDS = 60
"""Rounds in which a donor settles or never will."""

DONOR_STILL_MM = 1e-6
"""mm by which the RMS distance may still change when a donor counts as settled: along the sides of
a round pot, which nothing holds, it would go on for ever."""

DONOR_STILL_FEW_MM = 1e-5
"""The same for the few points that only bring it near."""

DONOR_ALIKE_MM = 0.8
"""mm; farther off, a copy's skin is not the same skin. Thrown pairs differ by half of this."""

DONOR_ALIKE_MIN = 0.45
"""Share of a donor's skin that must lie on the body's: half may be lost, no more."""

DONOR_ALIKE_ERRS = 0.1
"""By how much that share may be told wrong by few points: seven of its standard errors."""

DONOR_SAME = 0.01
"""Fraction of the diagonal: donors nearer to each other than this are one."""

DONOR_TURN_STARTS = 72
"""Starts about an axis: every 5°, half the width of a handle."""

DONOR_MATCH_CELL = 0.03
"""Fraction of the diagonal that local shapes are compared at."""

MIRROR_VOTERS = 1_000
"""Points whose pairs name planes: half a million pairs, a few thousand for each true plane."""

MIRROR_VOTES = 4_000
"""Pairs about which votes are counted."""

MIRROR_PAIR_APART = 0.1
"""Fraction of the diagonal: nearer pairs name the direction of their plane too loosely."""

MIRROR_PAIR_AGREEMENT = 0.97
"""Cosine: images face alike to within 14°, which normals of scans keep."""

MIRROR_OFFSET_SHARE = 0.3
"""Fraction of the diagonal that counts as much as one radian when votes are gathered."""

MIRROR_VOTE_REACH = 0.05
"""Radians: planes nearer than 3° to each other name the same one; registration does the rest."""

MIRROR_CANDIDATES = 24
"""Planes that are tried: flat sides name many false ones."""

STAND_RAYS = 9
"""Rays along each side of the grid that looks for an opening."""

STAND_HOLLOW = 0.35
"""Fraction of the height that rays must fall for a thing to count as open there."""

RAY_OFF_SKIN_MM = 0.02
"""mm; rays into the wall start this far inside, clear of the triangle that they start from."""

DONOR_GAP_MM = 0.6
"""mm; a donor's point farther outside the body than this shows a gap, or misfit that the cut
then tells from one."""

DONOR_GAP_SPREADS = 3.0
"""Spreads of a donor's skin about the body's that it must stand clear, too: of an uneven pot's
mirror image the sound wall would show gaps."""

DONOR_GAP_MM2 = 12.0
"""mm² of such points at least: the skin over the smallest loss worth a piece."""

DONORS_CUT = 3
"""Donors at most, the likeliest, that are cut and compared at one place: each takes a second."""

DONOR_COLLAPSE_MM = 0.005
"""mm; a finely scanned donor is thinned by this before it is led: a tenth of a scanner's noise."""

DONOR_EDGE_MM = 0.8
"""mm; edges of a donor's triangles about a gap: half a cell, for the tuck starts at the join."""

DONOR_DEPTH_SPREADS = 5.0
"""Spreads of skin about the donor that a loss must be deep."""

DONOR_BOUND_SPREADS = 1.7
"""Bound over expected error of a span: nine of ten of a Gaussian's errors lie within 1.64."""

DONOR_PATCHES = 8
"""Patches that are hidden to tell a donor's error."""

DONOR_PATCHES_MIN = 3
"""Patches below which smaller ones are tried."""

DONOR_PATCH_PLACES = 40
"""Places tried for them."""

DONOR_PATCH_MIN_MM = 3.0
"""mm; patches of a smaller radius than this tell nothing."""

LEAD_SEARCH_MM = 2.0
"""mm within which skin is sought beneath a donor: a laid copy lies nearer."""

LEAD_POINTS = 800
"""Places from which the plate is bent at most; it is smooth, and each costs the square."""

LEAD_POINTS_MIN = 30
"""Places below which nothing is bent."""

LEAD_SMOOTHING = 0.003
"""Of the plate, in units of its span: evens out noise, follows what is wider than a tenth."""

LEAD_SPAN_MIN_MM = 8.0
"""mm; a plate is not asked to bend over less."""

LEAD_RIGID_ROUNDS = 4
"""Rounds of the rigid fit about a gap."""

LEAD_RIGID_POINTS = 5_000
"""Points that tell the rigid motion about a gap: their mean errs by a seventieth of one's noise."""

LEAD_RIDGE = 1e-4
"""Share of the mean weight that holds motions which no skin shows."""

LEAD_JOIN_MM = 1.5
"""mm; scale of what is evened out right at the join."""

LEAD_GAP_MM = 4.0
"""mm from the points that show a gap within which unbacked surface belongs to it."""

LEAD_REACH_MIN_MM = 12.0
"""mm about a gap whose skin is followed at least."""

LEAD_REACH_MAX_MM = 30.0
"""mm about a gap whose skin is followed at most."""

LEAD_TUCK_FAR_MM = 0.4
"""mm that a donor dives farther off, so that its skin shows only at the join."""

JOIN_PLACES = 200
"""Places along a join at which its edge is looked at."""

BROKEN_EDGE_MM = 1.5
"""mm beside a join over which skin and break are averaged: above texture and noise."""

BROKEN_EDGE_COSINE = 0.9
"""Cosine: a break leaves the skin by more than 25°."""

BROKEN_EDGE_SHARE = 0.6
"""Share of the join that must be such an edge: of made-up chips and rim losses 0.8 and more are,
of a pulled spout that the form does not follow 0.5."""

LEAD_FACING = 0.5
"""Cosine; single triangles of a noisy scan stray by 40° from the skin that they stand for."""

LEAD_BESIDE_MM = 0.25
"""mm that the nearest place of the body may lie aside of a point that has skin beneath it."""

LEAD_BESIDE_SHARE = 0.3
"""Further, as a share of how far the skin lies above it."""

RAY_ALONG_WALL = 2.0
"""Times the median way through a missing part past which a ray ran along the wall."""

SKIN_ACROSS_MM = 0.05
"""mm; a ray through a missing part that ends this near the form's far skin met no break."""

THROUGH_SHARE = 0.15
"""Share of new skin with skin across from it that makes a loss one through the material."""

# --- donor: bars and spans ---------------------------------------------------------------------

ATTACHED_SHIFT_MM = 1.0
"""mm off the wall from which on something is attached to it: past rings, runs of glaze and the
form's own error under it."""

ATTACHED_SHIFT_NOISES = 3.0
"""Further shift in spreads of the scan's noise: 1 place in 700 sticks out by chance."""

ATTACHED_VOLUME_MM3 = 60.0
"""mm³; a smaller lump on the wall is a bead of adhesive or a run of glaze."""

ATTACHED_STANDS_MM = 2.0
"""mm off the wall, at its farthest; what stands off less is relief."""

ROOT_AREA_MM2 = 4.0
"""mm²; the wall touches the cut about a bar in crumbs smaller than this."""

STUB_STEP = 0.08
"""Step between sections of a bar over the square root of its section: 0.6 mm on a mug's handle."""

STUB_WINDOW = 1.2
"""Length of bar behind the break by which its line is judged, over the same: 9 mm on a mug."""

STUB_SHORTEST = 0.3
"""Least length of sound bar, over the same, that shows which way it went: 2.3 mm on a mug."""

STUB_FACING = 0.6
"""Cosine to the break's own plane within which a triangle counts to it: roughness tilts by 30°."""

STUB_AHEAD = 0.3
"""Cosine to the bar's own line above which a triangle faces ahead: a bar's skin tapers by less."""

STUB_COVER = 0.8
"""Share of the section that a break must close: a half-round end closes 0.64 by such triangles."""

STUB_EDGE = 0.4
"""Cosine to the break's plane below which the skin beside it is: a round end has just less than
the limit above there."""

STUB_SQUARE = 0.6
"""Cosine of the break's plane to the bar's line at least: no bar breaks more askew than 53°."""

STUB_ROUND = 0.97
"""Share of a section that rays from its middle must sweep once: below it the section is hollow or
bent round like a C, and cannot be carried along by angles."""

SECTION_ANGLES = 96
"""Points round a section; chords of a 5 mm bar lie within 0.003 mm."""

SECTION_TAPER_ORDER = 2
"""Harmonics of a section that may taper along a stub; finer ones are taken for texture."""

SECTION_SLOPE_MAX = 0.15
"""Taper carried from a stub into the gap at most: a root flares more than the bar goes on to."""

SECTION_TAPER_FADES = 0.5
"""Way into the gap, over the square root of the section, within which the taper dies out."""

SPAN_TERMS = 4
"""Powers of the way along by which a line's curvature varies: enough for a hook or an S."""

SPAN_STEPS = 48
"""Arcs that a line is walked in; each is exact, so that only a varying curvature shows them."""

SPAN_CLOSED = 1e-5
"""Miss at the far end, over the chord, at which a line counts as joined: 0.0003 mm in 30 mm."""

SPAN_OVER = 0.7
"""Length over which a span lies on either stub, over the square root of the section: 5 mm."""

SPAN_LONGEST = 16.0
"""Longest gap bridged, over the square root of the section: longer ones are mere invention."""

SPAN_TURN_MAX_DEG = 200.0
"""Largest turn of a bridged gap: of a handle that goes out and comes back, all but the stubs."""

SPAN_SECTIONS_ALIKE = 2.0
"""Ratio of the sections' areas up to which two stubs may belong to one bar."""

SPAN_DOUBT = 1.0
"""Share of the distance between two plausible lines that the true one may stray, root sum of
squares with the next two: with all three, 78 of 108 made-up handles lay within."""

SPAN_BY_LENGTH = 8e-4
"""Error by the gap's length squared over the square root of the section: what a bend that changes
along the gap may add, 0.07 mm over 26 mm of a mug's handle."""

SPAN_BY_NOISE = 0.4
"""Share of the scan's noise that is left in a section and a line fitted to stubs."""

# --- donor: sheets -------------------------------------------------------------------------------

SHEET_FACING = 0.7
"""Cosine; a sheet's skin faces within 45° of the direction through it, an edge does not."""

SHEET_SKIN_SHARE = 0.72
"""Least share of the surface in the two skins: a tile of 60 by 40 by 7 mm has 0.77."""

SHEET_THICK_SHARE = 0.22
"""Greatest thickness as a share of the width; thicker is a block."""

SHEET_THICK_SPREAD = 0.35
"""Share of the thickness by which it may differ from the usual one."""

SHEET_PLAIN_SHARE = 0.95
"""Least share of the plan over which there are just two skins at the usual thickness."""

SHEET_CELL_MM = 0.5
"""mm; cells of the plan, finer than the smallest bite by three."""

SHEET_CELLS = 400
"""Cells along the plan's longer side at most."""

SHEET_EDGE_MM = 2.0
"""mm by which an edge may be rounded; nearer to it there is no skin."""

PLATE_SAMPLES = 600
"""Samples of each skin about a gap: one in 2.5 mm about a gap of 35 mm."""

PLATE_GIVE_MM = 4.0
"""mm over which a plate evens out what it rests on: longer than texture."""

PLATE_OUTLIER = 5.0
"""Spreads past which a sample is no skin."""

PLATE_FLOOR_MM = 0.02
"""mm of spread that no sample is blamed for."""

LOSS_AREA_MM2 = 25.0
"""mm² in plan below which nothing is worth a piece of its own."""

BITE_DEPTH_MM = 1.5
"""mm by which a bite runs inwards at least."""

EDGE_ERROR_MM = {"hole": 0.0, "bite": 0.05, "corner": 0.08}
"""mm RMS over a piece that its new edge adds to the error of its skins: medians over made-up tiles
with eight seeds at three levels of noise."""

EDGE_REACH_MM = 3.0
"""mm about the outline in which the edge is looked for."""

EDGE_FINISHED_PERCENT = 30.0
"""Percentile of the outline's roughness that stands for the finished edge: up to two thirds of
the outline may be broken or turn a corner."""

EDGE_ROUGH_TIMES = 1.9
"""Times the finished edge's roughness past which an edge is a break."""

EDGE_ROUGH_MM = 0.07
"""mm of roughness that a finished edge may have: a break has 0.15 and more."""

EDGE_SECTION_MM = 0.4
"""mm by which an edge's section may differ from the finished one."""

EDGE_LEAN = 0.12
"""Tangent by which an edge may lean otherwise than the finished one."""

EDGE_SLOPE_SHARE = 0.3
"""Share of thickness times slope squared by which the section of a sloping edge may differ."""

EDGE_SKIP_MAX = 24
"""mm beside a break that are given up where a corner lies there."""

EDGE_SPELL_MM = 10
"""mm of finished edge between breaks that count for one."""

EDGE_MARGIN = 2
"""mm beside a break in which the edge may be chipped."""

EDGE_SIDE_MIN = 8
"""mm of finished edge needed on either side of a bite: its direction is then good to 0.01."""

EDGE_DOUBT_MM = 25
"""mm of edge between two breaks that must be smooth as a whole to count as finished."""

EDGE_DOUBT_FLOOR_MM = 0.03
"""mm of roughness that it may have there in any case: a short piece of a break has 0.05."""

EDGE_DOUBT_TIMES = 1.3
"""Times the finished edge's roughness that it may have there."""

EDGE_SIDE_MAX = 45
"""mm of finished edge used at most: farther off it says nothing of the bite."""

EDGE_TURN_DEG = 25.0
"""Turn of the edge past which a corner begins."""

EDGE_TURN_MARGIN = 5
"""mm before that in which it has turned already."""

EDGE_GIVE_MM = 5.0
"""mm over which an outline is evened out before it is carried across."""

EDGE_CURVED_SHARE = 0.4
"""Share of a line's squares that a curve may leave for the side to be run on as a curve."""

EDGE_CURVED_MM = 0.06
"""mm RMS that a line must leave before a side counts as curved: run on, a bow grows fourfold."""

CORNER_FLANK = 10
"""mm from a corner's middle at which its sides are straight again."""

CORNER_TURN_DEG = 35.0
"""Angle between two sides past which they head for a corner."""

EDGE_SECTION_POINTS = 15
"""mm of edge on either side of a bite whose section is taken."""

HOLE_BROKEN_SHARE = 0.5
"""Share of a hole's edge that must be broken, or it was made on purpose."""

PLATE_MARGIN_MM = 1.2
"""mm from a break or an edge nearer than which nothing is taken for skin."""

PLATE_RING_MM = 15.0
"""Least width in mm of the skin that a span rests on."""

PLATE_RING_SHARE = 1.0
"""The same as a share of the gap's width: as much as it spans."""

DONOR_REACH_MM = 9.0
"""mm that a span reaches past the join in plan: 6 mm at least where the break leans."""

DONOR_SPACING_MM = 1.0
"""mm; edge length of a span: finer than a scan of a tile needs to be."""

PATCHES_HIDDEN = 5
"""Places hidden to state a span's error."""

PATCH_SEEN_SHARE = 0.6
"""Share of a hidden place that must be skin."""

ATTACHED_AREA_MM2 = 60.0
"""mm² of such surface at least: the stub of a thin handle."""

ATTACHED_GAP_SHARE = 0.05
"""Share of a gap that must lie off the wall for it to be a handle's; of a lost root, most lies in
the wall."""

# --- made things ---------------------------------------------------------------------------------

SECTION_HAIR_MM = 0.01
"""mm; half the widest hairline closed between body and missing material in a section: they meet
exactly, so that only rounding parts them."""

# --- fit: entry, sweep, relief -----------------------------------------------------------------

ENTRY_DIRECTIONS = 500
"""Directions tried all over the sphere, about 9° apart; those about the best are refined."""

ENTRY_ROUNDS = 3
"""Rounds of refining, each to 0.4 of the step before: to about half a degree."""

ENTRY_REFINED = 6
"""Directions that are refined in each round."""

ENTRY_PLACES = 1500
"""Places on a piece from which rays are sent: each stands for 0.07 % of its surface."""

ENTRY_BARRED_SHARE = 0.5
"""Where more of the piece than this is held back in every direction, none leads out."""

ENTRY_HOLLOW_SHARE = 1.2
"""Share of a piece's size by which it is moved to have left its seat."""

ENTRY_ALIKE_SHARE = 0.004
"""Shares held back that are taken for alike: a few of the places."""

ENTRY_MIDDLE_WEIGHT = 0.5
"""Weight of being far from binding against pressing on the seat, both from 0 to 1."""

SWEEP_STATIONS = 32
"""Places on the way home at which piece and body are cut with each other."""

SWEEP_COARSEST_MM = 1.6
"""mm; edge of the first cells: a few of a scan's triangles."""

SWEEP_CELLS_MM = (0.05, 0.025, 0.0125, 0.0125, 0.0125)
"""mm; edges of the finest cells, round by round of relief. The first is a third of a usual
clearance, so that across the gap a cell holds piece or body, not both."""

SWEEP_GAP_SHARE = 1.0 / 3.0
"""Share of a clearance smaller than usual that the cells are cut down to."""

SWEEP_FREE_MM = 1.0
"""mm above the body's highest place at which the way home begins."""

RUB_MM = 0.05
"""mm; pieces with less clearance are moved as if they had as much: touching cannot be told from
sharing."""

RELIEF_LIFT_MM = 0.02
"""mm by which a relief clears the body: more than a file's rounding and collapse move it by."""

RELIEF_RING_MM = 0.04
"""mm by which a relief is wider than where piece and body overlap: rounding and collapse move its
walls by less."""

SEAT_NEAR_MM = 0.05
"""mm beyond the clearance within which a piece's surface is its seat."""

SEAT_KEPT_MM = 0.01
"""mm; what of a relieved piece lies this close to the piece as shaped was not relieved: rounding to
a file moves it by less."""

SEAT_LOST_SHARE = 0.2
"""Share of the seat lost from which splitting is offered."""

SPLIT_DIRECTIONS = 200
"""Directions of the plane that splits a piece, about 14° apart, which the relief makes up for."""

SPLIT_SHARES = (0.3, 0.4, 0.5, 0.6, 0.7)
"""Shares of the piece on the first side of that plane."""

SPLIT_LEAN = 0.02
"""Sine of the least angle between the second part's way out and the cut: it must not scrape."""

SPLIT_FLAT_SHARE = 0.05
"""Share of the places that a cut in the plane of the wall, into two thin leaves, counts for."""

ENTRY_AXIS_MM = 5.0
"""mm; losses whose middle is closer to the axis have no outside to come from."""

ENTRY_TOLD_SHARE = 0.38
"""Share of a direction from which it is told: 22°, half way from one side to the next corner."""

# --- drawings ------------------------------------------------------------------------------------

PAPER_ROUNDING_MM = 1e-6
"""mm by which a drawing may be larger than a sheet and still be laid on it: rounding, no ink."""

# --- shrinkage and wood ---------------------------------------------------------------------------

WOOD_TEMPERATURES_C = (-1.2, 132.3)
"""°C that the handbook's table of moisture spans (30 to 270 °F): beyond it nothing was measured."""

WOOD_STRAIGHT_PERCENT = (6.0, 14.0)
"""% of moisture within which wood moves in proportion to it (handbook, equation 13-2)."""

WOOD_FULL_PERCENT = 30.0
"""% of moisture at which the fibres are full and wood swells no more (handbook, equation 13-3)."""

# --- press mould ---------------------------------------------------------------------------------

MOULD_SIMPLER_MM = (0.02, 0.01, 0.005)
"""mm that the modeller may move the surface by at each step for fewer triangles, tried in order:
the first is half a layer of a fine print."""

MOULD_CAST_OFF_MM = 0.04
"""mm that the shape so made simpler may lie off the piece: as thick as a fine print's layer."""

MOULD_SLIVER_MM = 0.05
"""mm of thickness below which a part of the piece is a sliver: no paste fills its cavity."""

MOULD_UPRIGHT = 1e-5
"""Cosine between a triangle and the pull below which it counts as upright: over a flank 10 mm tall
it leans by 0.1 µm, which rubs but does not lock."""

MOULD_TOUCH_MM = 1e-7
"""mm by which two triangles may lie one above the other and count as side by side: rounding of
doubles, and what stands as upright as that."""

MOULD_PULLS = 240
"""Directions tried over half a ball: about 9° apart."""

MOULD_PULL_STEP_DEG = 9.0
"""Degrees about the best of them within which finer ones are tried: their spacing."""

MOULD_PULLS_NEAR = 80
"""Finer directions: about 2° apart."""

MOULD_LOCK_SHARE = 1e-3
"""Share of the piece's volume by which two directions may differ and lock alike: the probes are
no finer."""

MOULD_PROBES = 1500
"""Points from which rays look for what locks: one each mm² of a piece of 7 cm²."""

MOULD_GRAZING = 0.02
"""Cosine below which a point looks across the pull: its gap's share of the volume is nil."""

MOULD_RAY_START_MM = 1e-3
"""mm off the surface where such a ray starts: past the engine's 32-bit rounding."""

MOULD_GRID_MM = 0.8
"""mm between the lines of the parting surface: the halves meet half-way up an edge some mm tall."""

MOULD_GRID_LINES = 72
"""Most lines of that grid along its longer side: more would cost time and show nothing."""

MOULD_INSET_MM = 0.01
"""mm within the outline that count as its edge: a rough upright break is no smoother, and no
parting line is thinner."""

MOULD_EDGE_STEP_MM = 0.25
"""mm between points along the edge: three in each cell of the grid."""

MOULD_EVEN_MM = 0.75
"""mm over which the parting line is evened out along the edge, each time."""

MOULD_EVENINGS = 200
"""Times that it is evened out and brought back to the edge: by then it is as taut as a string."""

MOULD_HOLD = 1e3
"""How much more a point of the edge holds the parting surface than a cell's slope pulls at it."""

MOULD_LAP_MM = 0.01
"""mm by which the land laps over the cavity: a little past what counts as its edge, for a flank
that is rough within that width would leave fins as thin beside the parting line."""

MOULD_CAVITY_MM = 0.05
"""mm that the cavity's wall may lie off the piece: MOULD_CAST_OFF_MM for fewer triangles and
MOULD_LAP_MM for the lap of the land along the edge."""

MOULD_CRUMB_MM3 = 1e-3
"""mm³ up to which a loose part of a half is a crumb of rounding: a tenth of a millimetre cubed."""

MOULD_HAIR_MM = 0.01
"""mm cut away about an edge at which two walls of a half touch: half the tolerance of the cavity,
and more than a thousand times what 32 bits round."""

MOULD_OPENINGS = 4
"""Times that such edges are sought: a cut may bring two others together."""

MOULD_KEYS_UNEVEN = 0.2
"""Share of the way between two keys by which one is off, so that the halves close one way only."""

MOULD_VENT_ROOM_MM = 5.0
"""mm about a vent within which there is no other, and nothing higher."""

MOULD_FILM_MM = 1.5e-5
"""mm of film over a half's whole surface that touching solids may share: both are rounded to 32
bits (each coordinate by 3.8e-6 mm from 64 mm on, a place by the root of three times that), each
after a tidying of 1e-6 mm."""

MOULD_OVER_MM3 = 0.1
"""mm³ cast too much under overhangs that are told to be filed off: less is not felt."""

MOULD_UNDERCUT_SHARE = 0.02
"""Share of the piece cast too much past which a mould in two halves is not its way."""

MOULD_WALL_MM = 1e-3
"""mm by which a wall may seem short: outlines are drawn as polygons and distances in 32 bits."""

MOULD_STATIONS = 24
"""Stations at which the halves are tried as they part."""

# --- growing by a film ---------------------------------------------------------------------------

GROW_FLAT = 1e-3
"""Share of the largest spread of normals below which a direction is free at a corner: facets that
turn by less than 2° are one face."""

GROW_MITER = 3.0
"""Steps of the film's thickness that a corner may move at most: that of a cube moves 1.7."""

# --- backings ------------------------------------------------------------------------------------

FORMER_CELL_MM = 0.4
"""mm; between the rays by which a former's face is found: straight between them, it strays by less
than cell² / 8 R, 0.002 mm where the wall bends with a radius of 10 mm."""

FORMER_CELLS = 40000
"""Rays over one former, about: a larger one is built of wider cells, to stay quick."""

FORMER_RAY_HAIR_MM = 0.002
"""mm between three rays of which one may slip through between body and missing material: wider
than the rounding that parts them, and a height read that far off errs by no more than 0.006."""

FORMER_OFFSET_STEPS = 4
"""Times that a face is set to its distance from the skin: each leaves a small share of the error
of the one before, so that rounding is left."""

FORMER_SMOOTH_MM = 1.0
"""mm over which a slope is taken, and a back smoothed: several triangles of a scan, so that its
noise does not turn them."""

FORMER_WAY_STEPS = 5
"""Times that the way off is taken anew of what leans with it: it stands still after three."""

FORMER_SIMPLER_MM = 0.005
"""mm by which triangles of a former may be merged: a tenth of what its face may stray."""

FORMER_STEEPEST = 2.75
"""mm of height in one mm across, at most, between the skin that a former lies on and the plane
across its way off: 70°. Steeper skin would drag along it, and rays would graze it."""

FORMER_TONGUE_MM = 2.0
"""mm; half the width of the narrowest tongue left on a former's edge: a narrower one breaks off."""

FORMER_ROUND_MM = 1.5
"""mm; radius of the edge of a former's back: no sharp edge in the hand."""

FACE_STRAYS_MM = 0.05
"""mm by which nineteen of twenty places of a former's face may stray from the skin: half of the
room that is left for film or wax."""

ROUGH_REACH_MM = 1.6
"""mm about a place over which its skin is smoothed to tell a scan's noise: some thirty points of a
scan of 0.5 to 1 mm, and less than half of a throwing line."""

FACE_ROUGH_MM = 0.1
"""mm of roughness that nineteen of twenty places of the skin under a former's face may have: the
usual room for film or wax takes it up; more would print through into the putty."""

RELEASE_LEAST_MM = 0.02
"""mm; least room between a former's face and the skin: several times what the face strays between
its rays, so that it nowhere cuts into the wall; common cling film is 0.01 mm (from memory)."""

FORMER_TALLEST_MM = 100.0
"""mm; taller than any knob."""

FORMER_SHARED_MM3 = 0.01
"""mm³ that a former may share with the vessel: rounding over a face of thousands of mm²."""

FORMER_BARE_SHARE = 0.5
"""Share of the margin that may lie bare: with less wall to sit on, a former finds no place."""

GAP_BARE_SHARE = 0.02
"""Share of the gap that a former may leave bare: rounding along its edge."""

FORMER_STATIONS = 24
"""Places on the way off at which a former is tried against the vessel."""

FORMER_TRAVEL_MM = 20.0
"""mm that a former is moved off the wall in that trial: then it can be turned in the hand."""

LIP_LEAST_MM = 3.0
"""mm of lip that a former must come to before it is cut along it: less is a crumb of the edge."""

LIP_SMOOTH_MM = 3.0
"""mm along the lip over which the middle one of its heights is taken: noise of the scan goes."""

LIP_HAIR_MM = 0.05
"""mm below the crest of the lip at which a former ends, so that it does not close over it."""

GRIP_SHORTEST_MM = 8.0
"""mm; a shorter knob cannot be held between finger and thumb."""

NOTCH_MM = 2.0
"""mm; depth of the notches in a former's edge: seen with the eye, and clear of the gap."""

ARROW_TALL_MM = 3.0
"""mm; the shortest arrow that is seen to be one."""

ARROW_WIDE_MM = 1.0
"""mm; width of engraved lines: two passes of a common nozzle of 0.4 mm leave them open."""

# --- stacks --------------------------------------------------------------------------------------

STACK_HAIR_MM = 0.02
"""mm; how far a layer's outline may be simplified, and is grown beforehand to make up for it."""

STACK_OUTSIDE_MM3 = 0.01
"""mm³ of a piece that may lie outside its stack: rounding."""

DOWEL_WALL_MM = 2.0
"""mm of wood about a dowel at least: less splits."""

# --- templates: ribs, gauges, wraps ----------------------------------------------------------

TEMPLATE_EDGE_MM = 0.03
"""mm; most that a drawn working edge may lie off the skin: the hairline that sections close, twice,
and the 32-bit floats that it is measured with. A pencil line is ten times as wide."""

TEMPLATE_SAMPLE_MM = 0.25
"""mm between the places at which a drawn edge is measured: finer than a scan's triangles."""

TEMPLATE_ROUNDING_MM = 1e-4
"""mm within which a drawn point counts as lying on a straight side: the areas' own rounding."""

BRIDGED_MM = 0.2
"""mm; an undercut shallower than this is lost in the plaster and is not worth a note."""

SLOT_MATCH_MM = 0.01
"""mm within which the two cards of a crossing must agree where the skin is: a tenth of the play."""

GAUGE_REACH_DEG = 80.0
"""Angle either side of the loss's middle past which a card could not be lifted off the vessel."""

GAUGE_STEEP_DEG = 60.0
"""Angle of the skin's outward side from level past which cards do not stand about the axis: their
crossings would run along the wall instead of through it."""

GAUGE_SPIKE_MM = 0.004
"""mm; half the width of spikes that two nearly equal sides leave on a card, which are cut off."""

WRAP_CONE_MM = 0.05
"""mm that a skin may lie off one cone to be unrolled as that cone: half a sheet of paper."""

WRAP_SETTLED_MM = 1e-4
"""mm; flattening has settled when no point moves farther in a step."""

WRAP_STEPS = 400
"""Steps of flattening at most; from an unrolled cone 20 to 100 do."""

WRAP_TRIANGLES = 20_000
"""Triangles past which a skin is thinned before it is flattened: 0.7 mm apart on a palm's size."""

WRAP_THIN_MM = 1e-4
"""mm; least height given to a triangle, or the slivers of a cut would weigh without end."""

WRAP_TAIL_SHARE = 0.005
"""Share of the area left out of the largest stretch: slivers along a cut say nothing of paper."""

WRAP_FOLDED_SHARE = 1e-3
"""Share of the area that may be turned over by flattening, all of it slivers along the cut."""

WRAP_DARTS_PERCENT = 5.0
"""% of stretch that tape or damp paper gives at most; past it, it must be cut."""

# --- fill: gap, setback, fillet and thin edges ---------------------------------------------------

GAP_WITHIN_MM = 0.02
"""mm by which a gap may miss the clearance and still count as met: half the grain of a paste."""

GAP_PLACES = 20_000
"""Places at which a piece's gap is measured: a share of 95 % is then known to 0.2 %."""

GAP_RIM_MM = 0.01
"""mm beyond one clearance from the skin at which the seat begins: a hair, for the skin itself is
known to a micrometre."""

SETBACK_CELL_MM = 0.25
"""mm; grid of the lowered skin: a skin is smoother than a break, and errs less on the same grid."""

SETBACK_COLLAPSE_MM = 0.005
"""mm that the lowered skin may give for fewer triangles: a sixth of the 0.03 mm promised."""

SETBACK_HAIR_MM = 0.01
"""mm; where a fading setback is shallower than this the skin is left alone."""

SETBACK_JOIN_MM = 0.1
"""mm between points that stand for the join: 0.001 mm of a way of 1 mm."""

SETBACK_MAX_MM = 1.0
"""mm; deeper, it is no coat but a filling that wants its own shape."""

SETBACK_FADE_MM = (1.0, 20.0)
"""mm; shorter, a fade is a step, and longer than half a piece it never grows deep."""

FILLET_MAX_MM = 1.0
"""mm; a larger round would open a gap that adhesive does not fill."""

BALL_STEPS = 4
"""Steps by which a ball's middle is brought into a corner: flat faces take two."""

ROUND_HAIR_MM = 0.005
"""mm; what a ball fails to reach by less is left alone, so that a seat is not grazed all over."""

ROUND_CELL_MM = (0.08, 0.25)
"""mm; finest and coarsest grid of a round: a quarter of its radius between."""

ROUND_COLLAPSE_MM = 0.002
"""mm that a round may give for fewer triangles: less than the hair."""

ROUND_KEPT_MM = 0.05
"""mm from the skin within which nothing is rounded, whatever the ridge."""

THIN_SPACING_MM = 0.4
"""mm between the places at which an edge's thickness is looked at: that of the thinnest process."""

THIN_START_MM = 1e-3
"""mm that a ray starts inside the surface, above 32-bit rounding on a large vessel."""

TRIMMED_MM3 = 0.01
"""mm³; a trimmed edge smaller than this is a crumb of the cut and is not listed."""

BALL_FITS_MM = 0.001
"""mm that a ball may lack where it touches two faces: rounding of 32 bits, far below the hair."""

# --- pieces to print ------------------------------------------------------------------------------

POSE_DIRECTIONS = 300
"""Directions tried as up for a printer, about 12° apart: supports care no more than that."""

POSE_SKIN_WEIGHT = 3.0
"""How much worse a support's mark is on skin that will be seen than on the break."""

POSE_HEIGHT_WEIGHT = 0.1
"""Weight of the height against the share of the surface that needs supports."""

READ_BACK_SHARE = 1e-4
"""Share by which a volume may change on the way through a file's 32-bit or decimal numbers."""

# --- check of a made piece -------------------------------------------------------------------

CHECK_SAMPLES = 20_000
"""Points by which a scan is laid on a design: their mean errs by less than a hundredth of one."""

CHECK_FEW = 1_500
"""Points that rank starts: they only have to tell a right way round from a wrong one."""

CHECK_SOME = 5_000
"""Points that finish each of several poses: enough to tell which is best."""

CHECK_TURNS = 24
"""Starts about the thin way of a shell: 15 degrees apart, a third of what registration bridges."""

CHECK_HOPEFUL = 16
"""Starts that are registered, the nearest first; the right one was among the first six."""

CHECK_FINISHED = 4
"""Poses that are finished with all points."""

CHECK_REACH = 0.1
"""Fraction of the size within which points pull when a start is registered."""

CHECK_TRIM_SCAN = 0.9
"""Share of the scan that must lie on the design: the rest may be lumps, sprues and supports."""

CHECK_TRIM_DESIGN = 0.6
"""Share of the design that must lie on the scan: a scanner may miss one side of a piece."""

CHECK_SPARSE = 4.0
"""Spacings of the scan's points from which the design counts as not covered by them."""

CHECK_LIES_SHARE = 0.03
"""Fraction of a piece's size that the trimmed RMS may be: on a chip of 6 mm half a millimetre would
let anything lie on it."""

CHECK_SETTLE_STEPS = 25
"""Steps of fine registration at most; from the right start it takes 5 to 15."""

CHECK_SETTLED_MM = 1e-5
"""mm; it has settled when no point moves farther in a step."""

CHECK_SPREAD_FLOOR_MM = 0.005
"""mm; no scan scatters less, so no point off by less is disbelieved."""

CHECK_JACKKNIFE = 8
"""Stretches of a piece that are left out in turn for the error of its size."""

CHECK_SIZE_RANGE = (0.6, 1.6)
"""Size of a scan over that of a design within which they are tried on each other: wider than any
clay shrinks, and narrower than an inch is from a centimetre."""

CHECK_TWIN_RMS = 1.3
"""Times the best trimmed RMS at which another way round counts as fitting as well."""

CHECK_SKIN_MM = 0.03
"""mm; a piece's skin lies no farther off the missing material's: rounding for a file."""

CHECK_TURNED = 0.5
"""mm that facing a right angle away counts for when a place is given to a side: more than most
misfits, less than a thin wall."""

CHECK_SPACING_MM = 0.25
"""mm between the places at which misfit is measured: half a fine scanner's point spacing."""

CHECK_PLACES = (5_000, 100_000)
"""Places at which misfit is measured, at least and at most."""

CHECK_CALM_MM = 0.6
"""mm about a place over which misfit is averaged: eighteen places, so noise falls to a quarter,
and a lump of a millimetre is still seen."""

CHECK_PLACE_MM2 = 0.5
"""mm²; a smaller place is a grain of dust, and no file works so finely."""

CHECK_EDGE_SHARE = 0.35
"""Share of a piece's reach from its middle past which a place is upper, lower, left or right."""

CHECK_LEVEL = 0.8
"""How much of the outer skin's direction is up or down from which a piece lies rather than stands:
37° from the axis, as for a floor."""

CHECK_JOIN_MM = 2.0
"""mm from the break within which skin is beside the join: what a finger feels as the step."""

CHECK_BARRED_MM2 = 0.05
"""mm² by which the design's own straight way out may seem barred: rounding; more means that the way
begins in the vessel's hollow."""

CHECK_EASE_STEPS = 40
"""Steps of pushing a piece off the body at most."""

CHECK_EASE_MM = 0.03
"""mm off the body to which a piece is pushed: half of what counts as rubbing, so the sweep's cells
tell it from touching."""

CHECK_EASE_STAY = 0.02
"""How much a place that is clear of the body counts for staying where it is, against one that is
not: a clash of a fiftieth of the seat still moves the piece."""

CHECK_RUB_MM = 0.05
"""mm; what is in the way by less may be the scan's own noise (0.02 to 0.05 mm on fine scanners)."""

CHECK_FILE_PLACES = 6
"""Places to file that are told at most, the largest first."""

CHECK_COVERED_MM = 1.0
"""mm from the scan within which the design's surface was scanned."""

CHECK_TWIN_MM = 0.03
"""mm; no scan tells two ways round apart by less."""

CHECK_TWIN_SHARE = 0.98
"""Share of the scan that must lie on the design another way round to be mistaken: a chip or a sprue
is less than the rest."""

CHECK_OFF_SIZE = 0.001
"""Share by which a piece must be off its size to be laid about its middle: 0.05 mm on 50 mm."""

CHECK_FILE_MM = 0.02
"""mm; what is to be filed by less is not told: below a scan's noise, and one stroke takes more."""

CHECK_CELL_MM = 0.0125
"""mm; edge of the finest cells. Fine from the start: a noisy seat comes within a coarse cell of the
body without touching it, and would be filed for nothing."""

CHECK_FILE_PARTS = 60
"""Parts of a relief that are looked at, the largest first: what follows is dust."""

CHECK_MOST = 0.5
"""Share of a side from which a place is most of it, and has no better name."""

CHECK_CLASH_MM2 = 12.0
"""mm², seen along the way, over which a piece must meet the body to clash all over, and not at a
lump or two."""

CHECK_CLASH_MM3 = 5.0
"""mm³ shared with the body at home from which a piece clashes all over."""

CHECK_COARSE_CELL_MM = 0.1
"""mm; edge of the finest cells for a piece that clashes all over."""

CHECK_FILE_ROUNDS = 3
"""Rounds of filing; what the last leaves open is told."""

CHECK_RESIZED_SHARE = 0.5
"""Share of the limit within which a scan must lie at another size: size free, more fits."""

CHECK_MIRROR_SHARE = 0.5
"""Share of its own RMS within which a scan's mirror image lies where it was made the wrong way."""

# --- templates on real scans: joins, outlines, counts ---------------------------------------------

SKIN_FRINGE_MM = 0.06
"""mm of piece behind the new skin at least: where it is less, noise of 0.05 mm in the scan weaves
the new skin in and out of the old one past the join."""

ON_PIECE_MM = 0.03
"""mm; nearer than this to its skin, a drawn edge runs along the piece: `TEMPLATE_EDGE_MM`."""

JOIN_RUN_MM = 1.5
"""mm; a run of piece or of vessel shorter than this on an edge is scan noise and gets no mark."""

WRAP_ROUND_MM = 0.8
"""mm; radius to which a wrap's outline is rounded: tongues and notches narrower than twice this are
beyond scissors and are mostly noise along the join."""

WRAP_AREA_SHARE = 0.015
"""Share by which the area of a wrap's outline may differ from the skin's: what is rounded off along
the join, and the change of area by laying flat."""

GAUGE_APART_MM = 1.0
"""mm of card left beyond two slots' widths where the count of cards is ours to choose."""

# --- air in which lacquer cures, and logs of it ---------------------------------------------------

CURE_TEMPERATURE_C = (20.0, 30.0)
"""°C; union of the cabinet ranges in six craft texts, which differ: common practice."""

CURE_HUMIDITY_PERCENT = (65.0, 85.0)
"""% relative humidity; the same texts name ranges of 65-80, 75-85, 80-85 and 65-90: common
practice."""

CURE_STOPS_C = 0.0
"""°C; at and below it curing stops, by craft texts: common practice."""

CURE_NONE_ABOVE_C = (40.0, 80.0)
"""°C; between them lacquer does not cure, by craft texts: common practice. Above begins curing by
heat, another way of working."""

CURE_HOURS = (24.0, 48.0)
"""h in range before the next coat: craft texts name 5-6 h to set, one to two days as usual, and
even a week: common practice."""

AIR_TEMPERATURE_RANGE_C = (-30.0, 100.0)
"""°C; outside it a temperature is a slip of the pen or a unit: no room and no box is like that."""

AIR_HUMIDITY_LEAST_PERCENT = 1.0
"""%; the dew point runs off to nothing as the humidity nears 0, and no cheap sensor reads below."""

DEW_MARGIN_K = 2.0
"""K over the dew point that a surface should keep: a sensor good to 3 % and 0.5 °C knows the dew
point at 75 % to about 1 K; twice that."""

BOX_VOLUME_RANGE_L = (0.1, 10000.0)
"""l; from a jar to a small room: outside it a length was most likely given in another unit."""

LOG_FILE_MAX_MB = 40.0
"""MB; a reading each minute for a year takes about 20 MB."""

LOG_LINE_MAX = 4000
"""Characters of a line in a log: a longer one is no table of readings."""

LOG_HEADING_LINES = 200
"""Lines in which the heading is sought: loggers write some tens of lines about themselves first."""

LOG_GAP_STEPS = 3.0
"""Usual steps between readings after which nothing is known of the air: one or two missed readings
are bridged by a straight line, a pause is not."""

LOG_CLOCK_BACK_H = (0.5, 1.05)
"""h by which readings may step back where clocks were set back an hour between two of them: an hour
less the step between readings, and some drift."""

LOG_OVER_100_PERCENT = 10.0
"""% over 100 that a wet sensor may show: read as 100; more is no relative humidity."""

SALT_SPREAD_PERCENT = 5.0
"""% between two salts at least for a slope: readings good to 0.5 % turn it by a fifth at most."""

SALT_OFFSET_MOST_PERCENT = 15.0
"""% by which a logger may be off a salt: more is a salt that has not settled or a broken sensor."""

SALT_SLOPE_RANGE = (0.7, 1.4)
"""Slope of a correction: a working sensor is within a tenth of 1, and two salts 5 % apart turn it
by a fifth; beyond, one of them had not settled."""

SALT_STRETCH_PERCENT = 10.0
"""% beyond its salts to which a sloped correction is carried without a word: a slope off by a tenth
is off by 1 % there, less than a cheap sensor promises."""

SALT_NEAR_PERCENT = 12.0
"""% from the wanted humidity within which a salt is named to hold it."""


# --- materials: what a row of the table may hold --------------------------------------------------

DENSITY_MAX_G_ML = 22.6
"""g/ml: osmium, the densest there is (from memory)."""

CURE_MAX_HOURS = 10000.0
"""Hours or days; over a year of days, and beyond any wait at a bench: a slip of the unit."""

BATCH_MAX_G = 10000.0
"""g; the smallest batch of nothing at a bench is 10 kg: a slip of the unit."""

SHRINKAGE_MAX = 0.5
"""Share of the length; fired porcelain loses 0.16 at most: more is a percentage left undivided."""

COAT_MAX_UM = 5000.0
"""µm; a coat of 5 mm is no coat: a slip of the unit."""

COVERAGE_MAX_G_M2 = 10000.0
"""g/m²; half a millimetre of solid gold: a slip of the unit."""

COATS_MAX = 100
"""Coats; nobody lays more on a mend."""

PLASTER_WATER_MAX_PER_100_G = 150.0
"""g on 100 g of powder; twice what pottery plaster takes, and the cast crumbles."""

# --- mixing ---------------------------------------------------------------------------------------

STEP_SLACK = 1e-6
"""Share of a step that rounding in a sum may add: 0.30 g is not rounded up to 0.31 g."""

DOUBTFUL_VOLUME_SHARE = 0.25
"""Share of a volume by which it may be off before that is pointed out: more than the waste makes up
for, and about what a second small batch would have to hold."""

WASTE_MAX = 5.0
"""Share of what is laid; five times as much left on the tools is a slip of the unit."""

WOOD_ALLOWANCE_MAX_MM = 100.0
"""mm on a side; more wood to carve away than any mend is large: a slip of the unit."""


# --- what a relief need not keep ------------------------------------------------------------------

RELIEF_COLLAPSE_MM = 1e-5
"""mm by which a relief's surface may give for fewer triangles: a file's rounding at 100 mm, and a
thousandth of what it clears the body by."""


# Files from strangers

MOST_UNPACKED_RATIO = 100.0
"""How many times its packed size a file may unpack to: 8 as measured on the text of an even grid,
less for a scan with its noise; what is made to fill a memory comes to a thousand."""

MOST_RATIO_FROM_BYTES = 100_000
"""Packed bytes from which on the ratio counts: ten megabytes harm nobody, whatever they hold."""


# --- losses that a person points at --------------------------------------------------------------

POINTED_REACH_MM = 8.0
"""mm about a place pointed at in which a loss is looked for: a click on its edge, or half an
hour on the clock of a cup of 60 mm."""

POINTED_LOW_MM = 0.08
"""mm below where the skin around leads to at which a sample counts as bare: `SAG_MM`."""

POINTED_DEEPEST_MM = 6.0
"""mm below past which a sample is another skin's: a loss that deep has no need to be pointed at."""

POINTED_BARE_SHARE = 0.5
"""Share of a cell's samples that must lie low for it to be bare: fewer are its neighbour's edge."""

POINTED_VOLUME_MM3 = 2.0
"""mm³ from which a loss pointed at is listed: a crumb of 1.3 mm, the least that is filled."""

POINTED_DEPTH_MM = 0.2
"""mm of depth from which it is: shallower is a film where the form strays from the skin."""

# --- the step along the join ---------------------------------------------------------------------

STEP_SPACING_MM = 0.5
"""mm between the places of the join at which the step is measured: what a fingertip tells apart."""

STEP_ASIDE_MM = 0.35
"""mm past the gap at which the skins are looked at: beyond the rounded edge of a scanned break, and
where a setback that fades over 3 mm has hardly begun."""

STEP_FAN_MM = (0.2, 0.5, 0.8, 1.1)
"""mm past the gap at which both skins say which way is up: a few triangles of a scan."""

STEP_FACING = 0.7
"""Cosine from the way up past which a triangle belongs to the skin and not to the break's edge."""

STEP_HIGHEST_MM = 1.5
"""mm; what lies past this, and past the deepest setback, is not the skin that a ray was sent to."""

STEP_RUN_MM = 4.0
"""mm; a shorter run of the join is a crumb that the noise of the scan has cut off."""

STEP_SMOOTH_MM = 2.0
"""mm along the join over which its line is smoothed, so that its direction does not flicker."""
