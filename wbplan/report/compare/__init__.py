"""What changed between two records, for the terminal and as JSON."""
