"""The whole road, from a scan file to written pieces that replace what is truly missing.

The demo scans are made by `scripts/make_meshes.py`, which keeps the true chunks. Real scans come by
pip when wanted (see `real_scans`): scanned household objects, Downs et al., "Google Scanned
Objects", ICRA 2022, arXiv 2204.11918, CC BY 4.0, © 2020 Google LLC, as far as their origin is
stated; broken by computer here.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import real_scans
import trimesh
from breaking import Cut, break_vessel
from fill.fill_checks import vtk_volume_and_area
from make_meshes import RECIPES, write_ply
from rays import Surface
from scan.scan_makers import stl_bytes
from scanning import as_scanned, from_outside, random_pose
from scoring import Score, match_losses, sample, score
from vessels import Faults, bottle, plain_cup

from lossfill.body import make_body
from lossfill.cli import main
from lossfill.mesh import FloatArray, Mesh, signed_volume_mm3, transformed
from lossfill.road import Settings, design
from lossfill.scan import Unit, read_scan
from lossfill.scan.scan import Scan

MESHES = Path(__file__).parents[1] / "meshes"
CLEARANCE_MM = 0.15


@dataclass(frozen=True, slots=True, eq=False)
class Made:
    """What a run of the command wrote."""

    folder: Path
    record: dict[str, Any]
    pieces: tuple[Mesh, ...]

    @property
    def kinds(self) -> list[str]:
        return [loss["kind"] for loss in self.record["losses"]]


def fill(scan: Path, out: Path, *options: str, units: str = "mm") -> Made:
    """Run the command, without pictures, and read back what it wrote."""
    words = ["fill", str(scan), "--units", units, "--no-pictures", "--out", str(out), *options]
    assert main(words) == 0
    return read_back(out)


def read_back(out: Path) -> Made:
    """What stands in a folder that the command wrote."""
    record = json.loads((out / "fill.json").read_text(encoding="utf-8"))
    return Made(out, record, tuple(piece(out / loss["piece"]) for loss in record["losses"]))


def piece(path: Path) -> Mesh:
    """A written piece, read by trimesh, which is not what wrote it."""
    read = trimesh.load_mesh(path)
    return Mesh(np.asarray(read.vertices), np.asarray(read.faces))


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


# --- the demo scans ------------------------------------------------------------------------------

DEMO = {"tea_bowl": ["rim", "chip"], "mug": ["through"], "lobed_dish": ["rim"]}
"""Demo scan: kinds of its losses, the largest first."""


@pytest.fixture(scope="module")
def demo(tea_bowl_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Any:
    """Fill a demo scan once, whatever is asked of it."""

    @cache
    def made(name: str) -> Made:
        if name == "tea_bowl":
            return read_back(tea_bowl_folder)
        return fill(MESHES / f"{name}_scan.ply", tmp_path_factory.mktemp(name) / "out")

    return made


@cache
def truth(name: str) -> tuple[tuple[Mesh, ...], Mesh, Mesh]:
    """Chunks, whole vessel and body in the scan's pose.

    The body is the whole less the chunks; the scan's pose is found again by the recipe's own steps.
    """
    recipe = RECIPES[name]
    rng = np.random.default_rng(recipe.seed)
    whole = recipe.whole()
    broken = break_vessel(whole, recipe.cuts, rng=rng, angle_deg=recipe.angle_deg)
    chunks = tuple(
        committed(MESHES / f"{name}_chunk_{k}.ply") for k in range(1, len(broken.chunks) + 1)
    )
    pose = pose_between(broken.chunks[0].vertices, chunks[0].vertices)
    return chunks, transformed(whole, pose), transformed(broken.body, pose)


def committed(path: Path) -> Mesh:
    """A committed chunk; too small for a vessel, so it is not read as a scan."""
    read = trimesh.load_mesh(path, process=False)
    return Mesh(np.asarray(read.vertices), np.asarray(read.faces))


def pose_between(here: FloatArray, there: FloatArray) -> FloatArray:
    """Rigid transform between two lists of the same points (Kabsch)."""
    middle_here, middle_there = here.mean(axis=0), there.mean(axis=0)
    u, _, vt = np.linalg.svd((there - middle_there).T @ (here - middle_here))
    turn = u @ np.diag([1.0, 1.0, np.sign(np.linalg.det(u @ vt))]) @ vt
    matrix = np.eye(4)
    matrix[:3, :3], matrix[:3, 3] = turn, middle_there - turn @ middle_here
    apart = np.linalg.norm(here @ turn.T + matrix[:3, 3] - there, axis=1)
    # Another processor's sines differ in their last bit; within its tolerance of 1e-4 mm the
    # modeller then keeps other ones of corners that all but touch.
    assert np.quantile(apart, 0.95) < 1e-4
    assert apart.max() < 0.01
    return matrix


def scores(
    made: Made, chunks: tuple[Mesh, ...], whole: Mesh, body: Mesh, scan: Path
) -> list[Score]:
    """Score of each chunk's piece; none may be missed or false."""
    matches = match_losses(made.pieces, chunks)
    assert matches.missed == ()
    assert matches.false == ()
    scanned = make_body(read_scan(scan, units=Unit.MILLIMETRE)).mesh
    return [
        score(
            made.pieces[k], chunk, whole, body, CLEARANCE_MM, scanned_body=scanned, n_points=20_000
        )
        for k, chunk in zip(matches.piece_of_chunk, chunks, strict=True)
        if k is not None
    ]


