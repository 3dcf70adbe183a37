"""What people read: pages, figures and terminal, one folder a subject over the shared `base`.

Imports everything up to `record`. In a folder ``words`` says figures, ``figures`` draws, ``page``
and the templates beside it make HTML, ``terminal`` the lines that a command prints. Numbers are
rounded and worded here and nowhere else; to change how a figure is said, change its ``say_...``
in the words of its subject, or in `base.words` where several subjects say it.

A plan is an index (`plan.page`) and a page a setup (`plan.setup_page`), which holds what a template
cannot work out and the one list of figures that page and ``--figures`` share. All pages extend
``base.html.j2`` and share ``sheet.css``; a table that may scroll is
``table`` of ``base/parts.html.j2``. A word of 30 letters or more gets
``<wbr>`` (`base.templates`), since a printed table cannot be scrolled. Bars come in pictures of ten
rows at most, of one scale, so that each fits on a sheet.

Figures are SVG of five elements (`base.svg`), not of a plotting library. Measured: matplotlib costs
0.33 s to import and 23 ms a figure at the least, so the demo's 49 figures would take 1.5 s on top
of a plan of 0.6 s; its text is outlines and its colours are fixed, while these follow the page's
light, dark and print colours and are read aloud. Lighter libraries draw the same elements and know
no more of axes.
"""
