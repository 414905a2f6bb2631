"""What every test stands on. Things come from tests/makers.py, people from tests/people.py."""
