"""What the form's step says."""

TITLE = "Form"
VIEW = "The vessel coloured by how far it lies off the form; by numbers: choose a place"
WHAT = (
    "What is missing has to be worked out from what is left. Each way below was tried on parts of "
    "this vessel that are there: hidden, worked out, and compared."
)
WAYS = {
    "revolve": "Revolve: turn the profile about the axis, bent to follow this vessel",
    "mirror": "Mirror: take the form from the other side of a plane of symmetry",
    "turn": "Turn: take the form from where the shape comes again around the turn",
    "twin": "Twin: take the form from another vessel of the set",
    "bridge": "Bridge: span the gap as smoothly as its edges allow",
}
SHORT = {
    "revolve": "Revolve",
    "mirror": "Mirror",
    "turn": "Turn",
    "twin": "Twin",
    "bridge": "Bridge",
}
BEST = "For each loss, what errs least"
CHANGE = "Find the form by"
APPLY = "Work it out by this"
NEW_SEARCH = "The losses are looked for again, and those that you left alone come back to the list."
TABLE = "Ways tried for loss {number}: {kind}"
WAY = "Way"
EXPECTED = "Error expected"
BOUND = "Below, in nine of ten cases"
SAYS = "How"
CHOSEN = "chosen"
NOT_TRIED = "does not apply"
NO_LOSS = "Nothing is missing, so no way to find a form was needed."

MAP = "How far the vessel lies off the form"
LEGEND = "From {low} below the form to {high} above it; grey where it is no skin of the vessel"
BELOW = "below"
ABOVE = "above"
READ_HERE = "Click on the vessel to read the number there."
READ_BELOW = "Here the vessel lies {value} below the form, {height} above what it stands on."
READ_ABOVE = "Here the vessel stands {value} above the form, {height} above what it stands on."
READ_NONE = "Here there is no skin to compare: a break, a handle, or a place far off."
LOOK = "Look beside each loss: strong colours there mean that the form does not follow the vessel."

MORE = "If you know something of the shape that the scan does not show"
REPEATS = "How often the shape comes again around the turn"
REPEATS_SAYS = (
    "Count the flutes or lobes. Leave it empty to have them counted. A number between {low} and "
    "{most}."
)
TWIN = "Scan of another vessel of the set"
TWIN_SAYS = (
    "A vessel made to the same shape, whole where this one is broken. Its scan must have the same "
    "unit as this one. It is worked with at once."
)
TWIN_DROP = "Drop the twin's scan here, or choose a file"
TWIN_IS = "A twin is in use."
TWIN_FORGET = "Work without it"
TWIN_SCALED = "Bring the twin to this vessel's size"
TWIN_SCALED_SAYS = (
    "Vessels of a set shrink by different amounts in the kiln. Ticked, the twin is made as large "
    "as this one first; else it keeps its size, and the difference is only told."
)
SEARCH = "Look again with this"
WRONG_REPEATS = "Give a whole number between {low} and {most}, or nothing."
