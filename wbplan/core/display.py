"""How a value shows itself in a notebook.

What is shown are the figures and words of the pages, which stand at the far end of the order of
imports, while the values stand near its beginning. A value cannot know how it is drawn, and it need
not: its methods ask the package's face, ``wbplan``, which knows by name where everything lives and
brings the drawing in when it is asked for. So nothing is registered, nothing is loaded before a
notebook wants to see a value, and a value made in any way shows itself.
"""

from __future__ import annotations


class Displayed:
    """A value that shows itself in a notebook, by the method that notebooks look for.

    The markup needs nothing else: its pictures stand inside it, and text of a file or a scenario is
    cleaned and escaped in it, as on the pages.
    """

    __slots__ = ()

    def _repr_html_(self) -> str:
        import wbplan

        return wbplan._render_html(self)
