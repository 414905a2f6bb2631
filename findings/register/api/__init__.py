"""Doors of the register: findings, the readings they rest on, and the moves on them."""
