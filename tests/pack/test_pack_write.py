"""The whole of stage 7: one call, a folder of files, the same bytes each time."""

from __future__ import annotations

import dataclasses
import json
import subprocess
import sys
from pathlib import Path

import manifold3d
import numpy as np
import pytest
import trimesh
from numpy.testing import assert_allclose
from pack.pack_designs import fitted_design, make_design

import lossfill.pack.pack as pack_module
from lossfill.errors import BooleanError
from lossfill.mesh import Mesh
from lossfill.pack import write_pack
from lossfill.pack.record import read_record


@pytest.fixture(scope="module")
def design():
    return make_design(segments=64)


def hashes(folder: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in sorted(folder.iterdir())}


def test_everything_is_written_listed_and_checked(design, tmp_path: Path):
    out = tmp_path / "out"
    pack = write_pack(design, out)
    names = {p.name for p in out.iterdir()}
    assert names == {
        "fill.json",
        "design.npz",
        "piece_1.stl",
        "piece_1.3mf",
        "piece_2.stl",
        "piece_2.3mf",
        "before_after.png",
        "misfit.png",
        "loss_1.png",
        "loss_2.png",
    }
    told = {p.name for p in (pack.record, *pack.pieces, *pack.pieces_3mf, *pack.pictures)}
    assert told == names - {"design.npz"}
    assert all(check.passed for check in (*pack.checks, *pack.checks_3mf))
    record = read_record(pack.record.read_bytes())
    assert set(record.files) == names
    for part, fill in zip(record.losses, design.fills, strict=True):
        # The outside reader finds the designed volume where the record says the piece is.
        mesh = trimesh.load_mesh(out / part.piece)
        assert mesh.is_watertight
        assert_allclose(mesh.volume / 1000, part.piece_volume_ml, rtol=1e-5)
        assert_allclose(mesh.volume / 1000, fill.volume_ml, rtol=1e-6)
        # In the scan's own coordinates.
        assert_allclose(mesh.bounds, fill.mesh.bounds, rtol=0, atol=1e-5)
        assert part.check.passed


def test_the_same_design_gives_the_same_bytes(tmp_path: Path):
    design = make_design(((-75.0, 48.0, 28.0),), segments=64)
    write_pack(design, tmp_path / "a")
    write_pack(design, tmp_path / "b")
    assert hashes(tmp_path / "a") == hashes(tmp_path / "b")
    # A later run without pictures takes the old ones away: they would no longer be true.
    write_pack(design, tmp_path / "a", pictures=False)
    pieces = {n: raw for n, raw in hashes(tmp_path / "b").items() if n.startswith("piece")}
    assert set(hashes(tmp_path / "a")) == {"fill.json", "design.npz", *pieces}
    assert pieces.items() <= hashes(tmp_path / "a").items()


def test_pieces_are_written_as_they_were_made_to_go_in(design, tmp_path: Path):
    fitted = fitted_design(design, split_first=True)
    pack = write_pack(fitted, tmp_path, pictures=False)
    assert [p.name for p in pack.pieces] == ["piece_1a.stl", "piece_1b.stl", "piece_2.stl"]
    assert all(check.passed for check in (*pack.checks, *pack.checks_3mf))
    record = read_record(pack.record.read_bytes())
    assert set(record.files) == {p.name for p in tmp_path.iterdir()}
    made = [piece for one in fitted.fitted for piece in one.pieces]
    for path, piece in zip(pack.pieces, made, strict=True):
        # 32-bit numbers move a corner by 4e-6 mm at 100 mm: 1e-5 of a piece of some mm.
        assert_allclose(trimesh.load_mesh(path).volume, piece.solid.volume(), rtol=1e-5)


def test_the_solids_of_a_design_are_kept_beside_its_record(design, tmp_path: Path):
    fitted = fitted_design(design)
    write_pack(fitted, tmp_path, pictures=False)
    with np.load(tmp_path / "design.npz", allow_pickle=False) as held:
        assert_allclose(held["body_vertices"], design.body.mesh.vertices)
        assert_allclose(held["piece_1_vertices"], fitted.fitted[0].pieces[0].mesh.vertices)
        sides, faces = held["loss_1_side"], held["loss_1_faces"]
    assert len(sides) == len(faces) == design.losses[0].solid.num_tri()
    # The chunk has a break, and skin inside and out.
    assert set(sides.tolist()) == {0, 1, 2}


