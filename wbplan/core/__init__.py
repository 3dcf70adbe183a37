"""What every other package stands on: errors and notes, safe names, the published tables,
intervals, the ledger of files that were read, output written whole or not at all, and the bar
on a terminal.

Imports nothing of wbplan. A newcomer comes here for a new kind of error, or another published
table (`tables`, made by a script in `wbplan/data/`).
"""
