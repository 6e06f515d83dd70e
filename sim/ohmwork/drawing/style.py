"""Colours and pens of the sheet and of the plots, for a light and for a dark page."""

from __future__ import annotations

from dataclasses import dataclass

LIGHT = {
    "sheet": "#ffffff",
    "zone": "#f6f7f5",
    "ink": "#1d2427",
    "ink2": "#515b60",
    "edge": "#7d888c",
    "hair": "#d5dad9",
    "accent": "#0b656d",
    "accent-bg": "#e0efef",
    "glow": "#f7b32b",
    "glow-ink": "#7a4b00",
    "a": "#bf2630",
    "b": "#14181a",
    "case": "#ffffff",
    "warn": "#8a3a10",
}
DARK = {
    "sheet": "#212121",
    "zone": "#262929",
    "ink": "#e9edee",
    "ink2": "#b0babd",
    "edge": "#899397",
    "hair": "#44494b",
    "accent": "#63c9cf",
    "accent-bg": "#17393b",
    "glow": "#ffc14a",
    "glow-ink": "#ffc96a",
    "a": "#ff7d78",
    "b": "#0c0e0f",
    "case": "#d9dfe1",
    "warn": "#ffab85",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Pen:
    """How one sort of shape is drawn; colours are names in `LIGHT` and `DARK`."""

    colour: str = ""
    width: float = 0.0
    """[px]"""
    dash: tuple[float, ...] = ()
    """Lengths of stroke and gap. [px]"""
    fill: str = ""


PENS = {
    "wire": Pen(colour="ink", width=1.5),
    "joint": Pen(colour="ink", width=1.5),
    "rail": Pen(colour="ink", width=3.0),
    "symbol": Pen(colour="ink", width=2.0),
    "frame": Pen(colour="ink", width=1.5, fill="sheet"),
    "solid": Pen(colour="ink", width=1.0, fill="ink"),
    "plate": Pen(colour="ink", width=4.5),
    "pin": Pen(colour="ink", width=4.5),
    "blade": Pen(colour="accent", width=2.5),
    "link": Pen(colour="accent", width=1.0, dash=(4.0, 3.0)),
    "seat": Pen(colour="edge", width=1.0, dash=(3.0, 2.0)),
    "warn": Pen(colour="warn", width=2.0),
    "area": Pen(colour="edge", width=1.0, dash=(2.0, 3.0), fill="zone"),
    "dot": Pen(fill="ink"),
    "terminal": Pen(colour="ink", width=1.5, fill="sheet"),
    "glow": Pen(fill="glow"),
    "ray": Pen(colour="glow-ink", width=1.5),
    "case-a": Pen(colour="case", width=5.0),
    "case-b": Pen(colour="case", width=5.0),
    "cable-a": Pen(colour="a", width=3.0),
    "cable-b": Pen(colour="b", width=3.0),
    "tip-a": Pen(colour="case", width=1.0, fill="a"),
    "flag-a": Pen(colour="case", width=1.0, fill="a"),
    "tip-b": Pen(colour="b", width=3.0),
    "flag-b": Pen(colour="case", width=1.0, fill="b"),
}
"""Pen of each role a shape may have."""

TEXT_COLOURS = {
    "value": "ink2",
    "code": "ink2",
    "track": "ink2",
    "key": "ink2",
    "remark": "ink2",
    "state": "accent",
}
"""Colour of a label by role; any other is in ink."""
