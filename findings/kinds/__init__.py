"""What each kind of finding is, which evidence it takes and what a reading of it means."""
