"""What the check of a made piece found."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from lossfill.fit.fitted import SweepProof
from lossfill.loss.sides import Side
from lossfill.make.brief import Brief, BriefPiece
from lossfill.mesh import FloatArray, Mesh
from lossfill.scan.scan import Scan

Verdict = Literal["goes in", "may rub", "file first", "not known"]

SIDE_WORDS = {Side.OUTER: "outer skin", Side.INNER: "inner skin", Side.BREAK: "seat"}
"""What a repairer calls the sides of a piece; its break side is its seat."""


@dataclass(frozen=True, slots=True)
class Lie:
    """How the scan lies on the design.

    Parameters
    ----------
    rms_mm : trimmed, the worse of scan on design and design on scan
    covered : share of the design's surface that the scan shows, 0 to 1
    larger_percent : by how much the scan is larger than the design, at the size that fits best
    larger_error_percent : standard error of that
    scaled_rms_mm : what the trimmed RMS would be at that size
    """

    rms_mm: float
    covered: float
    larger_percent: float
    larger_error_percent: float
    scaled_rms_mm: float


@dataclass(frozen=True, slots=True)
class SideMisfit:
    """How far one side of the scan stands off the design; positive is too much material.

    Parameters
    ----------
    side : outer skin, inner skin or seat
    area_mm2 : scanned area of that side
    p05_mm, p50_mm, p95_mm : quantiles by area
    too_much_mm2, too_little_mm2 : area that is off by more than the tolerance, noise evened out
    """

    side: Side
    area_mm2: float
    p05_mm: float
    p50_mm: float
    p95_mm: float
    too_much_mm2: float
    too_little_mm2: float


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """One place of too much or too little material.

    Parameters
    ----------
    side : on which side
    depth_mm : how far off it is, positive for too much; 98 % of the place is off by less
    area_mm2, volume_mm3 : of the place
    at : (3,) its middle, vessel coordinates
    normal : (3,) unit vector out of the piece there
    where : in words, such as "upper edge, left, seen from outside (9:00, 62 mm up)"
    """

    side: Side
    depth_mm: float
    area_mm2: float
    volume_mm3: float
    at: FloatArray
    normal: FloatArray
    where: str


@dataclass(frozen=True, slots=True, eq=False)
class GoesIn:
    """Whether the scanned piece slides home along the way that its design was proved for.

    Parameters
    ----------
    verdict : "goes in"; "may rub", where what is in the way is within a scan's noise; "file
        first"; or "not known"
    why : one sentence where it is not known, else empty
    shared_mm3 : volume that it shares with the body when home
    relief_mm3 : volume to be filed off so that it slides home
    file_mm : how deep to file at the deepest
    places : where to file, the largest volume first
    moved_mm : how far it had to be moved off the best fit so as to clear the body
    proof : of the piece after filing, or None where it is not known
    """

    verdict: Verdict
    why: str
    shared_mm3: float
    relief_mm3: float
    file_mm: float
    places: tuple[Place, ...]
    moved_mm: float
    proof: SweepProof | None


@dataclass(frozen=True, slots=True)
class Gap:
    """What is left between piece and body for the adhesive, when the piece is home.

    Parameters
    ----------
    p05_mm, p50_mm, p95_mm, mean_mm : by the area of the body's break
    touching : share of the break that touches, 0 to 1
    wide : share with a wider gap than the setting's, 0 to 1
    break_mm2 : area of the body's break
    adhesive_ml : area times mean gap
    """

    p05_mm: float
    p50_mm: float
    p95_mm: float
    mean_mm: float
    touching: float
    wide: float
    break_mm2: float
    adhesive_ml: float


@dataclass(frozen=True, slots=True, eq=False)
class Checked:
    """What was found of one made piece; all places in vessel coordinates, mm.

    Parameters
    ----------
    scan : as read
    brief, piece : the loss and the piece that it was laid on
    vessel_from_piece_scan : (4, 4) rigid, the best fit
    home_from_piece_scan : (4, 4) rigid, moved off the body where that was needed
    lie : how it lies on the design
    sides : misfit, side by side
    places : of too much and too little, the most important first
    goes_in : whether it slides home
    gap : for the adhesive
    step_mm : 95 % of the skin along the join stands off the body's skin by less; None where no
        skin along the join was scanned
    mesh : the scan at its best fit
    picture : PNG of the misfit; empty where none was asked for
    warnings : sentences that every front end must show
    """

    scan: Scan
    brief: Brief
    piece: BriefPiece
    vessel_from_piece_scan: FloatArray
    home_from_piece_scan: FloatArray
    lie: Lie
    sides: tuple[SideMisfit, ...]
    places: tuple[Place, ...]
    goes_in: GoesIn
    gap: Gap
    step_mm: float | None
    mesh: Mesh = field(repr=False)
    picture: bytes = field(repr=False)
    warnings: tuple[str, ...] = ()
