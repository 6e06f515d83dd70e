"""Rows of a conclusion: where it is and what is wrong, or one of several such pairs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from ohmwork.faults import KINDS
from ohmwork.vehicle import Vehicle
from ohmwork.workbench import pieces
from ohmwork.workbench.words import Row, site_label

_CHOOSE = ("choose", "")


class Answer:
    """One row; the kinds it offers are those its site can have."""

    def __init__(self, sites: pieces.Options, site: str) -> None:
        self.site = pieces.chooser("Where", [_CHOOSE, *sites])
        self.site.value = site
        self.kind = pieces.chooser("What", [_CHOOSE])
        self.remove = pieces.button("Remove", tooltip="Remove this row")
        self.box = pieces.column(
            self.site, pieces.row(self.kind, self.remove), name="ow-answer"
        )

    @property
    def row(self) -> Row:
        """What is chosen so far."""
        return (self.site.value, self.kind.value)


class Conclusion:
    """The rows, in the order in which they were added.

    Parameters
    ----------
    vehicle : as its papers show it.
    kinds : site to the kinds that may be concluded there.
    rows : what is concluded already.
    on_change : called after every change by the learner.
    """

    def __init__(
        self,
        vehicle: Vehicle,
        kinds: Mapping[str, tuple[str, ...]],
        rows: Iterable[Row],
        on_change: Callable[[], None],
    ) -> None:
        self._sites = [(site_label(vehicle, site), site) for site in kinds]
        self._kinds = kinds
        self._on_change = on_change
        self.answers: list[Answer] = []
        self._rows = pieces.column()
        self.add = pieces.button("Add another answer")
        self.box = pieces.column(self._rows, self.add)
        for row in rows:
            self._append(row)
        if not self.answers:
            self._append(("", ""))
        pieces.on_click(self.add, self._add)

    @property
    def rows(self) -> tuple[Row, ...]:
        """What is chosen so far, each row once."""
        return tuple(dict.fromkeys(answer.row for answer in self.answers))

    def lock(self) -> None:
        """Keep the rows as they are."""
        for widget in pieces.family(self.box):
            if hasattr(widget, "disabled"):
                widget.disabled = True

    def _append(self, row: Row) -> None:
        site, kind = row
        answer = Answer(self._sites, site)
        self.answers.append(answer)
        self._offer_kinds(answer, kind)
        pieces.on_choice(answer.site, lambda _: self._site_chosen(answer))
        pieces.on_choice(answer.kind, lambda _: self._on_change())
        pieces.on_click(answer.remove, lambda: self._remove(answer))
        self._show()

    def _offer_kinds(self, answer: Answer, kind: str) -> None:
        possible = self._kinds.get(answer.site.value, ())
        options = [_CHOOSE, *((KINDS[kind], kind) for kind in possible)]
        pieces.offer(answer.kind, options, kind if kind in possible else "")

    def _site_chosen(self, answer: Answer) -> None:
        self._offer_kinds(answer, answer.kind.value)
        self._on_change()

    def _add(self) -> None:
        self._append(("", ""))
        self._on_change()

    def _remove(self, answer: Answer) -> None:
        self.answers.remove(answer)
        self._show()
        self._on_change()

    def _show(self) -> None:
        self._rows.children = [answer.box for answer in self.answers]
        for number, answer in enumerate(self.answers):
            answer.site.description = "or" if number else "Where"
            alone = len(self.answers) == 1
            answer.remove.layout.display = "none" if alone else None