def skin_mm(result: Score, loss: dict[str, Any]) -> float:
    """RMS error of a piece's skin; where relief took skin away, half of what 95 % stay below.

    Of an error spread normally the two are the same, and what was taken leaves fewer than one in
    twenty of the places bare.
    """
    relieved = relieved_mm3(loss) > 0.01 * result.expected_volume_mm3
    return 0.5 * result.skin_p95_mm if relieved else result.skin_rms_mm


def assert_fits(
    result: Score, loss: dict[str, Any], *, skin_rms_mm: float, chunk_mm3: float
) -> None:
    assert result.watertight
    assert result.outward
    assert result.parts == 1
    assert skin_mm(result, loss) < skin_rms_mm
    # 32-bit numbers 100 to 200 mm from the origin are 1.5e-5 mm apart.
    assert result.clash_mm3 < 1e-3
    assert result.gap_p50_mm == pytest.approx(CLEARANCE_MM, abs=0.03)
    # The aim is 2 % on each loss through the wall, and scripts/bench.py says how often it is met. A
    # lobed dish and a rough bowl miss it by up to a half: 0.1 mm on both skins of a wall of 4 mm is
    # 5 %. Of a chip the clearance takes a fifth.
    least = 0.04 if chunk_mm3 > 500.0 else 0.10
    # What was taken off so that it slides in is no error of the form.
    taken = relieved_mm3(loss) / result.expected_volume_mm3
    assert abs(result.volume_error + taken) < least


@pytest.mark.slow
@pytest.mark.parametrize("name", DEMO)
def test_a_demo_scan_gets_the_pieces_that_it_lacks(demo: Any, name: str) -> None:
    made = demo(name)
    assert made.kinds == DEMO[name]
    chunks, whole, body = truth(name)
    scan = MESHES / f"{name}_scan.ply"
    judged = zip(
        scores(made, chunks, whole, body, scan), chunks, made.record["losses"], strict=True
    )
    for result, chunk, loss in judged:
        # The aim for real scans is 0.12 mm RMS on average; these carry 0.03 mm of noise.
        assert_fits(result, loss, skin_rms_mm=0.12, chunk_mm3=signed_volume_mm3(chunk))
        # What the tool says of its own error must be of the right size.
        expected = made.record["losses"][0]["expected_error_mm"]
        assert skin_mm(result, loss) < 3.0 * expected


SOURCES = {
    "lobed_dish by mirror": ("lobed_dish", "mirror", ()),
    "lobed_dish by turn": ("lobed_dish", "turn", ()),
    "fluted_cup by turn": ("fluted_cup", "turn", ()),
    "oval_jug by mirror": ("oval_jug", "mirror", ()),
    "set_bowl by twin": (
        "set_bowl",
        "twin",
        ("--twin", str(MESHES / "set_bowl_twin_scan.ply")),
    ),
    # One skin is scanned, of a wall that is 3 mm thick.
    "bottle by revolve": ("bottle", "revolve", ("--wall", "3")),
}
"""Demo scan, the source that is proper to it, and what that needs."""


