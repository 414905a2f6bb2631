"""The doors of the leak balance and its what-ifs."""
