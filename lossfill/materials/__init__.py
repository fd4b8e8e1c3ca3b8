"""The table of generic materials: what is mixed, laid, cast, carved or printed."""

from lossfill.materials.material import CuresBy, Kind, Material, Part

__all__ = ["CuresBy", "Kind", "Material", "Part"]
