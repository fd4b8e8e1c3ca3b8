"""The view's server side: what is shown, from where, and what was picked."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from nicegui import events
from nicegui.element import Element

from lossfill.page.words import common as words

Point = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Shape:
    """A mesh in the view, vessel coordinates, mm.

    Parameters
    ----------
    name : what it is called in calls and picks
    url : where the browser finds its file (see `lossfill.page.shown`)
    colour : CSS colour of its surface; of its inside, where it is cut, the same but darker
    opacity : 1 for solid
    visible : shown at first
    values_to : its file has a value for each vertex, and they are coloured from minus to plus this
    """

    name: str
    url: str
    colour: str
    opacity: float = 1.0
    visible: bool = True
    values_to: float | None = None


@dataclass(frozen=True, slots=True)
class Mark:
    """A label at a place."""

    name: str
    at: Point
    label: str


@dataclass(frozen=True, slots=True)
class Cut:
    """A plane; what lies on its far side, along `normal` beyond `offset` mm, is not shown."""

    normal: Point
    offset: float


@dataclass(frozen=True, slots=True)
class Motion:
    """How a shape goes home: from `travel` mm back along `direction`."""

    name: str
    direction: Point
    travel: float


class VesselView(Element, component="view.js", esm={}):
    """A view of shapes with an axis, marks and a cutting plane.

    Parameters
    ----------
    shapes : in the order in which they are drawn
    box : lowest and highest corner of what is to be framed at first, mm
    label : what a screen reader says of it
    on_pick : told of the shape's name, or a mark's with a "#" before it, and the place that was
        clicked
    on_value : told of the value at the place that was clicked, where the shape has values, or None
        where it has none there
    on_cut : told of the cut's offset, mm, where it was dragged in the view
    """

    def __init__(
        self,
        shapes: Sequence[Shape],
        *,
        box: tuple[Point, Point],
        label: str,
        marks: Sequence[Mark] = (),
        axis: bool = True,
        on_pick: Callable[[str, Point], Any] | None = None,
        on_value: Callable[[float | None, Point], Any] | None = None,
        on_cut: Callable[[float], Any] | None = None,
    ) -> None:
        super().__init__()
        self._props["shapes"] = [asdict(shape) for shape in shapes]
        self._props["box"] = [list(corner) for corner in box]
        self._props["label"] = label
        self._props["marks"] = [asdict(mark) for mark in marks]
        self._props["axis"] = axis
        self._props["no3d"] = words.NO_3D
        self._props["notLoaded"] = words.NOT_LOADED

        def picked(event: events.GenericEventArguments) -> Any:
            name, (x, y, z) = event.args["name"], event.args["at"]
            if on_value is not None and "value" in event.args:
                on_value(event.args["value"], (x, y, z))
            return None if on_pick is None else on_pick(str(name), (x, y, z))

        self.on("pick", picked)
        if on_cut is not None:
            self.on("cut", lambda event: on_cut(float(event.args["offset"])), throttle=0.05)

    def fly_to(self, at: Point, size_mm: float) -> None:
        """Look at a place so that so much about it is seen."""
        self.run_method("flyTo", list(at), size_mm)

    def fly_home(self) -> None:
        """Look at the whole again."""
        self.run_method("flyHome")

    def look_from(self, direction: Point) -> None:
        """Look at the whole from a direction."""
        self.run_method("lookFrom", list(direction))

    def show(self, name: str, visible: bool) -> None:
        """Show or hide a shape."""
        self.run_method("show", name, visible)

    def choose(self, name: str | None) -> None:
        """Draw one shape and its mark stronger than the others."""
        self.run_method("choose", name)

    def cut_at(self, cut: Cut | None) -> None:
        """Cut the view with a plane, or with none."""
        self.run_method("cutAt", None if cut is None else asdict(cut))

    def place(self, motion: Motion, share: float) -> None:
        """Place a shape on its way home: 0 is at the start, 1 at home."""
        self.run_method("move", motion.name, list(motion.direction), motion.travel, share)

    def play(self, motion: Motion, seconds: float = 3.0) -> None:
        """Let a shape go home."""
        self.run_method("play", motion.name, list(motion.direction), motion.travel, seconds)
