"""Stage 7: files, pictures and the record that a repairer takes away."""
