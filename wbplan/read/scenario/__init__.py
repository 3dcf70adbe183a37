"""A scenario file to setups: `reader` goes through it, and each part is read beside its subject."""
