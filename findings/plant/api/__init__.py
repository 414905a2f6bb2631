"""The doors of the plant's record, of who works there, and of keys."""
