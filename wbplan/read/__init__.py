"""From files to values: scenarios (`scenario`, over `yaml`), spectra of any layout (`spectra`),
camera profiles, lessons, and what can be named in the catalogue.

Imports everything up to `day`. Every refusal names file, line and field. A new field of a
scenario is read in `scenario`, beside the fields of its subject.
"""
