"""Ribs: boards whose working edge is the vessel's profile, to turn plaster, clay or putty to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from lossfill import tolerances as tol
from lossfill.errors import InputError, UnsuitedError
from lossfill.loss.loss import LossKind
from lossfill.make.brief import Brief, Side
from lossfill.make.made import Made, Proved
from lossfill.make.rib_board import Board, inner_board, measured, outer_board, section_of, way_in
from lossfill.make.rib_drawing import drawn, loss_run
from lossfill.make.sweep import loss_angle_rad


@dataclass(frozen=True, slots=True)
class RibSettings:
    """What may be chosen of ribs.

    Parameters
    ----------
    side : which skin they turn
    section : "here" cuts the vessel where the loss is, since old pots are not round; "round" takes
        the section of the round vessel, for turning the whole on the wheel
    board_mm : width of the outer board beyond the vessel's largest radius: a hand's hold
    scale : oversize of everything, 1 for none; for clay that shrinks by a share s it is 1 / (1 - s)
    """

    side: Literal["both", "outer", "inner"] = "both"
    section: Literal["here", "round"] = "here"
    board_mm: float = 30.0
    scale: float = 1.0

    def __post_init__(self) -> None:
        if self.side not in ("both", "outer", "inner"):
            raise InputError(f"a rib's side is both, outer or inner, not {self.side!r}")
        if self.section not in ("here", "round"):
            raise InputError(f"a rib's section is here or round, not {self.section!r}")
        if not 20.0 <= self.board_mm <= 200.0:
            raise InputError(
                f"a rib's board of {self.board_mm:g} mm is too narrow to hold or too wide to cut: "
                "choose 20 to 200 mm"
            )
        if not 0.5 <= self.scale <= 2.0:
            raise InputError(
                f"a rib drawn {self.scale:g} times the size is a slip: choose 0.5 to 2, and "
                "1 / (1 - s) for clay that shrinks by the share s"
            )


def make_rib(brief: Brief, settings: RibSettings | None = None) -> Made:
    """Draw the ribs for a loss.

    Raises
    ------
    InputError
        For a thing without an axis, a handle, or a vessel without a hollow.
    """
    settings = settings or RibSettings()
    if brief.profile is None:
        raise UnsuitedError(
            "a rib needs an axis to turn about, and this thing has none: use gauges instead"
        )
    if brief.kind is LossKind.HANDLE and settings.section == "here":
        raise UnsuitedError(
            "a handle is not turned: use gauges for it, or a rib of the round section for the wall"
        )
    angle = loss_angle_rad(brief)
    area, surface = section_of(brief, angle, here=settings.section == "here")
    drawings, proved = [], []
    for side in _sides_asked(brief, settings):
        board = (outer_board if side == "outer" else inner_board)(
            area, settings.board_mm / settings.scale
        )
        off, bridge = measured(board, surface, angle if settings.section == "here" else 0.0)
        marked = loss_run(board, brief, angle if settings.section == "here" else None)
        drawings.append(
            drawn(board, brief, settings.scale, marked, _notes(brief, settings, board, bridge))
        )
        what = f"distance of the {side} rib's edge from the vessel's skin, mm"
        proved.append(Proved(what, off, tol.TEMPLATE_EDGE_MM))
    # Both share most of their notes; each is told once.
    notes = tuple(dict.fromkeys(note for drawing in drawings for note in drawing.notes))
    return Made("rib", brief.number, drawings=tuple(drawings), proved=tuple(proved), notes=notes)


def _sides_asked(brief: Brief, settings: RibSettings) -> tuple[Literal["outer", "inner"], ...]:
    """The sides to draw; of a loss on one side alone only that one, unless all is turned anew."""
    if settings.side != "both":
        return (settings.side,)
    here = settings.section == "here"
    has_outer, has_inner = (
        bool((brief.lost.side == int(side)).any()) for side in (Side.OUTER, Side.INNER)
    )
    if here and not has_inner:
        return ("outer",)
    return ("inner",) if here and not has_outer else ("outer", "inner")


def _notes(brief: Brief, settings: RibSettings, board: Board, bridge: float) -> tuple[str, ...]:
    notes = [
        "The drawn line is the sharp face, which lies in the plane of the axis: bevel the edge "
        "behind it by about 45°, away from the side that turns against it.",
        "Stand the board on the foot line, keep its back edge parallel to the axis, and turn the "
        "work, or the board, about the axis; the line along the edge shows where the loss is.",
        "Cut the line smooth: wiggles finer than a pencil's line are the scan's noise.",
        "Wear a dust mask where plaster or putty is scraped dry; a cut metal edge is sharp: break "
        "its ends. Safety data sheets and local rules come first.",
    ]
    if settings.section == "here":
        notes.append(
            "It is the vessel's section at the middle of the loss: an old pot is not round, so "
            "scrape only about there; for turning the whole, ask for the round section."
        )
    if settings.scale != 1.0:
        notes.append(
            f"Drawn {settings.scale:.4f} times the size for what shrinks; the numbers along the "
            "back are heights of the finished vessel, so do not check them with a ruler."
        )
    if bridge > tol.BRIDGED_MM:
        notes.append(
            f"An undercut up to {bridge:.1f} mm deep cannot be reached from the side: the edge "
            "runs level across it; work it by hand."
        )
    wide, mouth = way_in(board)
    if not board.outer and wide > mouth:
        notes.append(
            f"This board is {wide * settings.scale:.0f} mm wide and the vessel only "
            f"{mouth * settings.scale:.0f} mm at its narrowest above: it does not go in. Turn the "
            "inside before the piece or the vessel is put together, or work it by hand."
        )
    if settings.side == "both" and len(_sides_asked(brief, settings)) == 1:
        other = "inner" if board.outer else "outer"
        notes.append(f"The loss does not reach the {other} side, so that there is no rib for it.")
    return tuple(notes)
