"""Step 5: the pieces in place, their way in, the step at their join, and how they are shaped."""

from __future__ import annotations

from typing import Any

from nicegui import ui

from lossfill.loss.way import Way
from lossfill.page.choices import Stage
from lossfill.page.context import Context
from lossfill.page.lengths import UNITS, scale_mm
from lossfill.page.plot import LEAST_SHOWN_MM, PlotWords, join_plot
from lossfill.page.steps.cutting import cutting
from lossfill.page.steps.losses import to_losses
from lossfill.page.steps.parts import Range, heading, measures, notes, paragraph, view_frame
from lossfill.page.steps.scene import (
    CLOSE_UP_MM,
    box_of,
    close_up_mm,
    has_axis,
    piece_name,
    piece_shape,
    place_of,
    vessel_shape,
)
from lossfill.page.steps.shaping import shaping
from lossfill.page.view import Mark, Motion, Point, VesselView
from lossfill.page.words import common
from lossfill.page.words import losses as losses_words
from lossfill.page.words import piece as words

Part = dict[str, Any]


def build(context: Context) -> None:
    """Show the view beside what is known of each piece, and the settings."""
    vessel, searched = context.found(Stage.VESSEL), context.found(Stage.LOSSES)
    if vessel is None or searched is None:
        return
    found = context.found(Stage.PIECES)
    if found is None:
        shaping(context)
        return
    if not found["pieces"]:
        to_losses(context, words.NO_PIECE if searched["losses"] else losses_words.NONE_LEVEL)
        notes(common.NOTES, context.notes_of(Stage.PIECES))
        return
    losses = {loss["number"]: loss for loss in searched["losses"]}
    with ui.element("div").classes("beside"):
        with ui.element("div"):
            view = _view(context, vessel, found, losses)
            for piece in found["pieces"]:
                _join(context, piece, view)
        with ui.element("div"):
            if len(found["order"]) > 1:
                paragraph(words.ORDER.format(order=", ".join(found["order"])))
            for piece in found["pieces"]:
                _piece(context, piece, losses[piece["loss"]], view)
            notes(common.NOTES, context.notes_of(Stage.PIECES))
            shaping(context)


def facts_of(context: Context, piece: Part) -> list[tuple[str, str]]:
    """What is known of a piece, for reading."""
    entry, share = piece["entry"], _seat_lost_share(piece)
    goes_in = context.says(entry["words"])
    if entry["lean_deg"] >= 1.0:
        goes_in = words.LEAN.format(words=goes_in, lean=entry["lean_deg"])
    if not entry["from_outside"]:
        goes_in = f"{goes_in}; {words.FROM_HOLLOW}"
    rows = [
        (words.VOLUME, context.volume(piece["volume_ml"])),
        (words.GOES_IN, goes_in),
        (words.PROVED, _proof(context, piece)),
        (
            words.SEAT,
            words.SEAT_SAYS.format(
                lost=piece["seat_lost_mm2"], seat=piece["seat_mm2"], percent=100.0 * share
            )
            if share >= 0.005
            else words.SEAT_WHOLE,
        ),
    ]
    if piece["trimmed"]:
        rows.append((words.TRIMMED, words.TRIMMED_SAYS.format(count=piece["trimmed"])))
    passed = piece["check"]["passed"] and piece["check_3mf"]["passed"]
    rows.append((words.CHECK, words.CHECK_PASSED if passed else words.CHECK_FAILED))
    return rows


def join_summary(context: Context, run: Part) -> str:
    """What a plot of the join shows, in words."""
    sides = []
    for wanted in (True, False):
        steps = sorted(
            step
            for step, outside in zip(run["step_mm"], run["outside"], strict=True)
            if step is not None and outside == wanted
        )
        if not steps:
            sides.append(words.JOIN_NO_SIDE)
            continue
        low, high = (
            _signed(context, steps[round(share * (len(steps) - 1))]) for share in (0.25, 0.75)
        )
        sides.append(words.JOIN_SIDE.format(low=low, high=high))
    missing = sum(step is None for step in run["step_mm"]) / len(run["step_mm"])
    return words.JOIN_SUMMARY.format(
        outside=sides[0],
        inside=sides[1],
        length=context.length(run["along_mm"][-1]),
        missing=100.0 * missing,
    )


def largest_step(run: Part) -> int | None:
    """Which place of a run steps most, or None where none was measured."""
    measured = [k for k, step in enumerate(run["step_mm"]) if step is not None]
    return max(measured, key=lambda k: abs(run["step_mm"][k]), default=None)


