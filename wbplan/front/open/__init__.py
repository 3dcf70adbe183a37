"""`wbplan open`: a scenario in the browser, where a reading is changed and the decision follows.

One way through: an `edits` request changes the text of a `Document`; `session` holds the documents
that were, reads and decides the newest by the code of `plan`, and keeps it on the disk when asked;
`shown` says what was decided, in the words of the pages; `server` lets a browser on this machine
ask, and `page/` is what it loads. Nothing here decides anything.
"""
