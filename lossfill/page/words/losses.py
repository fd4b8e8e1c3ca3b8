"""What the losses' step says."""

TITLE = "Losses"
VIEW = "The vessel with its losses numbered; each is in the list beside it too"
LIST = "What is missing"
NONE = (
    "Nothing was found missing. Where you see a loss all the same, point at it; else there is "
    "nothing to fill here, and you are done."
)
NONE_LEVEL = "Nothing was found missing: there is nothing to fill here, and you are done."
FOUND_ONE = "One loss was found."
FOUND = "{count} losses were found."
HOW = "Choose one in the list or in the view to see its measures."

KINDS = {
    "through": "Hole through the wall",
    "rim": "Piece of the rim",
    "foot": "Piece of the foot",
    "chip": "Chip of the edge",
    "handle": "Piece of a handle",
    "spall": "Flake of one skin",
}
NAME = "{number}  {kind}"
PLACE = "at {clock}, {height} above the foot"
PLACE_LEVEL = "{height} above the table"
IS_DISMISSED = "left alone"

SIZE = "Size"
SIZE_ON_WALL = "{around} around × {along} along the wall"
SIZE_PLAIN = "{around} × {along}"
VOLUME = "Volume missing"
THICKNESS = "Thickness"
BETWEEN = "{low} to {high}"
DEPTH = "Depth below the skin"
JOIN = "Length of the join"
WAY = "Fill it with"
WHY = "Because it is {reason}. This rule is common practice; your eye decides."
ERROR = "Error of the new skin"
ERROR_SAYS = "{expected} expected, below {bound} in nine of ten cases"

DISMISS = "Leave this one alone"
DISMISS_NAMED = "Leave loss {number} alone"
RESTORE = "Take it up again"
RESTORE_NAMED = "Take loss {number} up again"
DISMISSED_SAYS = "No piece is made for it. The others keep their numbers."

CRACKS = "Cracks and open seams"
CRACK = "{length} long, {width} wide, {side}, at {clock}, {height} above the foot"
CRACK_INSIDE = "in the inner skin alone"
CRACK_OUTSIDE = "seen from outside"
CRACKS_SAY = "They get no piece: an adhesive is drawn into them."
CRACK_MARK = "C{number}"
SHOW_CRACK = "Show"
SHOW_CRACK_NAMED = "Show crack {number}"
WHOLE = "Show the whole"

MISSING = "A loss is missing from the list"
POINT = (
    "Click on the edge of the loss in the view. Chips too small to be listed by themselves are "
    "looked for there. Or say where it is:"
)
CLOCK = "Around, on a clock seen from above (such as 4:30)"
HEIGHT = "Height above the foot, {unit}"
LOOK = "Look there"
STOP_POINTING = "Do not point"
WRONG_HEIGHT = "Give a height between 0 and {most}."
NO_AXIS = "A loss cannot be pointed at on a thing without an axis."
POINTED_ONE = "Looked for at one place that you pointed at."
POINTED = "Looked for at {count} places that you pointed at."
FORGET_POINTED = "Forget these places"
NEW_SEARCH = (
    "Looking again may number the losses anew: those that you left alone come back to the list."
)
