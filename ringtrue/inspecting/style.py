"""How the pages look: dark on light, one column, colour only ever beside a word."""

from __future__ import annotations

from textual.theme import Theme

THEME = Theme(
    name="bay",
    primary="#7fb4c8",
    secondary="#b9c4c9",
    warning="#f0b840",
    error="#d8543c",
    success="#8fbf7a",
    foreground="#f2efe6",
    background="#12171a",
    surface="#12171a",
    panel="#1d2529",
    dark=True,
)

CSS = """
Screen { layout: vertical; overflow: hidden; background: $background; color: $foreground; }
#head { height: auto; text-style: bold reverse; padding: 0 1; }
#alarm { height: auto; text-style: bold; background: $error; color: #ffffff; padding: 0 1; display: none; }
#told { height: auto; padding: 0 1; scrollbar-size-vertical: 1; }
#cautions { height: auto; color: $warning; text-style: bold; }
#says { height: auto; }
#asks { height: auto; max-height: 70%; padding: 0 1; scrollbar-size-vertical: 1; }
#panel { height: auto; padding: 0 1; scrollbar-size-vertical: 1; }
#big { height: 3; text-wrap: nowrap; text-style: bold; display: none; }
#rows { height: auto; }
#notice { height: auto; text-style: bold; color: $warning; display: none; }
#fields, #choices { height: auto; }
.line { height: 1; }
.line Static { width: 17; height: 1; }
.line Entry { width: 1fr; height: 1; background: $panel; border: none; padding: 0; }
.line Entry:focus { background: $secondary; color: #000000; }
.target { height: auto; }
.target.main { text-style: bold; }
.target:focus { text-style: bold reverse; }
.target.off { color: $secondary; text-style: dim; }
.airy #panel, .airy #asks { padding: 1 1 0 1; }
.airy #says, .airy #big, .airy #fields { margin-bottom: 1; }
.roomy .target { padding: 1 1; }
#foot { dock: bottom; height: 1; color: $secondary; padding: 0 1; }
"""
"""Textual's own style language."""

AIRY_ROWS, ROOMY_ROWS = 28, 40
"""Rows of a terminal from which on there is air between the parts, and each choice is three lines high."""
