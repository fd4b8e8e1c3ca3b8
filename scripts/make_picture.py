"""Makes the picture at the head of the README from what the demo drew.

Run `scripts/demo` first; then `.venv/bin/python scripts/make_picture.py`. The demo's own picture is
made smaller, and its colours fewer, so that it weighs little in the checkout.
"""

from __future__ import annotations

import sys
from pathlib import Path

from PIL import Image

ROOT = Path(__file__).parents[1]
DRAWN = ROOT / "out" / "tea_bowl" / "before_after.png"
KEPT = ROOT / "meshes" / "tea_bowl_before_after.png"

WIDTH_PX = 1000
COLOURS = 128


def reduced(drawn: Path) -> Image.Image:
    """Read a picture, narrowed to `WIDTH_PX` and to a palette of `COLOURS`."""
    with Image.open(drawn) as picture:
        height = round(picture.height * WIDTH_PX / picture.width)
        small = picture.convert("RGB").resize((WIDTH_PX, height), Image.Resampling.LANCZOS)
    # So that the few blue pixels of the pieces get colours of their own.
    coverage = Image.Quantize.MAXCOVERAGE
    return small.quantize(COLOURS, method=coverage, kmeans=3, dither=Image.Dither.NONE)


def main() -> int:
    """Write the picture; say what is missing where the demo was not run."""
    if not DRAWN.is_file():
        print(f"{DRAWN} is missing: run scripts/demo first", file=sys.stderr)
        return 2
    reduced(DRAWN).save(KEPT, optimize=True)
    print(f"{KEPT}: {KEPT.stat().st_size / 1000:.0f} kB")
    return 0


if __name__ == "__main__":
    sys.exit(main())
