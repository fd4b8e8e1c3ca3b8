"""The treatment record: what was found, made and used, for the owner and for those who follow."""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from lossfill.record.fields import ObjectFields, blank_file, read_fields, with_field
    from lossfill.record.write import write_record

__all__ = ["ObjectFields", "blank_file", "read_fields", "with_field", "write_record"]


def __getattr__(name: str) -> Any:
    """Load what is asked for, so that the import of the package is light."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    place = "write" if name == "write_record" else "fields"
    return getattr(import_module(f"{__name__}.{place}"), name)
