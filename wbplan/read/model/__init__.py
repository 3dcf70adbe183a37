"""What a scenario, a profile and a lesson may say: one table of fields for each.

`forms` has what a value can be, and `tables.Model` what a file is made of; `scenario`, `profile`
and `lesson` are the three tables. The readers take types, limits and defaults from them, `mend`
checks a whole file against one, `schema` makes the JSON Schema for editors, and `listing` the lists
of fields in the guide.
"""
