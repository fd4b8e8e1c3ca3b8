"""The intact vessel: a revolved profile with its elastic out-of-round field."""
