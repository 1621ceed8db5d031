"""Pictures of a verdict, for the screen and for grey print: no physics in them.

Each takes an axes to draw into, or makes a figure of its own, and gives the axes back.
"""

from isolator.figures.choice import shares, trade, window
from isolator.figures.fall import heights, in_time
from isolator.figures.felt import response
from isolator.figures.files import save
from isolator.figures.gaps import room
from isolator.figures.places import layout
from isolator.figures.reach import sway
from isolator.figures.shake import transmissibility
from isolator.figures.stack import stack

__all__ = [
    "heights",
    "in_time",
    "layout",
    "response",
    "room",
    "save",
    "shares",
    "stack",
    "sway",
    "trade",
    "transmissibility",
    "window",
]
