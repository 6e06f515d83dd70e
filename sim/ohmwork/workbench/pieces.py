"""Inputs and boxes a form is put together from, each with its label and its class."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

import ipywidgets as widgets

Options = Sequence[tuple[str, Any]]
"""Label and value of everything that can be chosen."""


def html(name: str, text: str = "") -> Any:
    """Return a text that the form changes."""
    return _named(widgets.HTML(text), name)


def button(text: str, name: str = "", tooltip: str = "") -> Any:
    """Return a button."""
    return _named(widgets.Button(description=text, tooltip=tooltip), name)


def toggles(label: str, options: Options, tooltips: Sequence[str] = ()) -> Any:
    """Return buttons of which one is pressed."""
    return widgets.ToggleButtons(
        description=label,
        options=options,
        tooltips=tooltips,
        style={"button_width": "auto", "description_width": "auto"},
    )


def chooser(label: str, options: Options = ()) -> Any:
    """Return a list to choose from."""
    return widgets.Dropdown(
        description=label, options=options, style={"description_width": "auto"}
    )


def switch(value: bool) -> Any:
    """Return a button that stays pressed."""
    return widgets.ToggleButton(value=value)


def speaker(sound: bytes) -> Any:
    """Return what plays a sound whenever it is given one."""
    return widgets.Audio(value=sound, format="wav", loop=False, controls=False)


def row(*children: Any, name: str = "") -> Any:
    """Return things side by side."""
    return _named(widgets.HBox(children), name)


def column(*children: Any, name: str = "") -> Any:
    """Return things below one another."""
    return _named(widgets.VBox(children), name)


def offer(list_: Any, options: Iterable[tuple[str, Any]], value: Any) -> None:
    """Set what a list offers and what is chosen, sending only what has changed."""
    wanted = tuple(options)
    if list_.options != wanted:
        list_.options = wanted
    if list_.value != value:
        list_.value = value


def on_choice(widget: Any, act: Callable[[Any], object]) -> None:
    """Call `act` with the new value whenever another one is chosen."""
    widget.observe(lambda change: act(change.new), "value")


def on_click(widget: Any, act: Callable[[], object]) -> None:
    """Call `act` whenever a button is clicked."""
    widget.on_click(lambda _: act())


def family(widget: Any) -> Iterator[Any]:
    """Yield a widget and everything inside it."""
    yield widget
    for child in getattr(widget, "children", ()):
        yield from family(child)


def close(widget: Any) -> None:
    """Take a widget and everything inside it off the page and out of the kernel."""
    for each in family(widget):
        for model in (getattr(each, "style", None), each.layout, each):
            if model is not None:
                model.close()


def _named(widget: Any, name: str) -> Any:
    if name:
        widget.add_class(name)
    return widget
