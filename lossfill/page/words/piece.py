"""What the piece's step says."""

TITLE = "Piece"
VIEW = "The vessel with its pieces in place"
NO_PIECE = (
    "No loss is left to make a piece for: all of them are left alone, or no piece can be made for "
    "any. Take one up again under Losses, or fill what is small with paste."
)

PIECE = "Piece {name}"
RATHER = "For loss {number} {way} is recommended: make this piece only if you would rather."
VOLUME = "Volume"
GOES_IN = "Goes in"
LEAN = "{words}; it may be leaned up to {lean:.0f}° either way"
PROVED = "Proof of the way in"
PROOF = (
    "moved home by computer over {travel} and cut with the vessel at {stations} places: shared "
    "{shared} mm³ at most"
)
PROOF_RUB = ", with a skin of {rub} along the seat left aside, for the gap is too small to tell"
PROOF_FAILED = "not proved: {shared} mm³ of it met the vessel on the way"
FROM_HOLLOW = "bring it into the hollow first; its way begins there"
SEAT = "Seat cut away"
SEAT_SAYS = "{lost:.0f} mm² of {seat:.0f} mm² ({percent:.0f} %), so that it slides in"
SEAT_WHOLE = "nothing"
TRIMMED = "Thin edges trimmed"
TRIMMED_SAYS = "at {count} places"
CHECK = "Checks on its file"
CHECK_PASSED = "closed, one part, shares nothing with the vessel"
CHECK_FAILED = "failed: do not make it"
ORDER = "Put them in in this order: {order}."

SECTION = "Cut the view open"
SECTION_SAYS = "Move the slider, or drag in the view with the Shift key held."
NO_CUT = "Not cut"
THROUGH = "Upright, through the axis and loss {number}"
THROUGH_MIDDLE = "Upright, through the middle and loss {number}"
LEVEL = "Level"
CUT_AT = "Where the cut is"
CUT_SAYS = "{offset} from the axis"
CUT_SAYS_MIDDLE = "{offset} from the middle"
CUT_LEVEL_SAYS = "{offset} above what it stands on"
HIDE_VESSEL = "Hide the vessel"

PLAY = "Let piece {name} go in"
SHARE = "Piece {name} on its way, from outside to home"
MOTION_SAYS = "This is the way that was proved."

JOIN = "Step along the join of piece {name}"
JOIN_SAYS = (
    "How far the piece will stand above the vessel's skin (+) or lie below it (−), as the scan has "
    "it. The scan's own noise is in it."
)
JOIN_SUMMARY = (
    "Outside: {outside}. Inside: {inside}. Along {length} of join; {missing:.0f} % of it could not "
    "be measured, as round a lip or where the piece runs out thin."
)
JOIN_SIDE = "half of it within {low} and {high}"
JOIN_NO_SIDE = "not measured"
JOIN_NONE = "The join is too short to measure a step along it."
JOIN_ALONG = "{unit} along the join"
JOIN_STEP = "step, {unit}"
JOIN_OUTSIDE = "outside, drawn full"
JOIN_INSIDE = "inside, drawn dotted"
JOIN_SHOW = "Show the largest step ({step})"

SHAPE = "Shape the piece"
CLEARANCE = "Gap for the adhesive"
CLEARANCE_SAYS = (
    "Left all along the break, 0 to 1 mm. 0.15 mm suits thin lacquer paste or slow epoxy; a paste "
    "with much filler wants more."
)
SETBACK_OUTSIDE = "Outside lower than the vessel by"
SETBACK_INSIDE = "Inside lower than the vessel by"
SETBACK_SAYS = (
    "Room for coats on top, such as lacquer and metal powder, 0 to 1 mm. 0 leaves the piece flush."
)
EDGE = "At the join, such a lowered skin"
EDGES = {"fade": "runs out flush over 3 mm", "step": "keeps its full depth"}
EDGE_SAYS = "Flush needs less coat at the edge; full depth gives coats an even thickness."
PROCESS = "The piece is made by"
PROCESSES = {
    "": "not said: trim no edge",
    "nozzle": "printing from a nozzle (edges from {least} mm)",
    "resin": "printing in resin (edges from {least} mm)",
    "wood": "carving in wood (edges from {least} mm)",
    "clay": "pressing in clay (edges from {least} mm)",
}
PROCESS_SAYS = (
    "Edges thinner than this would break off in the making: they are trimmed, and you fill what is "
    "then open with paste."
)
FILLET = "Round the seat's sharp ridges to a radius of"
FILLET_SAYS = (
    "0 to 1 mm. Ridges that stand in corners of the break hold a piece off; rounded, it sits."
)
SPLIT = "Part a piece in two where it would lose much of its seat"
SPLIT_SAYS = "Two pieces can go in from two sides where one would have to be cut down to pass."
APPLY = "Make the pieces with this"
EMPTY = "{name}: give a number, 0 for none."
