"""Step 2: the vessel upright, its measures, and what was mended in a copy of the scan."""

from __future__ import annotations

from typing import Any

from nicegui import ui

from lossfill.page.choices import Stage
from lossfill.page.context import Context
from lossfill.page.steps.parts import heading, measures, notes, paragraph, view_frame
from lossfill.page.steps.scene import CLOSE_UP_MM, box_of, has_axis, vessel_shape
from lossfill.page.view import VesselView
from lossfill.page.words import common
from lossfill.page.words import vessel as words


def build(context: Context) -> None:
    """Show the view beside the measures."""
    found = context.found(Stage.VESSEL)
    if found is None:
        return
    with ui.element("div").classes("beside"):
        with view_frame():
            view = VesselView(
                [vessel_shape(context)],
                box=box_of(found),
                label=words.VIEW,
                axis=has_axis(found),
            )
        with ui.element("div"):
            heading(words.MEASURES, 3)
            measures(_measures(context, found["frame"]))
            _repairs(context, found["repairs"], view)
            reading = set(found.get("reading", ()))
            notes(
                common.NOTES,
                [context.says(told) for told in found["warnings"] if told not in reading],
            )


def _measures(context: Context, frame: dict[str, Any]) -> list[tuple[str, str]]:
    names = {
        "height_mm": words.HEIGHT,
        "length_mm": words.LENGTH,
        "width_mm": words.WIDTH,
        "rim_diameter_mm": words.RIM,
        "foot_diameter_mm": words.FOOT,
        "wall_mm": words.WALL,
    }
    rows = [
        (name, context.length(frame[key]))
        for key, name in names.items()
        if frame.get(key) is not None
    ]
    if frame.get("capacity_ml") is not None:
        rows.append((words.CAPACITY, context.volume(frame["capacity_ml"])))
    if frame.get("roundness"):
        worst = max(frame["roundness"], key=lambda one: sum(one["amplitudes_mm"]))
        rows.append(
            (
                words.ROUND,
                words.ROUND_SAYS.format(
                    most=context.length(sum(worst["amplitudes_mm"])),
                    height=context.length(worst["height_mm"]),
                ),
            )
        )
    if frame.get("residual_mm") is not None:
        rows.append((words.AXIS, context.length(frame["residual_mm"])))
    return rows


def _repairs(context: Context, repairs: list[dict[str, Any]], view: VesselView) -> None:
    heading(words.REPAIRS, 3)
    if not repairs:
        paragraph(words.NO_REPAIRS)
        return
    with ui.element("ul").classes("rows"):
        for repair in repairs:
            with ui.element("li"):
                many = f" ({repair['count']} ×)" if repair["count"] > 1 else ""
                what = context.says(repair["what"])
                paragraph(f"{what[:1].upper()}{what[1:]}{many}")
                place = repair["place_mm"]
                if place is None:
                    continue
                size = max(repair["size_mm"], CLOSE_UP_MM)
                button = ui.button(
                    words.FLY, on_click=lambda at=place, size=size: view.fly_to(tuple(at), size)
                )
                button.props("flat dense no-caps").props["aria-label"] = f"{words.FLY}: {what}"
    if any(repair["place_mm"] is not None for repair in repairs):
        ui.button(words.WHOLE, on_click=view.fly_home).props("flat dense no-caps")
