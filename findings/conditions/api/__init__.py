"""Doors of conditions."""
