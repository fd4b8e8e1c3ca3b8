"""What is asked of the bench scale, and the answer with every step that led to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from lossfill.materials.material import Material

Use = Literal["join", "fill", "insert", "coat", "metal"]
"""What a portion is for: adhesive on the break, fill in the gap, a made insert, coats, metal."""


@dataclass(frozen=True, slots=True)
class Need:
    """What has to be known of one loss before anything is mixed.

    Parameters
    ----------
    name : "loss 1", or "as given" where there was no scan
    number : of the loss, or 0
    volume_ml : missing material
    volume_error_ml : how far that may be off, in nine of ten cases
    outer_mm2, inner_mm2 : new skin
    break_mm2 : area of the break
    depth_mm : how deep the fill is at its thickest, from the side from which it is laid
    clearance_mm : gap along the break
    piece_ml : volume of the made piece, or None where there is none
    box_mm : the missing material's length, breadth and thickness, longest first; or None
    way : "paste in thin layers", "putty on a backing" or "a made insert", as recommended; "" unsaid
    """

    name: str
    number: int
    volume_ml: float
    volume_error_ml: float
    outer_mm2: float
    inner_mm2: float
    break_mm2: float
    depth_mm: float
    clearance_mm: float
    piece_ml: float | None
    box_mm: tuple[float, float, float] | None
    way: str


@dataclass(frozen=True, slots=True)
class ChainLink:
    """One step from mm³ to gram.

    Parameters
    ----------
    what : in words, such as "with 15 % left on tools and board"
    sum : how it was reckoned, such as "6.57 ml × 1.15"
    value, unit : what came out
    """

    what: str
    sum: str
    value: float
    unit: str


@dataclass(frozen=True, slots=True)
class Amount:
    """What to weigh or draw up of one component, rounded up to what the tool can tell.

    Parameters
    ----------
    part : name of the component
    mass_g : in steps of 0.01 g
    volume_ml : the same as a 1 ml syringe can measure it, in steps of 0.01 ml; None for powders
    """

    part: str
    mass_g: float
    volume_ml: float | None


@dataclass(frozen=True, slots=True)
class Portion:
    """One material for one use in one loss.

    Parameters
    ----------
    loss : number of the loss, or 0
    name : "loss 1"
    use : what it is for
    material : the row of the table
    volume_ml : of fresh material wanted, make-up for shrinkage and waste included
    error_ml : uncertainty of that volume, carried over from the form's bound
    mass_g : the same as mass
    amounts : of each component, for all batches together
    batches : how many times it is mixed, by pot life; each at least `material.least_batch_g`
    layers : in how many layers or coats it is laid
    chain : from mm³ to gram
    notes : what to know, such as a blank's size or that a batch was made larger to mix true
    """

    loss: int
    name: str
    use: Use
    material: Material
    volume_ml: float
    error_ml: float
    mass_g: float
    amounts: tuple[Amount, ...]
    batches: int
    layers: int
    chain: tuple[ChainLink, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Total:
    """One material for the whole vessel, mixed once for all losses where it can be."""

    material: Material
    volume_ml: float
    error_ml: float
    mass_g: float
    amounts: tuple[Amount, ...]
    batches: int


@dataclass(frozen=True, slots=True)
class Quantities:
    """What to mix.

    Parameters
    ----------
    portions : by loss, in the order of the work: join, fill or insert, coat, metal
    totals : by material, in the order in which they are first needed
    warnings : what a person must know
    """

    portions: tuple[Portion, ...]
    totals: tuple[Total, ...]
    warnings: tuple[str, ...] = ()
