"""Spalls: found on either skin from 0.3 mm of depth, and never where there is but relief."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from breaking import Broken, Cut, as_scanned, break_vessel
from loss.found import WHOLE, Found, find, whole
from vessels import mug

from lossfill.mesh import Mesh, signed_volume_mm3
from lossfill.solids import solid_from_mesh

FLAKE = Cut("spall", depth_mm=0.35, area_mm2=40.0, feather=8.0)
FLAKE_INSIDE = Cut("spall", depth_mm=0.35, area_mm2=40.0, feather=8.0, inside=True)
SHALLOW = Cut("spall", depth_mm=0.6, area_mm2=150.0)
SHALLOW_INSIDE = Cut("spall", depth_mm=0.6, area_mm2=150.0, inside=True)
DEEP_INSIDE = Cut("spall", inside=True)


@cache
def spalled(name: str, cut: Cut) -> Broken:
    return break_vessel(whole(name), (cut,), rng=np.random.default_rng(7))


def found_in(mesh: Mesh, noise_mm: float) -> Found:
    scan, _ = as_scanned(mesh, noise_mm=noise_mm, rng=np.random.default_rng(8), pose=False)
    return find(scan)


@pytest.mark.parametrize(
    ("name", "cut", "noise_mm"),
    [
        ("mug", FLAKE, 0.0),
        ("mug", FLAKE_INSIDE, 0.05),
        ("tea bowl", FLAKE, 0.05),
        ("tea bowl", FLAKE_INSIDE, 0.0),
        ("mug", SHALLOW, 0.05),
        ("tea bowl", SHALLOW_INSIDE, 0.05),
        ("mug", DEEP_INSIDE, 0.03),
    ],
)
def test_a_spall_is_found_on_its_skin_and_where_it_is(name: str, cut: Cut, noise_mm: float) -> None:
    broken = spalled(name, cut)
    (loss,) = found_in(broken.body, noise_mm).losses
    assert loss.kind.value == "spall"
    # The lip is counted to neither: all new skin is on one side.
    assert (loss.outer_area_mm2 == 0.0) == cut.inside
    assert (loss.inner_area_mm2 > 0.0) == cut.inside
    true = signed_volume_mm3(broken.chunks[0])
    chunk = solid_from_mesh(broken.chunks[0])
    # The tuck hides 0.03 mm of the edge and noise another tenth of a flake of 0.35 mm.
    assert 1000.0 * loss.volume_ml == pytest.approx(true, rel=0.15 if cut.depth_mm > 0.5 else 0.25)
    assert (chunk ^ loss.solid).volume() > 0.7 * true


@pytest.mark.parametrize("noise_mm", [0.0, 0.05])
@pytest.mark.parametrize("name", WHOLE)
def test_relief_and_rings_are_no_spalls(name: str, noise_mm: float) -> None:
    assert found_in(whole(name), noise_mm).kinds == []


def test_a_dent_that_runs_out_gently_is_no_spall() -> None:
    mesh = mug(edge_mm=1.2)
    # 0.4 mm deep and 14 mm wide: no slope over 0.07, half of what the edges of spalls have.
    at = np.array([-41.0, 0.0, 50.0])
    away = np.linalg.norm(mesh.vertices - at, axis=1)
    outward = mesh.vertices * [1.0, 1.0, 0.0]
    outward /= np.maximum(np.linalg.norm(outward, axis=1, keepdims=True), 1e-9)
    outside = np.linalg.norm(mesh.vertices[:, :2], axis=1) > 39.5
    dent = 0.4 * np.exp(-0.5 * (away / 3.7) ** 2) * outside
    assert dent.max() > 0.3
    assert find(Mesh(mesh.vertices - outward * dent[:, None], mesh.faces)).kinds == []


def test_the_limit_follows_the_texture() -> None:
    # Among drips and pits of as many tenths, a flake of 0.35 mm says nothing.
    from scanning import smooth_noise, vertex_normals

    mesh = spalled("tea bowl", FLAKE).body
    rough = smooth_noise(np.random.default_rng(6), scales_mm=(4.0, 9.0), rms_mm=0.2)
    rugged = Mesh(mesh.vertices + vertex_normals(mesh) * rough(mesh.vertices)[:, None], mesh.faces)
    assert find(rugged).kinds == []
