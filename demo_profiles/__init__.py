"""Demo profiles: an invented scenario with invented types and values; nothing here is real."""
