"""Whoever works here, at the right of a title: in sight on every page, as what is done is recorded under this name."""

from __future__ import annotations

from textual.content import Content

from procedures.site.views import PersonView

NOBODY = "nobody yet (F2)"


def titled(title: Content, who: PersonView | None, width: int) -> Content:
    """`title` with the person at the right end of `width` cells: by name, by initials where that is too long.

    Where even those leave no room beside the title, they stand in a line of their own above it.
    """
    names = [who.name, who.initials] if who is not None else [NOBODY]
    for each in names:
        gap = width - title.cell_length - Content(each).cell_length
        if gap >= 2:
            return Content.assemble(title, " " * gap, (each, "$accent"))
    name = Content.styled(names[0], "$accent").truncate(max(1, width), ellipsis=True)
    return Content.assemble(" " * max(0, width - name.cell_length), name, "\n", title)
