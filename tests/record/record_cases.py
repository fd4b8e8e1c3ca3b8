"""A folder with a small design whose every measure is known, and what can be read of a record."""

from __future__ import annotations

import io
import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pdfplumber
from make.briefs import cylinder_hole
from PIL import Image

from lossfill.make.store import STORE_NAME, store_bytes
from lossfill.pack.folder import RECORD_NAME
from lossfill.pack.record import FillRecord
from lossfill.record.document import Document, Picture
from lossfill.record.sources import Drawn, Sources
from lossfill.solids import mesh_from_solid

MM_PER_POINT = 25.4 / 72

HOSTILE = (
    "#set page(width: 1mm) [*_$ \\ `code` @ref <label>",
    "<script>alert(1)</script> & \"quoted\" 'too'",
    "W" * 500,
    "x-" * 250,
    "bowl \N{TEACUP WITHOUT HANDLE} \N{GRINNING FACE} \N{CJK UNIFIED IDEOGRAPH-5668}",
    "\N{ARABIC LETTER KAF}\N{ARABIC LETTER ALEF}\N{ARABIC LETTER SEEN} "
    "\N{HEBREW LETTER SHIN}\N{HEBREW LETTER LAMED} 12",
    "e\N{COMBINING ACUTE ACCENT}" * 200,
    "one\n\n\ttwo\r\nthree\x00\x1b[31m",
)

CUP_MM, CUP_TALL_MM, CUP_WALL_MM = 80.0, 70.0, 4.0
"""Of the cup in `write_cup`: a tube 80 mm across, with a window at 12:00."""

TRIALS = [
    {"source": "revolve", "expected_error_mm": 0.04, "bound_mm": 0.07, "says": "the profile"},
    {"source": "twin", "expected_error_mm": None, "bound_mm": None, "says": "no twin was given"},
]

CHECK = {
    "watertight": True,
    "outward": True,
    "one_part": True,
    "clash_mm3": 0.0,
    "clash_limit_mm3": 0.02,
    "passed": True,
}


def write_cup(folder: Path, **changes: Any) -> Path:
    """A folder as `lossfill fill` writes it, of a straight tube with a window and one crack."""
    brief = cylinder_hole()
    folder.mkdir(parents=True, exist_ok=True)
    arrays: dict[str, np.ndarray] = {"loss_1_side": brief.lost.side}
    for name, mesh in (
        ("body", mesh_from_solid(brief.body)),
        ("loss_1", brief.lost.mesh),
        ("piece_1", mesh_from_solid(brief.pieces[0].solid)),
    ):
        arrays[f"{name}_vertices"], arrays[f"{name}_faces"] = mesh.vertices, mesh.faces
    (folder / STORE_NAME).write_bytes(store_bytes(arrays))
    content = {**cup_record(), **changes}
    record = FillRecord.model_validate_json(json.dumps(content))
    (folder / RECORD_NAME).write_text(record.model_dump_json(), encoding="utf-8")
    return folder


def cup_record() -> dict[str, Any]:
    """The record of that folder."""
    return {
        "format": "lossfill fill",
        "version": 1,
        "program": "lossfill 0.1.0",
        "input": {
            "file": "tube_scan.ply",
            "sha256": "ab" * 32,
            "format": "PLY (binary)",
            "unit": "millimetre",
            "unit_mm": 1.0,
            "unit_source": "asked",
            "triangles": 4321,
        },
        "settings": {
            "clearance_mm": 0.15,
            "units": "millimetre",
            "seed": 1,
            "form": None,
            "repeats": None,
            "twin": None,
            "setback_outside_mm": 0.3,
        },
        "repairs": [
            {"what": "closed a scan hole", "count": 2, "place_mm": [0, 40, 30], "size_mm": 6.5}
        ],
        "frame": {
            "vessel_from_scan": np.eye(4).tolist(),
            "height_mm": CUP_TALL_MM,
            "rim_diameter_mm": CUP_MM,
            "foot_diameter_mm": CUP_MM,
            "wall_mm": CUP_WALL_MM,
            "capacity_ml": 285.0,
            "residual_mm": 0.02,
            "noise_mm": 0.02,
            "coverage": 0.99,
            "roundness": [
                {"height_mm": 35, "radius_mm": 40, "amplitudes_mm": [0.1, 0.02, 0.01]},
            ],
        },
        "form": {"source": "revolve", "noise_mm": 0.03},
        "losses": [_loss()],
        "cracks": [
            {
                "length_mm": 40.0,
                "width_mm": 0.2,
                "inside": False,
                "clock": "6:00",
                "angle_deg": 180.0,
                "height_mm": 35.0,
                "path_mm": [[-40.0, 0.0, float(z)] for z in range(15, 56, 2)],
            }
        ],
        "order": ["1"],
        "files": [RECORD_NAME, STORE_NAME],
        "warnings": ["the rim is worn at 3:00"],
        "cautions": [],
    }


