"""Demo scans: every piece goes in, by our proof and by an outside judge of collisions."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from fill.fill_checks import vtk_mesh
from vtkmodules.vtkCommonTransforms import vtkTransform
from vtkmodules.vtkFiltersModeling import vtkCollisionDetectionFilter

from lossfill.fit.fitted import FittedPiece
from lossfill.mesh import Mesh
from lossfill.road import Settings, design
from lossfill.solids import mesh_from_solid

MESHES = Path(__file__).parents[2] / "meshes"
STATIONS = 24


def contacts(piece: FittedPiece, body: Mesh, *, past_mm: float = 0.0) -> list[int]:
    """Contacts of the two surfaces by VTK at stations from home outwards.

    Parameters
    ----------
    past_mm : how far past home the piece is pushed
    """
    judge: Any = vtkCollisionDetectionFilter()
    judge.SetInputData(0, vtk_mesh(piece.mesh))
    judge.SetInputData(1, vtk_mesh(body))
    moved, still = vtkTransform(), vtkTransform()
    judge.SetTransform(0, moved)
    judge.SetTransform(1, still)
    judge.SetBoxTolerance(0.0)
    judge.SetCellTolerance(0.0)
    judge.SetNumberOfCellsPerNode(4)
    judge.SetCollisionModeToFirstContact()
    found = []
    for share in np.linspace(0.0, 1.0, STATIONS):
        moved.Identity()
        moved.Translate(*((past_mm - share * piece.entry.travel_mm) * piece.entry.direction))
        judge.Update()
        found.append(int(judge.GetNumberOfContacts()))
    return found


@pytest.mark.slow
@pytest.mark.parametrize("name", ["tea_bowl", "mug"])
def test_every_piece_of_a_demo_scan_goes_in(name: str) -> None:
    made = design(MESHES / f"{name}_scan.ply", Settings(split=True))
    assert len(made.fitted) == len(made.losses) > 0
    for one in made.fitted:
        body = made.body.solid
        for piece in one.pieces:
            assert piece.proof.passed
            assert piece.proof.shared_mm3 == 0.0
            mesh = mesh_from_solid(body)
            assert contacts(piece, mesh) == [0] * STATIONS
            # The judge can tell: pushed past home by more than the gap, the seat is cut.
            assert contacts(piece, mesh, past_mm=0.6)[0] > 0
            body = body + piece.solid