def _view(context: Context, vessel: Part, found: Part, losses: dict[int, Part]) -> VesselView:
    pieces = found["pieces"]
    marks = [
        Mark(piece_name(piece["name"]), place_of(losses[piece["loss"]]), piece["name"])
        for piece in pieces
    ]

    def picked(name: str, _at: Point) -> None:
        name = name.removeprefix("#")
        own = next((one for one in pieces if piece_name(one["name"]) == name), None)
        if own is not None:
            loss = losses[own["loss"]]
            view.fly_to(place_of(loss), close_up_mm(loss))

    with view_frame():
        view = VesselView(
            [vessel_shape(context), *(piece_shape(context, piece) for piece in pieces)],
            box=box_of(vessel),
            label=words.VIEW,
            marks=marks,
            axis=has_axis(vessel),
            on_pick=picked,
            on_cut=lambda offset: cut.moved(offset),
        )
    cut = cutting(context, view, vessel, list(losses.values()), {one["loss"] for one in pieces})
    return view


def _piece(context: Context, piece: Part, loss: Part, view: VesselView) -> None:
    name = piece["name"]
    heading(words.PIECE.format(name=name), 3)
    if loss["way"] != Way.INSERT.value:
        paragraph(words.RATHER.format(number=loss["number"], way=loss["way"]))
    measures(facts_of(context, piece))
    x, y, z = piece["entry_vessel"]
    motion = Motion(piece_name(name), (x, y, z), piece["entry"]["travel_mm"])
    with ui.element("div").classes("motion"):
        ui.button(words.PLAY.format(name=name), on_click=lambda: _play(view, motion, loss)).props(
            "outline no-caps"
        )
        Range(
            words.SHARE.format(name=name),
            lambda share: view.place(motion, share),
            low=0.0,
            high=1.0,
            step=0.01,
            value=1.0,
        )
    paragraph(words.MOTION_SAYS, "quiet")


def _play(view: VesselView, motion: Motion, loss: Part) -> None:
    view.fly_to(place_of(loss), close_up_mm(loss) + motion.travel)
    view.play(motion)


def _join(context: Context, piece: Part, view: VesselView) -> None:
    heading(words.JOIN.format(name=piece["name"]), 3)
    if not piece["join"]:
        paragraph(words.JOIN_NONE)
        return
    paragraph(words.JOIN_SAYS)
    for run in piece["join"]:
        summary = join_summary(context, run)
        plot_words = PlotWords(
            words.JOIN_ALONG.format(unit=UNITS[context.state.shown]),
            words.JOIN_STEP.format(unit=UNITS[context.state.shown]),
            words.JOIN_OUTSIDE,
            words.JOIN_INSIDE,
            f"{words.JOIN.format(name=piece['name'])}. {summary}",
        )
        scale = scale_mm(context.state.shown)
        drawn = join_plot(
            [along / scale for along in run["along_mm"]],
            [None if step is None else step / scale for step in run["step_mm"]],
            run["outside"],
            plot_words,
            least_shown=LEAST_SHOWN_MM / scale,
        )
        ui.html(drawn, sanitize=False).classes("plot")
        paragraph(summary)
        most = largest_step(run)
        if most is not None:
            place, step = run["places_mm"][most], _signed(context, run["step_mm"][most])
            ui.button(
                words.JOIN_SHOW.format(step=step),
                on_click=lambda place=place: view.fly_to(tuple(place), CLOSE_UP_MM),
            ).props("flat dense no-caps")


def _proof(context: Context, piece: Part) -> str:
    proof = piece["proof"]
    if not proof["passed"]:
        return words.PROOF_FAILED.format(shared=f"{proof['shared_mm3']:.2g}")
    says = words.PROOF.format(
        travel=context.length(piece["entry"]["travel_mm"]),
        stations=proof["stations"],
        shared=f"{proof['shared_mm3']:.2g}",
    )
    if proof["rub_mm"] > 0:
        says += words.PROOF_RUB.format(rub=context.length(proof["rub_mm"]))
    return says


def _seat_lost_share(piece: Part) -> float:
    return float(piece["seat_lost_mm2"] / piece["seat_mm2"]) if piece["seat_mm2"] > 0 else 0.0


def _signed(context: Context, mm: float) -> str:
    told = context.length(abs(mm))
    # What rounds to nothing lies neither above nor below.
    sign = "" if float(told.split()[0]) == 0 else "+" if mm > 0 else "−"
    return f"{sign}{told}"