def _loss() -> dict[str, Any]:
    return {
        "number": 1,
        "kind": "through",
        "clock": "12:00",
        "angle_deg": 0.0,
        "height_mm": 35.0,
        "centre_mm": [38, 0, 35],
        "volume_ml": 2.12,
        "outer_area_mm2": 558.0,
        "inner_area_mm2": 502.0,
        "break_area_mm2": 372.0,
        "join_length_mm": 93.0,
        "thickness_mm": [4.0, 4.0],
        "depth_mm": 4.0,
        "extent_along_mm": 20.0,
        "extent_around_mm": 27.9,
        "way": "a made insert",
        "way_reason": "wider than 20 mm",
        "source": "revolve",
        "expected_error_mm": 0.04,
        "bound_mm": 0.07,
        "trials": TRIALS,
        "piece": "piece_1.stl",
        "piece_3mf": "piece_1.3mf",
        "piece_volume_ml": 2.0,
        "clearance_mm": 0.15,
        "check": CHECK,
        "check_3mf": CHECK,
        "pieces": [
            {
                "name": "1",
                "stl": "piece_1.stl",
                "threemf": "piece_1.3mf",
                "volume_ml": 2.0,
                "check": CHECK,
                "check_3mf": CHECK,
                "entry": {
                    "direction": [-1.0, 0.0, 0.0],
                    "words": "from outside",
                    "lean_deg": 12.0,
                    "free_share": 0.1,
                    "travel_mm": 8.0,
                    "from_outside": True,
                },
                "proof": {
                    "stations": 32,
                    "shared_mm3": 0.0,
                    "shared_limit_mm3": 0.01,
                    "doubtful_mm2": 0.0,
                    "cell_mm": 0.05,
                    "rub_mm": 0.0,
                    "passed": True,
                },
                "relieved_mm3": 4.0,
                "seat_mm2": 350.0,
                "seat_lost_mm2": 14.0,
            }
        ],
    }


def blot(wide_mm: float = 20.0, tall_mm: float = 10.0) -> Picture:
    """A grey picture."""
    held = io.BytesIO()
    Image.new("L", (32, 16), 128).save(held, "PNG")
    return Picture(held.getvalue(), wide_mm, tall_mm, "A grey blot. Scale 1:1", "a grey blot")


def no_pictures(sources: Sources) -> Sources:
    """The same without the pictures that take long to draw."""
    from dataclasses import replace

    return replace(sources, drawn=Drawn((blot(),), {1: (blot(),)}, (blot(),), blot(), None))


def told(document: Document) -> str:
    """All words of a document, blanks collapsed."""
    from dataclasses import fields, is_dataclass

    def words(value: object) -> list[str]:
        if isinstance(value, str):
            return [value]
        if isinstance(value, tuple):
            return [one for inner in value for one in words(inner)]
        if is_dataclass(value):
            return [one for f in fields(value) for one in words(getattr(value, f.name))]
        return []

    return " ".join(" ".join(words(document)).split())


def pages_of(content: bytes) -> list[Any]:
    """The pages of a PDF as pdfplumber reads them."""
    return list(pdfplumber.open(io.BytesIO(content)).pages)


def pdf_words(content: bytes) -> str:
    """All words on the pages in one line, without the places where a long word may break."""
    text = " ".join(page.extract_text() for page in pages_of(content))
    return " ".join(text.replace("\N{ZERO WIDTH SPACE}", "").split())


def html_words(content: bytes) -> str:
    """All words of an HTML file in one line, as a browser shows them."""
    import html5lib

    parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    tree = parser.parse(content.decode("utf-8"))
    for style in tree.iter("style"):
        style.text = ""
    return " ".join(" ".join(tree.itertext()).split())


def loose(words: str) -> str:
    """Words without blanks and in small letters: where a line ends does not matter."""
    return re.sub(r"\s+", "", words).lower()
