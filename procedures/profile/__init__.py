"""Profiles: one TOML file for a type of instrument, read, proved, and made into a procedure that runs."""
