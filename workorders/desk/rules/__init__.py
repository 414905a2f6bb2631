"""Rules of the desk: how figures become drawings and words. Pure."""
