"""What the first page and the scan's step say."""

START = "Which vessel?"
DROP = "Drop a scan here, or choose a file"
KINDS = (
    "STL, PLY, OBJ, OFF, GLB, glTF, 3MF, or points as XYZ; up to {most} MB. "
    "It stays on this computer."
)
SENDING = "Receiving {name}: {percent} %"
NOT_SENT = "the file could not be sent: is lossfill still running?"
NOT_TAKEN = "the file could not be taken in: load this page again"
DEMO = "Try it with the demo vessel"
DEMO_SAYS = "A tea bowl with a piece of its rim and a chip missing, made up for trying."
EARLIER = "Vessels you have begun"
NO_EARLIER = "None yet."
REMOVE = "Remove {title}"
REMOVE_SURE = "Remove {title} with all that was made of it? This cannot be undone."
YES_REMOVE = "Remove"
NO_KEEP = "Keep"

WRONG_KIND = (
    "{name} is no scan that can be read here: export it as STL, PLY, OBJ, OFF, GLB, glTF, 3MF "
    "or XYZ"
)
TOO_LARGE = "{name} is larger than {most} MB: export a coarser scan"
EMPTY = "{name} is empty: export it again"
DISK_FULL = "{name} could not be kept ({why}): free some space"

SCAN_TITLE = "Scan"
FILE = "File"
TALL = "Read in {unit}, this vessel is {height} tall and {width} wide."
IS_NOT = "If that is not its size, say what the file's numbers are in:"
IS_WHICH = "Say what the file's numbers are in, if you know:"
BECAUSE = {
    "file": "The file says so.",
    "asked": "You said so.",
    "inferred": "The file does not say; this was taken because the size is likely.",
    "rim": "It was brought to the diameter of the rim that you gave.",
}
UNITS = {
    "millimetre": "millimetres",
    "centimetre": "centimetres",
    "metre": "metres",
    "inch": "inches",
    "micron": "microns",
    "foot": "feet",
}
MORE = "If the scan shows one side only, or its scale is unknown"
WALL = "Thickness of the wall"
RIM = "Diameter of the rim, over the outside of the lip"
APPLY = "Read it again with this"
TRIANGLES = "{count:,} triangles"