@pytest.mark.slow
@pytest.mark.parametrize("case", SOURCES)
def test_a_demo_scan_is_filled_by_its_proper_source(tmp_path: Path, case: str) -> None:
    name, source, options = SOURCES[case]
    made = fill(MESHES / f"{name}_scan.ply", tmp_path / "out", "--form", source, *options)
    assert [loss["source"] for loss in made.record["losses"]] == [source]
    chunks, whole, body = truth(name)
    assert match_losses(made.pieces, chunks).piece_of_chunk == (0,)
    result = score(made.pieces[0], chunks[0], whole, body, CLEARANCE_MM, n_points=20_000)
    assert result.watertight
    assert result.outward
    assert result.parts == 1
    # Twice the scan's noise and 0.05 mm, as wanted of each source.
    loss = made.record["losses"][0]
    assert skin_mm(result, loss) <= 2.0 * RECIPES[name].noise_mm + 0.05
    taken = relieved_mm3(loss) / result.expected_volume_mm3
    assert abs(result.volume_error + taken) < 0.03


@pytest.mark.slow
@pytest.mark.parametrize("name", DEMO)
def test_a_written_piece_has_one_volume_whoever_measures(demo: Any, name: str) -> None:
    made = demo(name)
    for loss in made.record["losses"]:
        read = trimesh.load_mesh(made.folder / loss["piece"])
        assert read.is_watertight
        assert read.is_winding_consistent
        assert read.body_count == 1
        by_vtk, _ = vtk_volume_and_area(piece(made.folder / loss["piece"]))
        assert by_vtk == pytest.approx(read.volume, rel=1e-9)
        assert loss["check"]["passed"]
        # The record keeps six significant digits; corners move by half a 32-bit step on the way.
        assert loss["piece_volume_ml"] == pytest.approx(read.volume / 1000.0, rel=1e-4)
        assert loss["piece_volume_ml"] < loss["volume_ml"]


@pytest.mark.slow
def test_the_scan_is_untouched_and_every_listed_file_is_there(demo: Any) -> None:
    before = {path.name: digest(path) for path in MESHES.glob("*.ply")}
    made = demo("mug")
    assert {path.name: digest(path) for path in MESHES.glob("*.ply")} == before
    assert sorted(made.record["files"]) == sorted(file.name for file in made.folder.iterdir())


@pytest.mark.slow
def test_the_same_scan_gives_the_same_bytes(demo: Any, tmp_path: Path) -> None:
    made = demo("mug")
    again = fill(MESHES / "mug_scan.ply", tmp_path / "again")
    for file in made.folder.iterdir():
        assert digest(file) == digest(again.folder / file.name), file.name


# --- one scan, many files ------------------------------------------------------------------------


@cache
def cup() -> tuple[Mesh, Mesh]:
    """A cup with a hole: the scan in mm, and its chunk."""
    broken = break_vessel(plain_cup(edge_mm=2.6), "hole", rng=np.random.default_rng(2))
    scan, _ = as_scanned(broken.body, noise_mm=0.02, rng=np.random.default_rng(3), pose=False)
    # To 32 bits, so that every format holds the same numbers.
    return Mesh(scan.vertices.astype(np.float32), scan.faces), broken.chunks[0]


def write_obj(mesh: Mesh, path: Path, *, scale: float = 1.0) -> Path:
    lines = [f"v {x:.9g} {y:.9g} {z:.9g}" for x, y, z in mesh.vertices * scale]
    lines += [f"f {a} {b} {c}" for a, b, c in mesh.faces + 1]
    path.write_text("\n".join(lines) + "\n", encoding="ascii")
    return path


def write_stl(mesh: Mesh, path: Path) -> Path:
    path.write_bytes(stl_bytes(mesh.vertices[mesh.faces]))
    return path


