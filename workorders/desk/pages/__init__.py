"""The pages: each reads the clock, checks the right, asks the queries or makes one call, and shows."""
