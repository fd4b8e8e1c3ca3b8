"""Plane sections through solids, as outlines in the plane's own coordinates."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lossfill.mesh import FloatArray
from lossfill.solids import Solid


@dataclass(frozen=True, slots=True, eq=False)
class Plane:
    """A cutting plane in scan coordinates.

    Parameters
    ----------
    origin : (3,) the point that becomes (0, 0), mm
    right, up : (3,) unit vectors of the drawing's axes
    """

    origin: FloatArray
    right: FloatArray
    up: FloatArray


def outlines(solid: Solid, plane: Plane) -> list[FloatArray]:
    """Cut a solid; closed outlines (N, 2) in mm, outer ones counter-clockwise, holes clockwise."""
    rotation = np.stack([plane.right, plane.up, np.cross(plane.right, plane.up)])
    matrix = np.column_stack([rotation, -rotation @ plane.origin])
    flat = solid.transform(matrix).slice(0.0)
    return [np.asarray(polygon, dtype=np.float64) for polygon in flat.to_polygons()]


def wall_planes(
    vessel_from_scan: FloatArray, angle_deg: float, middle_mm: FloatArray
) -> tuple[Plane, Plane]:
    """The two sections that show a wall: along it (through the axis) and around it (level).

    Parameters
    ----------
    vessel_from_scan : (4, 4) rigid transform
    angle_deg : direction of the section along the wall, counter-clockwise from above
    middle_mm : (3,) point of the loss, vessel coordinates; becomes the middle of both drawings

    Returns
    -------
    along : outside to the right, up is up
    around : seen from above, outside is up
    """
    angle = np.deg2rad(angle_deg)
    outward = np.array([np.cos(angle), np.sin(angle), 0.0])
    clockwise = np.array([np.sin(angle), -np.cos(angle), 0.0])
    rotation = vessel_from_scan[:3, :3]
    # The rows of the rotation are vessel axes in scan coordinates: R^T takes directions back.
    origin = rotation.T @ (middle_mm - vessel_from_scan[:3, 3])
    axis = rotation.T @ np.array([0.0, 0.0, 1.0])
    return (
        Plane(origin, rotation.T @ outward, axis),
        Plane(origin, rotation.T @ clockwise, rotation.T @ outward),
    )