def write_ascii_stl(mesh: Mesh, path: Path) -> Path:
    lines = ["solid cup"]
    for corners in mesh.vertices[mesh.faces]:
        lines += ["facet normal 0 0 0", "outer loop"]
        lines += [f"vertex {x:.9g} {y:.9g} {z:.9g}" for x, y, z in corners]
        lines += ["endloop", "endfacet"]
    path.write_text("\n".join([*lines, "endsolid cup", ""]), encoding="ascii")
    return path


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Made:
    folder = tmp_path_factory.mktemp("plain")
    return fill(write_ply(cup()[0], folder / "cup.ply"), folder / "out")


def test_the_cups_hole_is_filled(plain: Made) -> None:
    chunk = cup()[1]
    assert plain.kinds == ["through"]
    assert match_losses(plain.pieces, (chunk,)).missed == ()
    volume = plain.record["losses"][0]["volume_ml"]
    assert 1000.0 * volume == pytest.approx(signed_volume_mm3(chunk), rel=0.02)


@pytest.mark.parametrize(
    ("name", "write"),
    [("cup.obj", write_obj), ("cup.stl", write_stl), ("ascii.stl", write_ascii_stl)],
)
def test_the_format_does_not_matter(
    plain: Made, tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, write: Any
) -> None:
    path = write(cup()[0], tmp_path / name)
    assert main(["measure", str(path), "--units", "mm", "--json"]) == 0
    measured = json.loads(capsys.readouterr().out)["losses"]
    assert [loss["kind"] for loss in measured] == plain.kinds
    for one, other in zip(plain.record["losses"], measured, strict=True):
        # Points come in another order, so that samples fall elsewhere: about 0.01 mm on the skin.
        skin = one["outer_area_mm2"] + one["inner_area_mm2"]
        assert 1000.0 * other["volume_ml"] == pytest.approx(
            1000.0 * one["volume_ml"], abs=0.02 * skin
        )
        np.testing.assert_allclose(other["centre_mm"], one["centre_mm"], atol=0.3, rtol=0)


def test_metres_are_metres(plain: Made, tmp_path: Path) -> None:
    scan = write_obj(cup()[0], tmp_path / "cup.obj", scale=0.001)
    made = fill(scan, tmp_path / "out", units="m")
    assert made.kinds == plain.kinds
    # Pieces are in mm whatever the scan was in.
    assert shaped_mm3(made) == pytest.approx(shaped_mm3(plain), rel=0.005)
    assert signed_volume_mm3(made.pieces[0]) == pytest.approx(
        signed_volume_mm3(plain.pieces[0]), rel=0.05
    )


def test_another_pose_gives_the_same_piece(plain: Made, tmp_path: Path) -> None:
    matrix = random_pose(np.random.default_rng(6))
    scan = write_ply(transformed(cup()[0], matrix), tmp_path / "cup.ply")
    made = fill(scan, tmp_path / "out")
    assert made.kinds == plain.kinds
    back = transformed(made.pieces[0], np.asarray(np.linalg.inv(matrix)))
    points = sample(plain.pieces[0], 5000, np.random.default_rng(7))
    apart = Surface(back).distance(points)
    # Skin within the form's own error twice over, break within the clearance's grid. The way in may
    # be some degrees another, as directions are tried alike in space, and with it what is relieved:
    # a fiftieth of the piece, over less than a tenth of its surface.
    assert np.quantile(apart, 0.9) < 0.05
    assert np.sqrt(np.mean(apart**2)) < 0.06
    assert shaped_mm3(made) == pytest.approx(shaped_mm3(plain), rel=0.005)
    (one,), (other,) = made.record["losses"][0]["pieces"], plain.record["losses"][0]["pieces"]
    assert one["proof"]["passed"]
    here = matrix[:3, :3].T @ one["entry"]["direction"]
    assert here @ other["entry"]["direction"] > np.cos(np.radians(10.0))


def relieved_mm3(loss: dict[str, Any]) -> float:
    """What was taken off the pieces of a loss so that they slide in."""
    return float(sum(piece["relieved_mm3"] for piece in loss["pieces"]))


def shaped_mm3(made: Made) -> float:
    """Volume of the pieces before they were made to go in."""
    return sum(
        1000.0 * piece["volume_ml"] + piece["relieved_mm3"]
        for loss in made.record["losses"]
        for piece in loss["pieces"]
    )


