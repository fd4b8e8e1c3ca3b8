"""Scans that cannot be used, through the command line as a person meets them.

Each gives exit code 2 and one line that says what is wrong and what to do: no trace, no folder, and
a folder that was there stays as it was. What can be mended is mended, and said.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from donor.donor_cases import lump
from make_meshes import write_ply
from scan.scan_makers import stl_bytes
from shapes import bowl_shell, centroids, combined, moved, plate, revolve, turned_over, without
from vessels import plain_cup

from lossfill.cli import main
from lossfill.mesh import Mesh
from lossfill.solids import mesh_from_solid, solid_from_mesh

EDGE_MM = 3.0
CUP = plain_cup(edge_mm=EDGE_MM)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a run left behind."""

    code: int
    out: str
    err: str


Run = Callable[..., Outcome]


@pytest.fixture
def run(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run a command in a folder of its own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("LOSSFILL_TRACEBACK", raising=False)

    def call(*words: str | Path) -> Outcome:
        code = main([str(word) for word in words])
        said = capsys.readouterr()
        return Outcome(code, said.out, said.err)

    return call


def assert_refused(outcome: Outcome, *words: str) -> None:
    """One line under our name that holds all the words, and nothing else."""
    assert outcome.code == 2, outcome.err
    assert outcome.out == ""
    assert outcome.err.startswith("lossfill: ")
    assert outcome.err.count("\n") == 1
    assert outcome.err.endswith("\n")
    assert "Traceback" not in outcome.err
    assert len(outcome.err) < 500
    for word in words:
        assert word in outcome.err, outcome.err


def names(folder: Path) -> list[str]:
    return sorted(file.name for file in folder.iterdir())


def broken_file(kind: str) -> tuple[str, bytes]:
    corners = CUP.vertices[CUP.faces]
    if kind in ("NaN", "infinity"):
        corners = corners.copy()
        corners[7, 1, 2] = np.nan if kind == "NaN" else np.inf
    content = stl_bytes(corners)
    return {
        "empty": ("cup.stl", b""),
        "cut short": ("cup.stl", content[: len(content) // 2]),
        "text named stl": ("cup.stl", b"The bowl has a chip at two o'clock.\n" * 50),
        "NaN": ("cup.stl", content),
        "infinity": ("cup.stl", content),
        "no triangle": ("cup.stl", stl_bytes(corners[:0])),
        "a format that is not read": ("cup.step", b"ISO-10303-21;\nHEADER;\n" * 40),
    }[kind]


WHAT_AND_HOW = {
    "empty": ("cup.stl", "empty"),
    "cut short": ("cup.stl", "promises", "again"),
    "text named stl": ("cup.stl", "text file"),
    "NaN": ("cup.stl", "finite", "again"),
    "infinity": ("cup.stl", "finite", "again"),
    "no triangle": ("cup.stl", "no triangle", "again"),
    "a format that is not read": ("cup.step", ".step", "STL"),
}


@pytest.mark.parametrize("kind", WHAT_AND_HOW)
def test_a_damaged_file(kind: str, run: Run, tmp_path: Path) -> None:
    name, content = broken_file(kind)
    (tmp_path / name).write_bytes(content)
    for command in ("fill", "measure", "inspect"):
        assert_refused(run(command, name), *WHAT_AND_HOW[kind])
    assert names(tmp_path) == [name]


def three_walls() -> Mesh:
    """The cup with a fin from its outer wall to a point outside: edges of three triangles."""
    a, b = CUP.faces[len(CUP.faces) // 3, :2]
    middle = 0.5 * (CUP.vertices[a] + CUP.vertices[b])
    tip = middle * [1.6, 1.6, 1.0]
    fin = [[a, b, len(CUP.vertices)]]
    return Mesh(np.vstack([CUP.vertices, tip]), np.vstack([CUP.faces, fin]))


def a_wall_within() -> Mesh:
    """The cup with a disc across it at half its height: each edge of the disc is in three walls."""
    high = CUP.vertices[:, 2]
    inner = (np.hypot(*CUP.vertices[:, :2].T) < 37.2) & (high > 20.0) & (high < 40.0)
    level = high[inner][0]
    ring = np.flatnonzero(inner & (high == level))
    turn = np.arctan2(CUP.vertices[ring, 1], CUP.vertices[ring, 0])
    ring = ring[np.argsort(turn)]
    middle = np.full(len(ring), len(CUP.vertices))
    disc = np.stack([ring, np.roll(ring, -1), middle], axis=1)
    return Mesh(np.vstack([CUP.vertices, [0.0, 0.0, level]]), np.vstack([CUP.faces, disc]))


def folded() -> Mesh:
    """A ring of wall whose section runs through itself, 60 ml counted twice."""
    section = [[0, 0], [30, 0], [30, 20], [20, 20], [20, 30], [25, 30], [25, 5], [35, 5]]
    return revolve(np.array([*section, [35, 40], [0, 40]], dtype=float), 96).mesh


def broken_lump() -> Mesh:
    """An irregular lump with a corner off: no axis, no plane of symmetry, no sheet."""
    import manifold3d

    block = manifold3d.Manifold.cube((60.0, 60.0, 60.0)).translate((10.0, 8.0, 5.0))
    return mesh_from_solid(solid_from_mesh(lump()) - block)


def scanned_outside_only() -> Mesh:
    inside = CUP.vertices[CUP.faces]
    middle = inside.mean(axis=1)
    normal = np.cross(inside[:, 1] - inside[:, 0], inside[:, 2] - inside[:, 0])
    towards_axis = (normal[:, :2] * middle[:, :2]).sum(axis=1) < 0.0
    floor = (normal[:, 2] > 0.0) & (middle[:, 2] < 10.0)
    return without(CUP, towards_axis | floor | (middle[:, 2] > 59.2))


def solid_cylinder() -> Mesh:
    import manifold3d

    return mesh_from_solid(manifold3d.Manifold.cylinder(80.0, 30.0, 30.0, 96).refine_to_length(3.0))


MESHES: dict[str, tuple[Callable[[], Mesh], tuple[str, ...]]] = {
    "a flat sheet": (lambda: plate(100.0, 20), ("flat sheet", "all sides")),
    "two vessels": (
        lambda: combined(CUP, moved(CUP, 120.0)), ("2 separate objects", "one vessel per file"),
    ),
    "a fin on the wall": (three_walls, ("three or more triangles",)),
    "a wall within": (a_wall_within, ("three or more triangles",)),
    "folded through itself": (folded, ("runs through itself", "remesh")),
    "a lump": (broken_lump, ("no axis", "nor does anything else show its form", "--twin")),
    "a solid cylinder": (solid_cylinder, ("hollow",)),
    "scanned outside only": (scanned_outside_only, ("opening", "inside and outside")),
    "a pot of 90 m": (lambda: Mesh(CUP.vertices * 1000.0, CUP.faces), ("--units",)),
    "a pot of 9 mm": (lambda: Mesh(CUP.vertices * 0.1, CUP.faces), ("--units",)),
}  # fmt: skip


@pytest.mark.parametrize("kind", MESHES)
def test_a_scan_that_is_no_vessel(kind: str, run: Run, tmp_path: Path) -> None:
    make, words = MESHES[kind]
    write_ply(make(), tmp_path / "scan.ply")
    before = hashlib.sha256((tmp_path / "scan.ply").read_bytes()).hexdigest()
    unit = () if "pot of" in kind else ("--units", "mm")
    assert_refused(run("fill", "scan.ply", *unit, "--out", "pieces"), *words)
    assert names(tmp_path) == ["scan.ply"]
    assert hashlib.sha256((tmp_path / "scan.ply").read_bytes()).hexdigest() == before


def test_a_wrong_unit_is_refused_with_every_reading(run: Run, tmp_path: Path) -> None:
    write_ply(CUP, tmp_path / "cup.ply")
    # The cup is 84 numbers wide: as metres that is a building.
    assert_refused(run("measure", "cup.ply", "--units", "m"), "m was asked for", "--units")


def test_a_refused_run_leaves_an_earlier_folder_alone(run: Run, tmp_path: Path) -> None:
    write_ply(MESHES["two vessels"][0](), tmp_path / "scan.ply")
    (tmp_path / "pieces").mkdir()
    (tmp_path / "pieces" / "fill.json").write_text('{"format": "lossfill fill", "files": []}')
    (tmp_path / "pieces" / "notes.txt").write_text("lacquer ordered on Monday")
    stamps = {
        f.name: (f.read_bytes(), f.stat().st_mtime_ns) for f in (tmp_path / "pieces").iterdir()
    }
    assert_refused(
        run("fill", "scan.ply", "--units", "mm", "--out", "pieces"), "2 separate objects"
    )
    after = {
        f.name: (f.read_bytes(), f.stat().st_mtime_ns) for f in (tmp_path / "pieces").iterdir()
    }
    assert after == stamps


def test_a_whole_vessel(run: Run, tmp_path: Path) -> None:
    write_ply(CUP, tmp_path / "cup.ply")
    outcome = run("fill", "cup.ply", "--units", "mm", "--out", "pieces")
    assert outcome.code == 0
    assert outcome.err == ""
    assert "No loss found." in outcome.out
    assert "Nothing was written." in outcome.out
    assert names(tmp_path) == ["cup.ply"]


def test_an_inside_out_scan_is_turned_and_it_is_said(run: Run, tmp_path: Path) -> None:
    write_ply(turned_over(CUP), tmp_path / "cup.ply")
    outcome = run("measure", "cup.ply", "--units", "mm")
    assert outcome.code == 0, outcome.err
    assert outcome.err == ""
    assert "turned the inside-out scan" in outcome.out
    assert "No loss found." in outcome.out


def test_a_sherd_that_overlaps_is_joined_or_refused(run: Run, tmp_path: Path) -> None:
    # A second copy of a piece of wall, shifted by half a wall into the first: two scans badly laid
    # together. Either answer is right, but it must be told.
    import manifold3d

    block = manifold3d.Manifold.cube((60.0, 60.0, 40.0)).translate((10.0, -30.0, 15.0))
    sherd = mesh_from_solid(solid_from_mesh(CUP) ^ block)
    write_ply(combined(CUP, moved(sherd, 2.0)), tmp_path / "cup.ply")
    outcome = run("measure", "cup.ply", "--units", "mm")
    if outcome.code == 0:
        assert "joined overlapping sherds" in outcome.out
        assert "Traceback" not in outcome.out
    else:
        assert_refused(outcome)


@pytest.mark.parametrize("count", [100_000, pytest.param(1_000_000, marks=pytest.mark.slow)])
def test_debris_is_dropped_and_it_is_said(count: int, run: Run, tmp_path: Path) -> None:
    rng = np.random.default_rng(5)
    places = rng.uniform(-80.0, 80.0, (count, 1, 3))
    corners = (places + rng.normal(0.0, 0.05, (count, 3, 3))).reshape(-1, 3)
    scraps = Mesh(corners, np.arange(3 * count).reshape(-1, 3))
    write_ply(combined(CUP, scraps), tmp_path / "cup.ply")
    outcome = run("measure", "cup.ply", "--units", "mm")
    assert outcome.code == 0, outcome.err
    assert outcome.err == ""
    assert "dropped loose scraps" in outcome.out
    assert "No loss found." in outcome.out


def test_only_debris(run: Run, tmp_path: Path) -> None:
    rng = np.random.default_rng(6)
    places = rng.uniform(-80.0, 80.0, (5000, 1, 3))
    corners = (places + rng.normal(0.0, 0.05, (5000, 3, 3))).reshape(-1, 3)
    write_ply(Mesh(corners, np.arange(15_000).reshape(-1, 3)), tmp_path / "dust.ply")
    assert_refused(run("fill", "dust.ply", "--units", "mm"), "loose scraps")
    assert names(tmp_path) == ["dust.ply"]


def test_a_file_that_is_a_folder(run: Run, tmp_path: Path) -> None:
    (tmp_path / "scan.ply").mkdir()
    assert_refused(run("fill", "scan.ply"), "scan.ply", "folder")


def test_a_file_that_is_not_there(run: Run, tmp_path: Path) -> None:
    assert_refused(run("fill", "scan.ply"), "scan.ply")
    assert names(tmp_path) == []


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root may read everything")
def test_a_file_that_may_not_be_read(run: Run, tmp_path: Path) -> None:
    write_ply(CUP, tmp_path / "cup.ply").chmod(0)
    assert_refused(run("fill", "cup.ply"), "cup.ply")


def test_an_output_folder_that_cannot_be_written(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_ply(CUP, tmp_path / "cup.ply")
    (tmp_path / "shut").mkdir()
    (tmp_path / "shut").chmod(0o500)
    # Root may write everywhere: what the system would say to others is said here.
    allowed = os.access
    monkeypatch.setattr(
        os, "access", lambda path, mode: "shut" not in str(path) and allowed(path, mode)
    )
    outcome = run("fill", "cup.ply", "--units", "mm", "--out", "shut/pieces")
    assert_refused(outcome, "shut", "--out")
    (tmp_path / "shut").chmod(0o700)
    assert names(tmp_path / "shut") == []


@pytest.mark.parametrize("out", ["taken", "taken/pieces", "cup.ply"])
def test_an_output_folder_that_is_a_file(out: str, run: Run, tmp_path: Path) -> None:
    write_ply(CUP, tmp_path / "cup.ply")
    (tmp_path / "taken").write_text("not a folder")
    assert_refused(run("fill", "cup.ply", "--units", "mm", "--out", out), "not a folder", "--out")
    assert names(tmp_path) == ["cup.ply", "taken"]


def test_an_output_folder_of_someone_elses(run: Run, tmp_path: Path) -> None:
    write_ply(CUP, tmp_path / "cup.ply")
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "before.jpg").write_bytes(b"\xff\xd8")
    assert_refused(run("fill", "cup.ply", "--units", "mm", "--out", "photos"), "photos", "--out")
    assert names(tmp_path / "photos") == ["before.jpg"]


@pytest.mark.parametrize("clearance", ["-0.1", "1.5", "nan", "wide"])
def test_a_clearance_that_cannot_be(clearance: str, run: Run, tmp_path: Path) -> None:
    write_ply(CUP, tmp_path / "cup.ply")
    assert_refused(run("fill", "cup.ply", "--clearance", clearance), "clearance")
    assert names(tmp_path) == ["cup.ply"]


def test_a_bowl_without_its_bottom(run: Run, tmp_path: Path) -> None:
    bowl = bowl_shell(96).mesh
    write_ply(without(bowl, centroids(bowl)[:, 2] < 15.0), tmp_path / "bowl.ply")
    assert_refused(run("fill", "bowl.ply", "--units", "mm"), "floor", "scan it from both sides")
