"""The calculations offered by name, to whoever is signed in. Nothing is stored."""