def test_no_clearance_leaves_no_gap(plain: Made, tmp_path: Path) -> None:
    scan = write_ply(cup()[0], tmp_path / "cup.ply")
    made = fill(scan, tmp_path / "out", "--clearance", "0")
    loss = made.record["losses"][0]
    assert shaped_mm3(made) == pytest.approx(1000.0 * loss["volume_ml"], rel=1e-4)
    (only,) = loss["pieces"]
    assert only["proof"]["passed"]
    assert only["proof"]["rub_mm"] == 0.05
    lost = shaped_mm3(made) - shaped_mm3(plain)
    assert lost == pytest.approx(CLEARANCE_MM * loss["break_area_mm2"], rel=0.1)


# --- scans of one skin, and scans without a scale ------------------------------------------------

WALL_MM = 3.0


def outer_skin(chunk: Mesh, whole: Mesh, body: Mesh, n: int = 20_000) -> FloatArray:
    """Points on the outer skin of a chunk, clear of the clearance; all upright about z."""
    points = sample(chunk, n, np.random.default_rng(8))
    on_skin = Surface(whole).distance(points) < 0.01
    clear = Surface(body).distance(points) > CLEARANCE_MM + 0.1
    outward = points * [1.0, 1.0, 0.0]
    outward /= np.linalg.norm(outward, axis=1, keepdims=True)
    free = ~np.isfinite(Surface(whole).cast(points + 0.02 * outward, outward))
    return points[on_skin & clear & free]


@pytest.mark.parametrize("cut", [Cut("hole"), Cut("rim", 60.0)], ids=["belly", "rim"])
@pytest.mark.parametrize(
    ("noise_mm", "bottom"), [(0.0, True), (0.05, False)], ids=["whole foot", "no foot, noisy"]
)
def test_a_bottle_scanned_from_outside_gets_a_piece(
    cut: Cut, noise_mm: float, bottom: bool
) -> None:
    rng = np.random.default_rng(5)
    even = Faults(uneven_wall_mm=0.0, pooling_mm=0.0)  # or 3 mm would not be its wall
    whole = bottle(edge_mm=1.3, seed=3, faults=even)
    broken = break_vessel(whole, (cut,), rng=rng, angle_deg=120.0)
    seen = from_outside(broken.body, whole, breaks=True, bottom=bottom)
    mesh, pose = as_scanned(seen, noise_mm=noise_mm, rng=rng)
    scan = Scan(mesh, Path("bottle.ply"), "PLY (binary)", Unit.MILLIMETRE, "asked", "0" * 64)
    made = design(scan, Settings(wall_mm=WALL_MM, clearance_mm=CLEARANCE_MM))
    assert any("ONE SKIN SCANNED" in warning for warning in made.warnings)
    chunk = broken.chunks[0]
    back = np.asarray(np.linalg.inv(pose))
    piece_here = transformed(made.fills[0].mesh, back)
    result = score(piece_here, chunk, whole, broken.body, CLEARANCE_MM, n_points=20_000)
    assert result.watertight
    assert result.outward
    assert result.parts == 1
    assert abs(result.volume_error) < 0.05
    apart = Surface(piece_here).distance(outer_skin(chunk, whole, broken.body))
    assert np.sqrt(np.mean(apart**2)) < 0.1 + 2.0 * noise_mm
    # Nothing else is taken for a loss of any size.
    assert all(loss.volume_ml < 0.1 for loss in made.losses[1:])


