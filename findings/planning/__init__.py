"""Which repairs come first when money and hours are short; pure, whole numbers and exact decimals."""
