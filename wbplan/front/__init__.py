"""The way in: the calls behind `wbplan.__all__`, and the command line (`cli`) over them.

Imports everything. A new command is a module in `cli` with its line in `cli.main`.
"""
