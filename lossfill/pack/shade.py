"""Soft light for the pictures: a key light, a sky, darker hollows, and a line round each edge."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lossfill.mesh import FloatArray
from lossfill.pack.view import (
    BACKGROUND,
    CREASE_COS,
    CUT_COLOUR,
    SAMPLES_PER_PIXEL_SIDE,
    Hits,
    Image,
    Subject,
    View,
)

KEY_LIGHT = (-0.45, 0.55, 0.70)
"""Direction to the key light as right, up, towards the camera: over the left shoulder."""

SKY, KEY = 0.42, 0.66
"""Share of light from the whole sky and from the key light."""

HOLLOW_MM = 2.5
"""Radius about a point that decides whether it lies in a hollow: about a wall's thickness."""


def lit(
    view: View,
    subjects: tuple[Subject, ...],
    hits: Hits,
    *,
    paint: NDArray[np.uint8] | None,
    contrast: float,
) -> Image:
    """Light what the rays met; (H, W, 3) linear light at the ray resolution."""
    image = np.full((*hits.depth_mm.shape, 3), float(to_linear(np.uint8(BACKGROUND))))
    light = np.asarray(KEY_LIGHT) @ np.stack([view.right, view.up, -view.forward])
    light /= np.linalg.norm(light)
    for index, subject in enumerate(subjects):
        seen = hits.subject == index
        if not seen.any():
            continue
        corners = subject.mesh.faces[hits.triangle[seen]]
        weights = hits.weights[seen][:, :, None]
        normals, inside = _normals(subject, corners, weights, view.forward)
        colours = subject.mesh.colours
        if paint is not None:
            base = to_linear(paint[seen])
        elif colours is not None:
            base = (to_linear(colours[corners]) * weights).sum(axis=1)
        else:
            base = np.broadcast_to(to_linear(np.array(subject.colour, np.uint8)), normals.shape)
        # Wrapped by a quarter, so that nothing falls to black and form reads to the very edge.
        key = np.clip((normals @ light + 0.25) / 1.25, 0.0, 1.0)
        sky = 0.75 + 0.25 * (normals @ view.up)
        shine = SKY * sky + KEY * key
        shine = 1.0 + contrast * (shine - 1.0)
        colour = base * shine[:, None]
        colour[inside] = to_linear(np.array(CUT_COLOUR, np.uint8))
        image[seen] = colour
    image *= (1.0 - contrast * _hollows(view, hits.depth_mm))[..., None]
    image[_outline(view, hits)] *= 0.35
    return np.clip(image, 0.0, 1.0)


def to_linear(srgb: NDArray[np.uint8] | np.uint8) -> FloatArray:
    """Turn sRGB bytes into linear light (IEC 61966-2-1)."""
    value = np.arange(256) / 255.0
    table = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    linear: FloatArray = table[srgb]
    return linear


def to_srgb(linear: FloatArray) -> NDArray[np.uint8]:
    """Turn linear light into sRGB bytes (IEC 61966-2-1)."""
    value = np.where(
        linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 1e-9) ** (1 / 2.4) - 0.055
    )
    return np.round(np.clip(value, 0.0, 1.0) * 255.0).astype(np.uint8)


def _normals(
    subject: Subject,
    corners: NDArray[np.int32],
    weights: FloatArray,
    forward: FloatArray,
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Normals to shade with, and where the near plane has opened the material to view."""
    a, b, c = (subject.mesh.vertices[corners[:, k]] for k in range(3))
    flat = np.cross(b - a, c - a)
    flat /= np.maximum(np.linalg.norm(flat, axis=1, keepdims=True), 1e-30)
    at_corners = subject.vertex_normals[corners]
    sharp = np.einsum("ij,ikj->ik", flat, at_corners) < CREASE_COS
    at_corners[sharp] = np.broadcast_to(flat[:, None, :], at_corners.shape)[sharp]
    smooth = (at_corners * weights).sum(axis=1)
    smooth /= np.maximum(np.linalg.norm(smooth, axis=1, keepdims=True), 1e-30)
    return smooth, flat @ forward > 0.0


def _hollows(view: View, depth_mm: FloatArray) -> FloatArray:
    """How much darker a point is for lying deeper than what is about it, 0–0.45."""
    from scipy.ndimage import gaussian_filter

    # Soft shade needs one ray a pixel, not all of them.
    n = SAMPLES_PER_PIXEL_SIDE
    coarse = depth_mm[::n, ::n].astype(np.float32)
    seen = np.isfinite(coarse)
    depth = np.where(seen, coarse, np.float32(0.0))
    sigma = HOLLOW_MM * view.px_per_mm / 2.0
    share = gaussian_filter(seen.astype(np.float32), sigma, truncate=2.5)
    about = gaussian_filter(depth, sigma, truncate=2.5) / np.maximum(share, np.float32(1e-3))
    deeper = np.where(seen, 0.45 * np.clip((depth - about) / HOLLOW_MM, 0.0, 1.0), 0.0)
    return np.where(np.isfinite(depth_mm), deeper.repeat(n, axis=0).repeat(n, axis=1), 0.0)


def _outline(view: View, hits: Hits) -> NDArray[np.bool_]:
    """Where one thing ends before another: silhouettes, steps of over 1.5 mm, and the join."""
    depth = np.where(np.isfinite(hits.depth_mm), hits.depth_mm, 1e6)
    edge = np.zeros(depth.shape, dtype=bool)
    for axis in (0, 1):
        here = [slice(None), slice(None)]
        there = [slice(None), slice(None)]
        here[axis], there[axis] = slice(None, -1), slice(1, None)
        h, t = tuple(here), tuple(there)
        change = hits.subject[h] != hits.subject[t]
        # A wall seen edge-on drops by much from ray to ray without ending: compare with the slope.
        jump = np.abs(depth[h] - depth[t]) > max(1.5, 12.0 / (view.px_per_mm * 2))
        # On the nearer side only, so that a silhouette keeps its true size.
        here_nearer = depth[h] <= depth[t]
        edge[h] |= (change | jump) & here_nearer
        edge[t] |= (change | jump) & ~here_nearer
    return edge
