"""What was learned of a camera, for the terminal and as a record."""