def test_no_loss_still_makes_a_record(design, tmp_path: Path):
    pack = write_pack(
        dataclasses.replace(design, fills=(), losses=()), tmp_path / "out", pictures=False
    )
    assert pack.pieces == ()
    assert json.loads(pack.record.read_text(encoding="utf-8"))["losses"] == []


def test_losses_without_a_piece_are_drawn_and_recorded(design, tmp_path: Path):
    bare = dataclasses.replace(design, fills=(), left_out=("none for loss 1", "none for loss 2"))
    pack = write_pack(bare, tmp_path / "out")
    names = {p.name for p in (tmp_path / "out").iterdir()}
    assert names == {"fill.json", "before_after.png", "misfit.png"}
    assert (pack.pieces, pack.pieces_3mf, pack.checks) == ((), (), ())
    record = read_record(pack.record.read_bytes())
    assert [part.piece for part in record.losses] == [None, None]
    assert record.warnings[-2:] == ("none for loss 1", "none for loss 2")


def broken(design, **changes):
    first = dataclasses.replace(design.fills[0], **changes)
    return dataclasses.replace(design, fills=(first, *design.fills[1:]))


def test_a_piece_that_overlaps_the_body_is_never_written(design, tmp_path: Path):
    greedy = broken(design, body_nearby=design.fills[0].solid)
    with pytest.raises(BooleanError, match=r"piece_1.stl failed its check.*overlaps"):
        write_pack(greedy, tmp_path / "out", pictures=False)
    assert list(tmp_path.iterdir()) == []


def test_an_open_piece_is_never_written_over_a_good_one(design, tmp_path: Path):
    write_pack(design, tmp_path, pictures=False)
    before = hashes(tmp_path)
    mesh = design.fills[0].mesh
    with pytest.raises(BooleanError, match="not closed"):
        write_pack(broken(design, mesh=Mesh(mesh.vertices, mesh.faces[1:])), tmp_path)
    assert hashes(tmp_path) == before


def test_a_crash_in_a_picture_leaves_the_folder_as_it_was(design, tmp_path: Path, monkeypatch):
    write_pack(design, tmp_path, pictures=False)
    before = hashes(tmp_path)

    def crash(_design):
        raise MemoryError

    monkeypatch.setattr(pack_module, "_draw", crash)
    with pytest.raises(MemoryError):
        write_pack(design, tmp_path)
    assert hashes(tmp_path) == before


def test_slivers_below_float32_are_tidied_before_writing(design, tmp_path: Path):
    """A vertex split by less than the file can hold must not open the piece."""
    mesh = design.fills[0].mesh
    face = np.array(mesh.faces[0])
    middle = mesh.vertices[face[0]] + 1e-9 * (mesh.vertices[face[1]] - mesh.vertices[face[0]])
    new = len(mesh.vertices)
    faces = mesh.faces.tolist()
    a, b, c = face.tolist()
    twin = next(k for k, f in enumerate(faces) if k and _has_edge(f, b, a))
    d = next(v for v in faces[twin] if v not in (a, b))
    faces[0] = [a, new, c]
    faces[twin] = [new, a, d]
    faces += [[new, b, c], [b, new, d]]
    split = Mesh(np.vstack([mesh.vertices, middle]), np.array(faces))
    pack = write_pack(broken(design, mesh=split), tmp_path, pictures=False)
    assert pack.checks[0].passed
    assert_allclose(pack.checks[0].volume_mm3, design.fills[0].solid.volume(), rtol=1e-6)


def _has_edge(face: list[int], start: int, end: int) -> bool:
    return any(face[k] == start and face[(k + 1) % 3] == end for k in range(3))


def test_importing_the_stage_is_light():
    """No picture or modelling library is loaded before there is something to write."""
    code = (
        "import sys; import lossfill.pack; "
        "print([m for m in ('open3d', 'matplotlib', 'lib3mf', 'trimesh', 'pydantic', 'scipy',"
        " 'manifold3d') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_zero_clearance_passes_its_own_gate(tmp_path: Path):
    """The exact complement touches all along the break and still shares nothing."""
    exact = make_design(((-75.0, 48.0, 28.0),), segments=64, clearance_mm=0.0)
    pack = write_pack(exact, tmp_path, pictures=False)
    assert pack.checks[0].clash_mm3 <= pack.checks[0].clash_limit_mm3
    chunk, piece = exact.fills[0].loss.solid, exact.fills[0].solid
    assert isinstance(chunk, manifold3d.Manifold)
    assert_allclose(piece.volume(), chunk.volume(), rtol=1e-6)
