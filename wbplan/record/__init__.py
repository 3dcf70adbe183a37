"""What machines read: the records of plans, lights and days with their JSON Schemas, flat tables,
spectra and learned profiles as files; records read back and compared.

Imports everything up to `read`. Keys carry their units and are written by `numbers.make_keys`; to
add one, write it in its ``record_...`` function and declare it at the same place in the schema.

Schemas: each ``NAME.schema.json`` declares every key in the order in which it is written. To add
one, declare it under ``properties`` and ``required``, the unit in its name, null allowed where
`numbers.make_number` can give it; a part that occurs twice goes under ``$defs``. No key comes and
goes: null says that it has no value. The tests fail on an undeclared key, another order, and an
object without ``additionalProperties: false``. A schema is of what this version writes; an older
record of the same format may lack newer keys.

Inputs: a plan's record carries every file that was read for it (`core.ledger`), so `front` makes
the plan again from it, every file byte for byte. Package data and colour-science are the version's,
not the record's.

Comparing: `plan_view` and `day_view` read two records by type, `compare_plans` and `compare_days`
find the changes, `front.comparisons` tries the old LUT, `report.compare` says them. To compare one
thing more: read it in the view, compare it, give it a word. A change of what stands once is a
`Change`; of what goes through a day a `Course`, whose largest is what can be told first, by
`find_distance`. The same filter change of one light is paired by nearness in time, an hour that is
shown twice by its turn. In JSON 0 says that nothing differs, null that a day lacks the figure, and
``is_compared`` that it has any. Of two days are not compared: bands, the hours' own settings, how
long a take matches, and which setups have no sky. A day beside a plan is refused.
"""
