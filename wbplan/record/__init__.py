"""What machines read: the records of plans, lights and days with their JSON Schemas, flat tables,
spectra and learned profiles as files; records read back and compared.

Imports everything up to `read`. Keys carry their units and are written by `numbers.make_keys`; to
add one, write it in its ``record_...`` function and declare it at the same place in the schema.
"""
