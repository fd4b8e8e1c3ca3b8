"""What messages call by an option of the command line, in words of the page; the longest first."""

INSTEAD_OF_OPTIONS = (
    (r"run again with --units", "choose another unit under Scan"),
    (r"pass the right (one|unit) with --units", "choose the right unit under Scan"),
    (r"give a smaller --wall", "enter a thinner wall under Scan"),
    (r"with --(wall|rim-diameter)( MM)?", "under Scan"),
    (r"with --(twin-scale|twin)", "under Form"),
    (r"try --split", "try to let it be parted in two, under Piece"),
    (r"give --humidity, such as 40-65", "give the range of the air's humidity"),
    (r" with --calendar", ""),
    (r"fill the scan again with --units", "choose the right unit under Scan"),
    (r" with --out", ""),
    (r" \(give --(area|break-area|depth)\)", ""),
)
