"""What people read: pages, figures and terminal, one folder a subject over the shared `base`.

Imports everything up to `record`. In a folder ``words`` says figures, ``figures`` draws, ``page``
and the templates beside it make HTML, ``terminal`` the lines that a command prints. Numbers are
rounded and worded here and nowhere else; to change how a figure is said, change its ``say_...``
in the words of its subject, or in `base.words` where several subjects say it.
"""
