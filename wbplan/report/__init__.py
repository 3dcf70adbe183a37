"""Plans as people and machines read them: the page, the record, the figures and their wording."""
