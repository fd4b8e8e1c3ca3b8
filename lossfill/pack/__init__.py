"""Stage 7: files, pictures and the record that a repairer takes away."""

from lossfill.pack.pack import Pack, write_pack

__all__ = ["Pack", "write_pack"]
