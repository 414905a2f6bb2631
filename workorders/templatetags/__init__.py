"""Template filters of the pages."""
