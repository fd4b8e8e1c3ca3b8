"""The check against a store that was made of a scan."""

import numpy as np
import pytest
from check.scans import off_mm, somewhere, with_noise

from lossfill.check import check_piece_scan
from lossfill.make.store import read_briefs
from lossfill.mesh import transformed
from lossfill.pack.stl import stl_bytes
from lossfill.solids import mesh_from_solid


@pytest.mark.slow
def test_printed_piece_of_the_tea_bowl_is_found_and_goes_in(tea_bowl_folder, tmp_path):
    brief = read_briefs(tea_bowl_folder)[0]
    mesh, matrix = mesh_from_solid(brief.pieces[0].solid), somewhere(21)
    scan = transformed(with_noise(mesh, 0.02), matrix)
    path = tmp_path / "printed.stl"
    path.write_bytes(stl_bytes(scan, "printed"))
    found = check_piece_scan(path, tea_bowl_folder, picture=False)
    assert found.piece.name == "1"
    # Waves of 3 mm over 3 500 mm2 are some 400 of them: 0.02 / 20 = 0.001 mm, and turns with it.
    assert off_mm(mesh, matrix, found.vessel_from_piece_scan) < 0.01
    assert found.goes_in.verdict in ("goes in", "may rub")
    assert found.goes_in.file_mm < 0.05
    assert found.gap.p50_mm == pytest.approx(brief.clearance_mm, abs=0.01)
    assert np.abs([side.p50_mm for side in found.sides]).max() < 0.005
