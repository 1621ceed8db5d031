"""The command as a process of its own, which Ctrl-C ends with its own status from the start.

It imports nothing that takes time before it is ready for that.
"""

from __future__ import annotations

import os
import signal

INTERRUPTED = 130


class _CtrlC:
    """What Ctrl-C does: end the process at once, and once all is `loaded`, interrupt it.

    A library that is interrupted while it is loaded may make a mistake of its own out of it, or
    nothing, so that the first way is safe only as long as nothing is being written.
    """

    loaded = False
    seen = False

    def __call__(self, *_: object) -> None:
        self.seen = True
        if not self.loaded:
            os._exit(INTERRUPTED)
        raise KeyboardInterrupt


def command() -> int:
    """Run the command; its exit status."""
    ctrl_c = _CtrlC()
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:  # and not ignored
        signal.signal(signal.SIGINT, ctrl_c)
    from isolator.cli import main
    from isolator.units import remember_units

    remember_units()
    try:
        ctrl_c.loaded = True
        return main(interrupted=lambda: ctrl_c.seen)
    except KeyboardInterrupt:
        return INTERRUPTED
