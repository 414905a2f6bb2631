"""The doors of what feeds the plant and what it costs."""
