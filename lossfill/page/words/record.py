"""What the record's step says."""

TITLE = "Record and pack"
NO_PACK = "No loss is left to be filled, so there is nothing to record and nothing to take away."
EMPTY_PACK = "the pack is empty: make the pieces again under Piece"
NO_DAY = "the date of the record is {day}: write a date such as 2026-01-31"
STALE_PACK = (
    "Something was made after this record was written, so that record and ZIP lack it: write the "
    "record again."
)

FIELDS = "What only you know"
FIELDS_SAY = (
    "Nothing here has to be filled in. What you leave empty is printed as a line to write on by "
    "hand. Nothing leaves this computer."
)
SUCH_AS = "Such as: {example}"
TITLE_SAYS = "Begun with the name of the file; it names the ZIP too."
DAY = "Date of the record"
DAY_SAYS = "Empty leaves a line."
PAPER = "Paper"
PAPERS = {"a4": "A4", "letter": "US letter"}
WRITE = "Write the record"
AGAIN = "Write it again with what is there now"

PREVIEW = "The record as it stands"
PREVIEW_NAMED = "The record as it stands, for reading"
PDF = "Save the record as PDF, for printing"
EMPTY = "Still lines to write on: {names}."
EMPTY_MANY = "Of what only you know, {count} fields are lines to write on."
FULL = "Every field is filled in."

PACK = "The pack"
DOWNLOAD = "Download all of it as one ZIP ({size})"
PACK_SAYS = (
    "{files} in one folder named {name}. Keep it: with it, later lossfill can make more of this "
    "design without the scan."
)
FILES = ("One file", "{count} files")
CONTENTS = "What is in it"
COLUMNS = ("What it is", "Files")
FILE = "{name} ({size})"

NEXT = "What next"
NEXT_STEPS = (
    "Open the ZIP, and print one copy of record.pdf to write on at the bench.",
    "Print or cut what you chose to make, and try each piece dry before any adhesive is mixed.",
    "Mix and wait by the plan, and write down where you depart from it.",
    "When the work is done, fill in the rest here, write the record again, and keep it with the "
    "vessel.",
)
NEXT_END = (
    "All done here. The record tells how the fills can be told from the vessel; nothing in it says "
    "that a mended vessel may touch food or drink."
)

KINDS = (
    (r"record\.pdf", "The record of examination and treatment, for printing"),
    (r"record\.html", "The same record, for reading in a browser"),
    (r"plan\.ics", "The plan of the work, for a calendar program"),
    (r"before_after\.png|misfit\.png|loss_\d+\.png", "Pictures of the vessel and its losses"),
    (r"piece_.+\.3mf", "The pieces as designed, to be printed; 3MF tells its unit by itself"),
    (r"piece_.+\.stl", "The pieces as designed, to be printed; STL is in millimetres"),
    (r"loss_\d+_print.*\.\w+", "Pieces laid out for printing"),
    (r"loss_\d+_mould.*\.\w+", "Moulds to cast or press a piece in"),
    (r"loss_\d+_backing.*\.\w+", "Backings that hold putty or paste from behind"),
    (r"loss_\d+_rib.*\.\w+", "Ribs: templates to draw the fill to shape with"),
    (r"loss_\d+_gauges.*\.\w+", "Gauge cards to check a fill's shape by"),
    (r"loss_\d+_wrap.*\.\w+", "Outlines of the new skin, laid flat to be cut out"),
    (r"loss_\d+_stack.*\.\w+", "Layers of a piece, to be sawn from board"),
    (r"check_.+\.json", "Checks of made pieces"),
    (r"design\.npz", "The solids of the design, from which more can be made later"),
    (r"(fill|made|record)\.json", "Every figure and every file, for programs"),
)
"""What files are, by their names, in the order in which they are listed."""

OTHER = "Other files"
EXTENT_BYTES = (("MB", 1_000_000), ("kB", 1_000))
BYTES = "{count} bytes"
