"""What the step of making says."""

TITLE = "Make"

NOTHING = (
    "There is nothing to make: no loss has a piece. Fill what is small with paste; or take a loss "
    "up again under Losses."
)
WHAT = "What is to be made"
NAMES = {
    "piece": "Piece to print",
    "mould": "Mould",
    "backing": "Backing",
    "rib": "Rib",
    "gauges": "Gauge cards",
    "wrap": "Wrap",
    "stack": "Stack of layers",
}
SAYS = {
    "piece": (
        "The piece itself, standing as it prints best: for whoever has a 3D printer, or sends the "
        "file to somebody who has."
    ),
    "mould": (
        "Two halves to print that part along the piece's own edge, with keys and a channel for the "
        "surplus: for a fill pressed from putty, clay or wax."
    ),
    "backing": (
        "A former to print that lies on the skin about the gap, with a grip, and marks to find its "
        "place again: for putty pressed in on the vessel itself."
    ),
    "rib": (
        "Boards cut to the vessel's profile, outside and inside, with axis, foot line and heights: "
        "for plaster or clay that is turned or scraped to shape."
    ),
    "gauges": (
        "Cards cut to numbered sections, slotted to stand crosswise on the vessel: for whoever "
        "carves, and for checking what was carved."
    ),
    "wrap": (
        "The new skin unrolled onto paper, with its stretch told: for marking a cut, and for "
        "veneer, foil or leather-hard clay."
    ),
    "stack": (
        "Layers to saw from board and glue up, with dowels and the way of the grain, laid out on "
        "the sheet: for carving in wood."
    ),
}
FOR_LOSSES = "For these losses"
PAPER = "Paper for drawings"
PAPERS = {"a4": "A4", "letter": "Letter"}
SHRINK = "What it is made of shrinks by"
SHRINK_SAYS = (
    "In length, until it is dry, cured or fired. Measure it on a test bar of the very stuff; with "
    "0 the piece and the mould are as large as the gap, without any allowance."
)
SHRINK_EMPTY = "give how much shorter a test bar became, 0 for none"
MAKE = "Make these"
ALL_GONE = "What is not ticked is taken out of the pack."
NO_LOSS = "tick one loss at least"

MADE = "What was made"
NONE_MADE = "Nothing is ticked, so nothing was made. You can go on without."
GONE = (
    "The pieces were made anew since, and what had been made of the earlier ones is gone from the "
    "pack. Make these again."
)
NONE_SUITED = "Nothing that was ticked suits; the reasons stand below."
MISSED = "{thing} for loss {number}: a limit was not kept ({what})."
MISSED_HEAD = "Look at these before you use them"
NOT_MADE = "{thing} for loss {number} was not made: {why}"
NOT_MADE_HEAD = "Not made"

VIEW_HEAD = "Seen from all sides"
VIEW_CHOOSE = "Show in 3D"
VIEW_ONE = "{thing}, loss {number}"
VIEW = "{title}, as it stands for printing"
VIEW_ROW = "From left to right: {titles}."
VIEW_SHOW = "Show in 3D above"
VIEW_SHOW_NAMED = "Show {thing} for loss {number} in 3D above"

FILES = "Files"
ENDINGS = {
    "stl": "for any slicer, in millimetres",
    "3mf": "the same, with its unit and its name",
    "pdf": "all drawings, to print at 100\u00a0%",
    "svg": "this drawing, for a drawing program",
    "dxf": "this drawing, for a laser or a knife cutter",
}
USE = "How to use it"
MEASURED = "Measured as it was made"
ALL_KEPT = "Measured as it was made: every limit kept ({count})"
MEASURED_HEADS = ("What", "Measured", "May be", "")
KEPT = "kept"
NOT_KEPT = "NOT KEPT: look at it before you use it"
NOT_MEASURED = "not measured"

DRAWINGS = "Drawings at scale"
SCALE_SAYS = (
    "Drawings are shown at 1:1 where your screen has 96 pixels to the inch and the browser is at "
    "100\u00a0%: hold a ruler to the bar beside each. What you cut, print from the PDF at "
    "100\u00a0%."
)
DRAWING_ALT = "{title}, {width:.0f} × {height:.0f} mm, drawn at 1:1"
DRAWING_FRAME = "{title}; scroll to see all of it"
BAR = "50 mm, if your screen tells the truth"
