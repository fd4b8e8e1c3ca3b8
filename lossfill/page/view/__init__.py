"""The vessel in three dimensions, in the browser."""

from lossfill.page.view.drop import DropPlace
from lossfill.page.view.view import Cut, Mark, Motion, Point, Shape, VesselView

__all__ = ["Cut", "DropPlace", "Mark", "Motion", "Point", "Shape", "VesselView"]
