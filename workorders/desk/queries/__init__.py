"""What the pages ask of the records, each answer in a bounded number of queries."""
