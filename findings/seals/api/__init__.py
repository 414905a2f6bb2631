"""Doors of the seals room."""
