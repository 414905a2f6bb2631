"""Doors of the statements room."""
