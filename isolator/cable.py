"""A cable, hose or strap that pulls at the payload beside its mounts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from isolator.units import (
    POSITION,
    STIFFNESS,
    FloatArray,
    InputError,
    Measure,
    number,
    si_array,
)


@dataclass(frozen=True, kw_only=True)
class Cable:
    """A cable, hose or strap as a linear spring beside the mounts, slack in the unloaded pose.

    Parameters
    ----------
    name : str
    position : three texts or a quantity [length]
        Where it holds the payload, from the middle of the payload's box.
    stiffness : text or quantity [stiffness], or three of them
        In all directions, or along x, y, z of the case; at rest and in motion alike.
    loss_factor : number, optional
        Structural loss factor η, 0.001 to 2.

    Raises
    ------
    InputError
        Wrong units or limits; neither one stiffness nor three.

    Examples
    --------
    >>> loom = Cable(name="loom", position=["0 mm", "150 mm", "0 mm"], stiffness="2 N/mm")
    >>> print(loom.directions())
    [2000. 2000. 2000.]
    """

    name: str
    position: Measure = Measure(POSITION, shape=(3,))
    stiffness: Measure = Measure(STIFFNESS, shape=None)
    loss_factor: float | None = None

    def __post_init__(self) -> None:
        shape = si_array(self, "stiffness").shape
        if shape not in ((), (1,), (3,)):
            raise InputError(
                f"Cable.stiffness of {self.name!r}: {shape} values; give one for all directions, "
                "or three along x, y, z"
            )
        if self.loss_factor is not None:
            given = number(self.loss_factor, "Cable.loss_factor", 0.001, 2.0)
            object.__setattr__(self, "loss_factor", given)

    def directions(self) -> FloatArray:
        """Stiffness (3,) along x, y, z. [N/m]"""
        return np.broadcast_to(si_array(self, "stiffness"), 3).astype(float)
