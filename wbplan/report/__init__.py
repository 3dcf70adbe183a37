"""What people read: pages, figures and terminal, one folder a subject over the shared `base`.

Imports everything up to `record`. Numbers are rounded and worded here and nowhere else.
"""
