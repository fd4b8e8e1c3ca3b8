"""True-scale drawings: one model in millimetres, written as PDF pages, SVG and DXF."""

from lossfill.drawing.dxf import dxf_bytes
from lossfill.drawing.model import Anchor, Drawing, Layer, Line, Text
from lossfill.drawing.paper import Paper, PaperSettings
from lossfill.drawing.pdf import pdf_bytes
from lossfill.drawing.svg import svg_bytes

__all__ = [
    "Anchor",
    "Drawing",
    "Layer",
    "Line",
    "Paper",
    "PaperSettings",
    "Text",
    "dxf_bytes",
    "pdf_bytes",
    "svg_bytes",
]
