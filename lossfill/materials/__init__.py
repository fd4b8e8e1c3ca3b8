"""The table of generic materials: what is mixed, laid, cast, carved or printed."""

from lossfill.materials.material import CuresBy, Kind, Material, Part
from lossfill.materials.table import material_named, read_table

__all__ = ["CuresBy", "Kind", "Material", "Part", "material_named", "read_table"]
