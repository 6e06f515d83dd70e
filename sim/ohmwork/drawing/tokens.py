"""Colours of the sheet and of the plots, for a light and for a dark page."""

from __future__ import annotations

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
