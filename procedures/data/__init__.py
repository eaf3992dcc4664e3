"""Packaged tables: numbers from published sources, one file a table, each row with its source."""
