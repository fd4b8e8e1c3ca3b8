"""Large losses cut out of a whole vessel, on rough break faces, and what the road makes of them."""

from __future__ import annotations

from dataclasses import dataclass

import manifold3d
import numpy as np
from breaking import as_scanned
from scanning import smooth_noise
from scoring import Score, match_losses, score
from shapes import as_scan

from lossfill.body import make_body
from lossfill.form import Form, fit_form
from lossfill.frame import Frame, find_frame
from lossfill.loss import Loss, find_losses
from lossfill.mesh import FloatArray, Mesh, transformed
from lossfill.solids import Solid, mesh_from_solid, solid_from_mesh

FAR_MM = 200.0


def sector(
    first_deg: float,
    wide_deg: float,
    *,
    low_mm: float = -20.0,
    high_mm: float = FAR_MM,
    inner_mm: float = 0.0,
) -> Solid:
    """What lies within an angle about the axis, between two heights, away from the axis."""
    turn = np.radians(first_deg + np.linspace(0.0, wide_deg, max(3, round(wide_deg / 5.0))))
    ring = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    inside = inner_mm * ring[::-1] if inner_mm > 0.0 else np.zeros((1, 2))
    outline = manifold3d.CrossSection([np.concatenate([FAR_MM * ring, inside])])
    return outline.extrude(high_mm - low_mm).translate((0.0, 0.0, low_mm))


def half(beyond_mm: float, *, towards_deg: float = 180.0) -> Solid:
    """What lies more than `beyond_mm` from the axis on one side."""
    block = Solid.cube((FAR_MM, 2.0 * FAR_MM, 2.0 * FAR_MM), True)
    return block.translate((beyond_mm + 0.5 * FAR_MM, 0.0, 0.0)).rotate((0.0, 0.0, towards_deg))


@dataclass(frozen=True, slots=True, eq=False)
class Lost:
    """A broken vessel: what is left, and each chunk, all in the vessel's own pose."""

    whole: Mesh
    body: Mesh
    chunks: tuple[Mesh, ...]


def lose(whole: Mesh, *cutters: Solid, seed: int = 3) -> Lost:
    """Cut losses out of a vessel; break faces waver by 0.3 mm RMS along each axis."""
    rng = np.random.default_rng(seed)
    body, chunks = solid_from_mesh(whole), []
    for cutter in cutters:
        chunk, body = body.split(_rough(cutter, rng))
        chunks.append(mesh_from_solid(chunk))
    # Crumbs between two losses are lost with them.
    body = max(body.decompose(), key=lambda part: float(part.volume()))
    return Lost(whole, mesh_from_solid(body), tuple(chunks))


def _rough(cutter: Solid, rng: np.random.Generator) -> Solid:
    near = Solid.cube((240.0, 240.0, 240.0), True)
    waves = [smooth_noise(rng, scales_mm=(4.0, 25.0), rms_mm=0.3) for _ in range(3)]

    def warp(points: FloatArray) -> FloatArray:
        return np.asarray(points + np.stack([wave(points) for wave in waves], axis=-1))

    return (cutter ^ near).refine_to_length(2.5).warp_batch(warp)


@dataclass(frozen=True, slots=True, eq=False)
class Filled:
    """What came of it.

    Parameters
    ----------
    scores : of each chunk's piece, in the order of the cutters, without clearance
    of_chunk : the loss that each chunk is
    false : losses where nothing is missing
    """

    frame: Frame
    form: Form
    losses: tuple[Loss, ...]
    scores: tuple[Score, ...]
    of_chunk: tuple[Loss, ...]
    false: tuple[Loss, ...]


def fill(
    lost: Lost,
    *,
    noise_mm: float,
    source: str | None = None,
    twin: Frame | None = None,
    seed: int = 4,
    n_points: int = 12_000,
) -> Filled:
    """Scan what is left in some pose, find its losses, and score them; none may be missed."""
    scan, pose = as_scanned(lost.body, noise_mm=noise_mm, rng=np.random.default_rng(seed))
    body = make_body(as_scan(scan))
    frame = find_frame(body, rng=np.random.default_rng(1))
    form = fit_form(frame, source=source, twin=twin)
    losses = find_losses(body, frame, form)
    chunks = tuple(transformed(chunk, pose) for chunk in lost.chunks)
    pieces = tuple(mesh_from_solid(loss.solid) for loss in losses)
    matches = match_losses(pieces, chunks)
    assert matches.missed == ()
    found = [k for k in matches.piece_of_chunk if k is not None]
    whole, left = transformed(lost.whole, pose), transformed(lost.body, pose)
    return Filled(
        frame,
        form,
        losses,
        tuple(
            score(pieces[k], chunk, whole, left, 0.0, scanned_body=scan, n_points=n_points)
            for k, chunk in zip(found, chunks, strict=True)
        ),
        tuple(losses[k] for k in found),
        tuple(losses[k] for k in matches.false),
    )
