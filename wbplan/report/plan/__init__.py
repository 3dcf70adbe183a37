"""The index of a plan, the page of a setup, and the terminal's table."""
