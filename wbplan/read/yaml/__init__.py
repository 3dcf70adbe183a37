"""YAML text to typed values that know where they stand, with the duplicates and bombs refused."""
