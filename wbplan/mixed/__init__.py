"""Lights that do not agree: which filters, fixture drives and settings bring positions together,
how good any choice can become at best, and what several cameras share.

Imports everything up to `planning`. `search` looks for the best pack, `bounds` proves it.

A filter and a stop have no price: the best pack is sought for each number of changes, and the
reader chooses. What is minimised is the plan's own measure, the weighted mean of the squared
`find_distance`. `search.try_every_pack` is the judge of the search in the tests. For a camera with
a tint along Duv there is no bound, only the count of work, and its table of neutrals is coarser
(`camera.neutral_table`); what is reported is solved anew in any case.
"""
