"""True-scale drawings: one model in millimetres, written as PDF pages, SVG and DXF."""
