"""From files to values: scenarios (`scenario`, over `yaml`), spectra of any layout (`spectra`),
camera profiles, lessons, and what can be named in the catalogue.

Imports everything up to `day`. Every refusal names file, line and field. A new field of a
scenario is read in `scenario`, beside the fields of its subject.

`core.files.read_bytes` is the one door to files. A reader joins a path with
`core.ledger.join_path(folder, written)`, never with ``/``: while a ledger is open, the name that a
file gets in the record follows from what the scenario writes (``scenario/...``,
``scenario-above-1/...``, ``camera/...``, ``shipped-cameras/...``), and an absolute path becomes
``elsewhere/...``, in the text that writes it too, so that no path of a machine reaches a record.
"""
