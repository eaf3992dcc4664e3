"""Sheets and listings as files for people and programs: HTML that prints well, CSV, JSON. No network, no clock."""