def test_a_fault_of_the_twins_scan_is_told_as_the_twins(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    scan, out = MESHES / "tea_bowl_scan.ply", tmp_path / "fill"
    words = ["fill", str(scan), "--units", "mm", "--no-pictures", "--out", str(out)]
    assert main([*words, "--twin", str(tmp_path / "second.ply")]) == 2
    told = capsys.readouterr().err
    assert told.count("\n") == 1
    assert "the twin: " in told
    assert "no such file" in told
    assert not out.exists()


def test_a_scan_without_a_scale_is_scaled_to_its_rim(plain: Made, tmp_path: Path) -> None:
    odd = 0.00731
    rim_mm = plain.record["frame"]["rim_diameter_mm"]
    scan = write_obj(cup()[0], tmp_path / "cup.obj", scale=odd)
    out = tmp_path / "out"
    words = ["fill", str(scan), "--no-pictures", "--out", str(out), "--rim-diameter", f"{rim_mm}"]
    assert main(words) == 0
    record = json.loads((out / "fill.json").read_text(encoding="utf-8"))
    # The rim is found anew at each scale, from other samples: within 0.05 %.
    assert record["input"]["scale"] * odd == pytest.approx(1.0, rel=1e-3)
    assert record["settings"]["rim_diameter_mm"] == pytest.approx(rim_mm, rel=1e-5)
    assert record["frame"]["rim_diameter_mm"] == pytest.approx(rim_mm, rel=1e-3)
    assert [loss["kind"] for loss in record["losses"]] == plain.kinds
    assert record["losses"][0]["volume_ml"] == pytest.approx(
        plain.record["losses"][0]["volume_ml"], rel=0.01
    )
    assert any("SCALED TO THE RIM" in warning for warning in record["warnings"])


def test_points_go_the_same_road(plain: Made, tmp_path: Path) -> None:
    body = make_body(read_scan(write_ply(cup()[0], tmp_path / "cup.ply"), units=Unit.MILLIMETRE))
    points = sample(body.mesh, 40_000, np.random.default_rng(9))
    path = tmp_path / "cup.xyz"
    np.savetxt(path, points, fmt="%.5f")
    made = fill(path, tmp_path / "out")
    assert made.kinds == plain.kinds
    # Edges of the break are rounded by a spacing of 0.9 mm.
    assert made.record["losses"][0]["volume_ml"] == pytest.approx(
        plain.record["losses"][0]["volume_ml"], rel=0.05
    )
    assert any("MESHED FROM POINTS" in warning for warning in made.record["warnings"])


@pytest.mark.parametrize(
    ("option", "value", "words"),
    [
        ("--wall", "0", "0 mm is outside 0.5 to 50 mm"),
        ("--wall", "nan", "outside 0.5 to 50 mm"),
        ("--rim-diameter", "-80", "-80 mm is outside 5 to 1000 mm"),
        ("--rim-diameter", "wide", "should be a valid number"),
    ],
)
def test_a_size_that_cannot_be_is_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], option: str, value: str, words: str
) -> None:
    scan = write_ply(cup()[0], tmp_path / "cup.ply")
    assert main(["inspect", str(scan), "--units", "mm", option, value]) == 2
    error = capsys.readouterr().err
    assert words in error
    assert error.count("\n") == 1


# --- real scans ----------------------------------------------------------------------------------


@cache
def real(name: str) -> Mesh:
    try:
        return real_scans.upright(real_scans.load_real(name))
    except real_scans.ScanUnavailableError as error:
        pytest.skip(str(error))


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["rim_45", "hole"])
@pytest.mark.parametrize("name", ["bowl", "ramekin"])
def test_a_real_scan_broken_by_computer(name: str, kind: str, tmp_path: Path) -> None:
    rng = np.random.default_rng(21)
    whole = real(name)
    broken = break_vessel(whole, kind, rng=rng, angle_deg=70.0)
    scan, pose = as_scanned(broken.body, noise_mm=0.0, rng=rng)
    path = write_ply(scan, tmp_path / "scan.ply")
    made = fill(path, tmp_path / "out")
    chunks = tuple(transformed(chunk, pose) for chunk in broken.chunks)
    whole, body = transformed(whole, pose), transformed(broken.body, pose)
    (result,) = scores(made, chunks, whole, body, path)
    # The aim is 0.15 mm on average over all breaks; 0.3 mm is what one may reach.
    (loss,) = made.record["losses"]
    assert_fits(result, loss, skin_rms_mm=0.3, chunk_mm3=signed_volume_mm3(chunks[0]))


@pytest.mark.slow
@pytest.mark.parametrize("name", ["bowl", "ramekin"])
def test_a_whole_real_scan_has_no_loss(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_ply(real(name), tmp_path / "scan.ply")
    assert main(["measure", str(path), "--units", "mm"]) == 0
    assert "No loss found." in capsys.readouterr().out
    assert isinstance(read_scan(path, units=Unit.MILLIMETRE), Scan)
