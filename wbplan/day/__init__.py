"""A scene through a day under sun and sky: what moves, how long a setting serves, which filter and
which LUT is due when.

Imports everything up to `mixed`. `setups` puts the parts together.

`scene.move_setup` moves a setup to a time; `scene.respond_to_day` gives at each time what a plan of
the moved setup gives, bands included (the tests hold it to that). The band of a level that is
carried on from a reading is wider, by the air.

Windows are the fewest runs of one T-stop, found greedily. The best setting is the entry of the menu
that serves most times. A take ends when any position in the picture has drifted, or a dark one gets
light. Filters: over 6000 packs only options that seven probes of the day ask for are combined. LUTs
by cast are boxes of the tolerance over (mired, CC), numbered in the order in which they are first
due. Lights of one sky share its model. Not followed through a day: cameras beside, kit, flicker,
further LUTs, tuned fixtures; `notes` says so where a setup has them.
"""
