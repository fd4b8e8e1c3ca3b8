"""Every failure that a user can meet.

::

    LossfillError
    ├── InputError            the file, its unit or its content cannot be used as given
    │   ├── NotWatertightError    openings remain that may not be closed by guessing
    │   └── UnsuitedError         a thing that was asked for is not made for such a loss
    ├── AlignmentError        no axis, no rim or no foot can be found
    │   └── NoAxisError           the shape has no axis: a box, a tile, a figure
    ├── AmbiguousShapeError   too little of the vessel survives to say what was there
    ├── BooleanError          a solid could not be cut or joined, or a piece failed its check:
    │                         our fault, not the scan's
    └── ExportError           a result could not be written or did not read back as written

A message is one line in the words of the person who repairs the pot: what is wrong, the measured
value and the limit where there is one, and what to do next.
"""

__all__ = [
    "AlignmentError",
    "AmbiguousShapeError",
    "BooleanError",
    "ExportError",
    "InputError",
    "LossfillError",
    "NoAxisError",
    "NotWatertightError",
    "UnsuitedError",
]


class LossfillError(Exception):
    """Root of all errors that lossfill raises on purpose."""


class InputError(LossfillError):
    """The scan file, its unit, or what is in it cannot be used as given."""


class NotWatertightError(InputError):
    """The scan has openings too large or too bent to be closed without inventing shape."""


class UnsuitedError(InputError):
    """A thing to make does not suit this loss: a backing for a chip, a rib for a tile."""


class AlignmentError(LossfillError):
    """The vessel's axis, its way up, its rim or its foot cannot be found."""


class NoAxisError(AlignmentError):
    """The shape has no axis of revolution."""


class AmbiguousShapeError(LossfillError):
    """Too little of the vessel is left to say what the missing part looked like."""


class BooleanError(LossfillError):
    """A solid could not be built, cut or proved sound; a piece failed its check on the file."""


class ExportError(LossfillError):
    """A result could not be written, or did not read back as it was written."""
